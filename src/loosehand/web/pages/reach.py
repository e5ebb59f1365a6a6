"""The reach of a hand: what it holds and for how long, how that moves, and how sure that is."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.reach.compare import chance_faster, crossover, gap_bpm
from loosehand.reach.reach import Reach
from loosehand.reach.report import improved_of
from loosehand.reach.seen import HandKind, RoundSeen
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.chart import Kind, chart_rounds_between, player_names, player_of
from loosehand.studio.database import Studio
from loosehand.studio.reach_rounds import rounds_of_rows
from loosehand.studio.reach_store import StoredReach, reach_of
from loosehand.web.desk import desk_of, page
from loosehand.web.pages.chart_form import chart_path
from loosehand.web.pages.chart_period import day_words
from loosehand.web.pages.reach_asked import ReachAsked, TempoFor, asked_of, check_since
from loosehand.web.pages.reach_kind import (
    kind_of_word,
    kind_word,
    kind_words,
    reach_path,
)
from loosehand.web.pages.reach_told import (
    LawRow,
    curves_view,
    law_rows,
    prior_words,
    record_view,
    recovery_rows,
    recovery_words,
)
from loosehand.web.pages.reach_view import (
    chance_table,
    curve_rows,
    curve_svg,
    highest_tempo_bpm,
    rounds_by_tempo,
    trend_svg,
)
from loosehand.web.pages.reach_words import (
    HYPOTHESIS,
    beyond_words,
    bpm,
    chance_sentence,
    crossover_words,
    improved_words,
    length_sign,
    percent,
    reaching_words,
    span,
    trend_words,
)

__all__ = ["ROUTES"]

_GAP_S = (60.0, 120.0, 240.0)
_SURE, _RARE = 0.9, 0.1
_AHEAD_DAYS = 364
_OTHER_HAND = {"left": "right", "right": "left"}


def _players(request: Request) -> Response:
    """Go to the one player's reach, or list the players."""
    with desk_of(request).studio.look() as session:
        players = player_names(session)
    if len(players) == 1:
        return RedirectResponse(reach_path(players[0]), status_code=303)
    ways = [(name, reach_path(name)) for name in players]
    return page(request, "players.html", here="reach", ways=ways)


def _reach(request: Request) -> Response:
    """Show what a player's hand holds."""
    desk, player = desk_of(request), str(request.path_params["player"])
    today = desk.today()
    asked = asked_of(request.query_params)
    with desk.studio.look() as session:
        player_of(session, player)
    stored = reach_of(desk.studio, player, today=today)
    if desk.refit is not None:
        desk.refit.ask(today=today)
    if not stored:
        return page(request, "reach_none.html", here="reach", player=player, care=CARE_SHORT)
    mine = _chosen(stored, asked.kind)
    reach = mine.reach
    values = {
        **_head(player, stored, reach),
        **_curve(desk.studio, player, reach),
        **_trend(reach, asked),
        **_answers(reach, asked),
        **_beside(reach, [each.reach for each in stored]),
        **_told(mine, [each.reach for each in stored]),
    }
    kept = {"kind": kind_word(reach.kind), **_typed(request.query_params)}
    return page(
        request,
        "reach.html",
        here="reach",
        player=player,
        here_way=reach_path(player),
        kept=kept,
        care=CARE_SHORT,
        **values,
    )


def _chosen(stored: Sequence[StoredReach], word: str | None) -> StoredReach:
    """The kind that is asked for, else the one that was played last, else most."""
    if word is None:
        return max(stored, key=lambda each: (each.reach.last_day or date.min, each.reach.rounds))
    kind = kind_of_word(word, [each.reach.kind for each in stored])
    return next(each for each in stored if each.reach.kind == kind)


def _typed(words: Mapping[str, str]) -> dict[str, str]:
    """Words of the forms as they were typed: one form keeps what was asked by another."""
    names = ("since", "tempo", "minutes", "goal_tempo", "goal_minutes")
    return {name: words[name] for name in names if words.get(name)}


