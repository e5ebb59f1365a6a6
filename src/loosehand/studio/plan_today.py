"""Today's plan of a player: what the studio knows of rounds and hands, handed to the planner."""

import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Literal, cast, get_args

import numpy as np

from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind
from loosehand.rounds.day_known import PastRound, PlanAsked, PlayerToday
from loosehand.rounds.day_rules import DayKind, TechniqueDue, day_rule, technique_due
from loosehand.rounds.plan import plan_workout
from loosehand.rounds.plan_steps import Plan
from loosehand.rounds.workout import Hand, Purpose
from loosehand.studio.chart import ChartRound, Kind, KindPlayed, kinds_played, rounds_since
from loosehand.studio.database import Studio
from loosehand.studio.reach_store import reach_of

__all__ = ["DayAsked", "PlannedDay", "day_rng", "past_rounds", "plan_for"]

Side = Literal["left", "right"]

_HISTORY_DAYS = 120
"""Rounds that are older tell nothing of today's plan: neither of load nor of a test. Ours."""
_FOUR_PLACES = 4
_MINUTE_S = 60.0
_FEW_ROUNDS = 4
_BROKEN_OFF = ("stopped by choice", "recording ended")


@dataclass(frozen=True)
class DayAsked:
    """What is asked of a day; None where the chart is to say.

    Attributes
    ----------
    plan : of the rounds
    kind : what is to be played
    weak : the weaker hand
    """

    plan: PlanAsked
    kind: Kind | None = None
    weak: Side | None = None


@dataclass(frozen=True)
class PlannedDay:
    """A plan, and what it is made for.

    Attributes
    ----------
    plan : of today
    day : the day
    day_kind : what kind of day it is
    kind : what is played
    technique_why : why this technique, None where there is nothing to choose
    weak : the weaker hand
    weak_why : how that is known
    kinds : that are on the chart, the one played last first
    reaches : what is known of the player's hands, of every kind
    """

    plan: Plan
    day: date
    day_kind: DayKind
    kind: Kind
    technique_why: str | None
    weak: Side
    weak_why: str
    kinds: tuple[Kind, ...]
    reaches: tuple[Reach, ...] = field(compare=False)


def day_rng(player: str, day: date) -> np.random.Generator:
    """The simulated rounds of a player's day: the same plan each time it is looked at."""
    return np.random.default_rng([day.toordinal(), zlib.crc32(player.encode())])


def plan_for(
    studio: Studio, player: str, asked: DayAsked, *, now: datetime, rng: np.random.Generator
) -> PlannedDay:
    """Plan a player's day.

    Parameters
    ----------
    studio : the studio
    player : whose
    asked : what is asked
    now : the moment, with its zone
    rng : of the simulated rounds; see ``day_rng``

    Raises
    ------
    NotFound     if there is no such player
    InputError   if a figure cannot be, or the time is too short for any round
    """
    today = now.astimezone().date()
    first = today - timedelta(days=_HISTORY_DAYS)
    with studio.look() as session:
        history = past_rounds(rounds_since(session, player=player, first=first))
        played = kinds_played(session, player=player)
    due = _technique(history, asked, today=today)
    kind = _kind(due.technique, asked, played)
    reaches = {each.kind: each.reach for each in reach_of(studio, player, today=today)}
    weak, weak_why = _weak(asked, [kind, *(each.kind for each in played)], reaches)
    known = PlayerToday(
        today=today,
        weak=weak,
        history=history,
        hands={hand: reaches.get(_hand_kind(hand, kind)) for hand in get_args(Hand)},
        technique=kind.technique,
        places_per_count=kind.places_per_count,
    )
    plan = plan_workout(known, replace(asked.plan, technique_why=due.why), rng=rng)
    return PlannedDay(
        plan=plan,
        day=today,
        day_kind=day_rule(known).kind,
        kind=kind,
        technique_why=due.why,
        weak=weak,
        weak_why=weak_why,
        kinds=tuple(each.kind for each in played),
        reaches=tuple(reaches.values()),
    )


def past_rounds(rounds: Iterable[ChartRound]) -> tuple[PastRound, ...]:
    """Rounds that were really played, as the planner looks at them.

    Parameters
    ----------
    rounds : of one player, warm-ups and void ones too; a void one is told of where it was struck
        in, or felt like something, and tells of strokes and feel alone
    """
    return tuple(
        _past(each)
        for each in rounds
        if each.standing != "void" or each.row.count_held is not None or each.row.tags.feel
    )


def _past(found: ChartRound) -> PastRound:
    row, tags = found.row, found.row.tags
    is_void = found.standing == "void"
    broken_off = is_void or row.ended in _BROKEN_OFF
    held = row.count_held
    return PastRound(
        day=row.day,
        order=row.order or 0,
        hand=cast(Hand, tags.hand),
        technique=tags.technique,
        tempo_bpm=tags.tempo_bpm,
        places_per_count=tags.places_per_count,
        round_s=tags.round_s,
        count_held=held,
        held_on=broken_off or (held is not None and held >= tags.counts),
        feel=tags.feel,
        purpose="round" if is_void else cast(Purpose, found.purpose),
        counts_played=(held or 0) if broken_off else None,
    )


def _technique(history: Sequence[PastRound], asked: DayAsked, *, today: date) -> TechniqueDue:
    """The technique that is due; one that is chosen is only said to be, where it is another."""
    due = technique_due(history, today=today)
    if asked.kind is None or asked.kind.technique == due.technique:
        return due
    if asked.kind.technique is None:
        return TechniqueDue(None, None)
    return technique_due(history, today=today, chosen=asked.kind.technique)


def _kind(technique: str | None, asked: DayAsked, played: Sequence[KindPlayed]) -> Kind:
    """What is played: as chosen, else as it was played last with the technique that is due."""
    if asked.kind is not None:
        return asked.kind
    kinds = [each.kind for each in played if technique in (None, each.kind.technique)]
    return next(iter(kinds), Kind(technique, None, None, _FOUR_PLACES))


def _hand_kind(hand: Hand, kind: Kind) -> HandKind:
    return HandKind(hand, kind.technique, kind.surface, kind.loudness, kind.places_per_count)


def _weak(
    asked: DayAsked, kinds: Sequence[Kind], reaches: Mapping[HandKind, Reach]
) -> tuple[Side, str]:
    """The weaker hand, and how that is known: by today's kind, else by the one played last."""
    if asked.weak is not None:
        return asked.weak, "as you said"
    for kind in kinds:
        left, right = (reaches.get(_hand_kind(hand, kind)) for hand in ("left", "right"))
        if left is None or right is None or min(left.rounds, right.rounds) < _FEW_ROUNDS:
            continue
        left_bpm = left.tempo_held_bpm(_MINUTE_S).median
        right_bpm = right.tempo_held_bpm(_MINUTE_S).median
        weak: Side = "left" if left_bpm <= right_bpm else "right"
        return weak, f"by the minute it holds: left {left_bpm:.0f}, right {right_bpm:.0f}"
    return "left", "not known yet; left is taken"