def _head(player: str, stored: Sequence[StoredReach], reach: Reach) -> dict[str, Any]:
    """The big figures and what they say."""
    minute = reach.tempo_held_bpm(60.0)
    sure, rare = (highest_tempo_bpm(reach, chance=chance, time_s=60.0) for chance in (_SURE, _RARE))
    return {
        "kinds": [
            (kind_words(kind), reach_path(player, kind=kind_word(kind)), kind == reach.kind)
            for kind in (each.reach.kind for each in stored)
        ],
        "kind_words": kind_words(reach.kind),
        "minute": f"{minute.median:.0f}",
        "minute_span": span(minute),
        "minute_beyond": beyond_words(reach, 60.0),
        "sure": sure,
        "rare": rare,
        "rounds": reach.rounds,
        "first_day": day_words(reach.first_day) if reach.first_day else None,
        "last_day": day_words(reach.last_day) if reach.last_day else None,
        "as_of": day_words(reach.as_of),
        "chart_way": chart_path(player),
    }


def _curve(studio: Studio, player: str, reach: Reach) -> dict[str, Any]:
    """The hold-time curve."""
    rounds = _rounds(studio, player, reach)
    return {
        "curve": curve_svg(reach, rounds),
        "curve_rows": curve_rows(reach),
        "tempo_rounds": rounds_by_tempo(rounds),
    }


def _rounds(studio: Studio, player: str, reach: Reach) -> list[RoundSeen]:
    """Rounds of the hand on the days that count."""
    first, hand = reach.first_day or reach.as_of, reach.kind
    kind = Kind(hand.technique, hand.surface, hand.loudness, hand.places_per_count)
    with studio.look() as session:
        found = chart_rounds_between(
            session, player=player, first=first, last=reach.as_of, hand=hand.hand, kind=kind
        )
    return list(rounds_of_rows(each.row for each in found).rounds)


def _trend(reach: Reach, asked: ReachAsked) -> dict[str, Any]:
    """How the tempo held for a minute moves."""
    first = reach.first_day or reach.as_of
    since = asked.since
    if since is None:
        since = improved_of(reach).since
    check_since(since, first=first, last=reach.as_of)
    return {
        "trend": trend_svg(reach, since=since),
        "trend_words": trend_words(reach),
        "improved": improved_words(reach, since),
        "since": since.isoformat(),
        "since_first": first.isoformat(),
        "since_last": reach.as_of.isoformat(),
        "trend_days": [
            (day_words(each.day), bpm(each.level.median), span(each.level), _signed(each.form_bpm))
            for each in reversed(reach.days)
        ],
    }


def _signed(found: Any) -> str:
    sign = "+" if round(found.median, 1) > 0 else ""
    return f"{sign}{bpm(found.median)}"


def _answers(reach: Reach, asked: ReachAsked) -> dict[str, Any]:
    """Will it hold, and when."""
    edge = TempoFor(float(round(reach.tempo_held_bpm(60.0).median)), 120.0)
    goal = asked.goal or TempoFor(edge.tempo_bpm + 5.0, 60.0)
    hold = asked.hold or edge
    return {
        "chances": chance_table(reach, asked.hold),
        "hold": hold,
        "hold_words": chance_sentence(reach, tempo_bpm=hold.tempo_bpm, time_s=hold.time_s)
        if asked.hold
        else None,
        "goal": goal,
        "goal_view": _goal(reach, asked.goal) if asked.goal else None,
    }


def _goal(reach: Reach, goal: TempoFor) -> dict[str, Any]:
    """When a target is reached."""
    last = reach.as_of + timedelta(days=_AHEAD_DAYS)
    found = reach.date_of_reaching(tempo_bpm=goal.tempo_bpm, time_s=goal.time_s, last=last)
    days = (found.earliest, found.median, found.latest)
    return {
        "words": reaching_words(
            found, tempo_bpm=goal.tempo_bpm, time_s=goal.time_s, as_of=reach.as_of
        ),
        "beyond": beyond_words(reach, goal.time_s),
        "curves": curves_view(reach, tempo_bpm=goal.tempo_bpm, time_s=goal.time_s, last=last),
        "rows": [
            (chance, "not within a year" if day is None else _from_now(day, reach.as_of))
            for chance, day in zip(("1 in 10", "even", "9 in 10"), days, strict=True)
        ],
    }


def _from_now(day: date, as_of: date) -> str:
    return "already" if day == as_of else day_words(day)


def _beside(reach: Reach, every: Sequence[Reach]) -> dict[str, Any]:
    """The other hand, and the other techniques of the same hand."""
    kind = reach.kind
    other = next((each for each in every if _is_other_hand(each.kind, kind)), None)
    techniques = [each for each in every if _is_other_technique(each.kind, kind)]
    return {
        "two_handed": kind.hand == "alternating",
        "hand": kind.hand,
        "other_hand": _OTHER_HAND.get(kind.hand),
        "gap": _gap(reach, other) if other else None,
        "crossings": [
            crossover_words(
                crossover(reach, each),
                one=_technique_words(kind),
                other=_technique_words(each.kind),
            )
            for each in techniques
        ],
    }


def _is_other_hand(one: HandKind, other: HandKind) -> bool:
    return one.hand == _OTHER_HAND.get(other.hand) and _all_but(one, "hand") == _all_but(
        other, "hand"
    )


def _is_other_technique(one: HandKind, other: HandKind) -> bool:
    return one.technique != other.technique and _all_but(one, "technique") == _all_but(
        other, "technique"
    )


def _all_but(kind: HandKind, name: str) -> dict[str, Any]:
    return {each: value for each, value in vars(kind).items() if each != name}


def _technique_words(kind: HandKind) -> str:
    return kind.technique or "technique not said"


def _gap(reach: Reach, other: Reach) -> dict[str, Any]:
    """The gap between the hands: from the stronger one's side."""
    ahead, behind = reach, other
    if gap_bpm(reach, other, 60.0).median < 0.0:
        ahead, behind = other, reach
    gap = gap_bpm(ahead, behind, 60.0)
    chance = chance_faster(ahead, behind, 60.0)
    return {
        "words": (
            f"The {ahead.kind.hand} hand holds {bpm(gap.median)} more for a minute than the "
            f"{behind.kind.hand} ({span(gap)}, with 80 chances in 100): {percent(chance)} that it "
            "is the stronger one there."
        ),
        "head": f"{ahead.kind.hand} over {behind.kind.hand}",
        "rows": [_gap_row(ahead, behind, time_s) for time_s in _GAP_S],
    }


def _gap_row(ahead: Reach, behind: Reach, time_s: float) -> tuple[str, str, str, bool]:
    gap = gap_bpm(ahead, behind, time_s)
    beyond = ahead.is_beyond_seen(time_s) or behind.is_beyond_seen(time_s)
    return length_sign(time_s), bpm(gap.median), span(gap), beyond


def _told(mine: StoredReach, every: Sequence[Reach]) -> dict[str, Any]:
    """The record of past forecasts, and how all this is told."""
    reach = mine.reach
    sustainable = reach.sustainable_bpm()
    laws: list[LawRow] = law_rows(reach)
    return {
        "record": record_view(mine.record),
        "laws": laws,
        "law": reach.law,
        "sustainable": None
        if sustainable is None
        else f"{bpm(sustainable.median)} ({span(sustainable)})",
        "hypothesis": HYPOTHESIS,
        "recovery": recovery_rows(reach),
        "recovery_words": recovery_words(reach),
        "prior": prior_words(reach, every),
        "notes": reach.notes,
    }


ROUTES = [
    Route("/reach", _players, name="reaches"),
    Route("/reach/{player:path}", _reach, name="reach"),
]
