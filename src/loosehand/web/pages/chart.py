"""The chart: counts held, day by day and hand by hand, with the forms to write more."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup
from sqlalchemy.orm import Session
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.errors import InputError
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.chart import (
    ChartRound,
    Kind,
    KindPlayed,
    chart_rounds_between,
    kinds_played,
    month_rounds,
    player_names,
    player_of,
    rounds_by_day,
)
from loosehand.studio.chart_sums import LEAST_COMPARED
from loosehand.studio.filing import write_count
from loosehand.studio.round_tags import LOUDNESSES, check_whole, check_word
from loosehand.web.desk import desk_of, page
from loosehand.web.pages import chart_paper
from loosehand.web.pages.chart_form import WORDS, chart_path, number_row, offered
from loosehand.web.pages.chart_period import Period, day_words, month_after, period_of
from loosehand.web.pages.chart_view import KindView, Work, days_view, kind_words, months_view
from loosehand.web.pages.reach_kind import reach_path

__all__ = ["ROUTES", "Asked", "asked_of", "matching"]

_NOT_SAID = "~"
_MOST_KINDS_BY_DAY = 3
_MOST_KINDS_BY_MONTH = 1
_MONTHS_OFFERED = 12
_DONE = {"number": "The number is on the chart."}


@dataclass(frozen=True)
class Asked:
    """Which rounds the page is asked for; None where anything will do.

    ``technique``, ``surface`` and ``loudness`` are "~" where those are asked for that do not say.
    """

    technique: str | None
    surface: str | None
    loudness: str | None
    places_per_count: int | None
    period: str


def asked_of(words: Mapping[str, str]) -> Asked:
    """Read which rounds are asked for.

    Raises
    ------
    InputError   naming the first word that cannot be
    """
    loudness, grid = words.get("loudness", ""), words.get("grid", "").strip()
    if loudness:
        check_word(loudness, field="loudness", words=(*LOUDNESSES, _NOT_SAID))
    return Asked(
        technique=words.get("technique") or None,
        surface=words.get("surface") or None,
        loudness=loudness or None,
        places_per_count=check_whole(grid, field="grid", lowest=1, highest=12) if grid else None,
        period=words.get("period", "").strip(),
    )


def matching(played: Sequence[KindPlayed], asked: Asked, period: Period) -> list[KindPlayed]:
    """Kinds that are asked for and may have rounds in the period."""
    return [
        found
        for found in played
        if _fits(found.kind.technique, asked.technique)
        and _fits(found.kind.surface, asked.surface)
        and _fits(found.kind.loudness, asked.loudness)
        and asked.places_per_count in {None, found.kind.places_per_count}
        and found.first_day <= period.last
        and period.first <= found.last_day
    ]


def _fits(word: str | None, asked: str | None) -> bool:
    """Whether a word is what is asked for."""
    return asked is None or (word or _NOT_SAID) == asked


def _charts(request: Request) -> Response:
    """Go to the one player's chart, or list the players."""
    with desk_of(request).studio.look() as session:
        players = player_names(session)
    if len(players) == 1:
        return RedirectResponse(chart_path(players[0]), status_code=303)
    ways = [(name, chart_path(name)) for name in players]
    return page(request, "players.html", here="chart", ways=ways)


def _chart(request: Request) -> Response:
    """Show a player's chart."""
    return _chart_page(request, dict(request.query_params), {}, sentence=None, status_code=200)


async def _write(request: Request) -> Response:
    """Write one number by hand."""
    async with request.form() as form:
        words = {name: word for name, word in form.items() if isinstance(word, str)}
    return await run_in_threadpool(_take_in, request, words)


def _take_in(request: Request, words: dict[str, str]) -> Response:
    """Keep one number, or say what is wrong with it and show it again."""
    desk, player = desk_of(request), str(request.path_params["player"])
    with desk.studio.look() as session:
        player_of(session, player)
    today = desk.now().astimezone().date()
    try:
        row = number_row(words, player=player, today=today)
    except InputError as error:
        sentence = f"{error}. Nothing was saved."
        return _chart_page(request, {}, words, sentence=sentence, status_code=422)
    write_count(desk.studio, row, now=desk.now())
    recent = row.day > today - timedelta(days=28)
    period = "" if recent else f"{row.day:%Y-%m}"
    return RedirectResponse(chart_path(player, period=period, done="number"), status_code=303)


def _chart_page(
    request: Request,
    words: dict[str, str],
    typed: dict[str, str],
    *,
    sentence: str | None,
    status_code: int,
) -> Response:
    """Lay out the chart."""
    desk, player = desk_of(request), str(request.path_params["player"])
    today = desk.now().astimezone().date()
    asked = asked_of(words)
    with desk.studio.look() as session:
        played = kinds_played(session, player=player)
        first_day = min((found.first_day for found in played), default=today)
        last_day = max((found.last_day for found in played), default=today)
        period = period_of(asked.period, today=today, first_day=first_day, last_day=last_day)
        work = _work(session, player, period, first_day=first_day, today=today)
        wanted = matching(played, asked, period)
        show = _months if period.by_month else _days
        views, rest = show(session, player, wanted, period, work)
    filters = {name: words[name] for name in _FILTERS if words.get(name)}
    return page(
        request,
        "chart.html",
        status_code,
        here="chart",
        player=player,
        period=period,
        views=[(view, Markup(view.svg)) for view in views],
        more=[(kind_words(kind), rounds, _kind_way(player, kind, period)) for kind, rounds in rest],
        work=work,
        work_words=_work_words(work),
        asked=asked,
        filters=_filter_choices(played, asked),
        periods=_period_choices(period, today=today, first_day=first_day, last_day=last_day),
        ways=_ways(player, period, filters),
        last_way=chart_path(player, period=last_day.isoformat()) if played else None,
        last_day=day_words(last_day),
        has_after=last_day > max(today, period.last),
        least=LEAST_COMPARED,
        paper_way=chart_path(player, under="paper"),
        reach_way=reach_path(player),
        write_way=chart_path(player, under="rounds"),
        here_way=chart_path(player),
        typed=_number_words(typed, played, today),
        words=WORDS,
        offered=offered(played),
        sentence=sentence,
        done=_DONE.get(words.get("done", "")),
        care=CARE_SHORT,
    )


_FILTERS = ("technique", "surface", "loudness", "grid")


def _work(session: Session, player: str, period: Period, *, first_day: date, today: date) -> Work:
    """Return the work done in a period, whatever its kind: nothing is said of days to come."""
    first, last = max(period.first, first_day), min(period.last, today)
    return Work(first, last, rounds_by_day(session, player=player, first=first, last=last))


def _work_words(work: Work) -> str:
    """Say the work done and the rest in one sentence."""
    if work.first > work.last:
        return "No day of the chart lies here."
    rounds = sum(work.rounds.values())
    return (
        f"{_so_many(work.days, 'day')} with rounds ({_so_many(rounds, 'round')}), "
        f"{_so_many(work.rest_days, 'rest day')}."
    )


def _so_many(number: int, word: str) -> str:
    """Write so many of something."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _days(
    session: Session, player: str, wanted: list[KindPlayed], period: Period, work: Work
) -> tuple[list[KindView], list[tuple[Kind, int]]]:
    """Show kinds day by day; those beyond the first few are only named."""
    by_kind: dict[Kind, list[ChartRound]] = {found.kind: [] for found in wanted}
    for found in chart_rounds_between(session, player=player, first=period.first, last=period.last):
        tags = found.row.tags
        kind = Kind(tags.technique, tags.surface, tags.loudness, tags.places_per_count)
        if kind in by_kind:
            by_kind[kind].append(found)
    kinds = sorted((kind for kind in by_kind if by_kind[kind]), key=lambda k: -len(by_kind[k]))
    views = [
        days_view(kind, by_kind[kind], period, work, name=f"plot-{index}")
        for index, kind in enumerate(kinds[:_MOST_KINDS_BY_DAY])
    ]
    return views, [(kind, len(by_kind[kind])) for kind in kinds[_MOST_KINDS_BY_DAY:]]


def _months(
    session: Session, player: str, wanted: list[KindPlayed], period: Period, work: Work
) -> tuple[list[KindView], list[tuple[Kind, int]]]:
    """Show the kind with most rounds month by month; the others are only named."""
    wanted = sorted(wanted, key=lambda found: -found.rounds)
    views = []
    for found in wanted[:_MOST_KINDS_BY_MONTH]:
        months = month_rounds(
            session, player=player, kind=found.kind, first=period.first, last=period.last
        )
        if months:
            views.append(months_view(found.kind, months, period, work, name="plot-0"))
    return views, [(found.kind, found.rounds) for found in wanted[_MOST_KINDS_BY_MONTH:]]


def _kind_way(player: str, kind: Kind, period: Period) -> str:
    """Address of one kind's chart."""
    return chart_path(
        player,
        technique=kind.technique or _NOT_SAID,
        surface=kind.surface or _NOT_SAID,
        loudness=kind.loudness or _NOT_SAID,
        grid=str(kind.places_per_count),
        period=period.word,
    )


def _ways(player: str, period: Period, filters: dict[str, str]) -> dict[str, str]:
    """Addresses of the periods beside the one shown."""
    beside = {"earlier": period.earlier, "later": period.later}
    if period.word != "all":
        beside["everything, by month"] = "all"
    return {
        name: chart_path(player, period=word, **filters)
        for name, word in beside.items()
        if word is not None
    }


def _filter_choices(
    played: Sequence[KindPlayed], asked: Asked
) -> list[tuple[str, str, list[tuple[str, str, bool]]]]:
    """Choices of the filter: field, label, and its options with which one is chosen."""
    fields = (
        ("technique", "Technique", [found.kind.technique for found in played], asked.technique),
        ("surface", "Surface", [found.kind.surface for found in played], asked.surface),
        ("loudness", "Loudness", [found.kind.loudness for found in played], asked.loudness),
        (
            "grid",
            "Places a count",
            [str(found.kind.places_per_count) for found in played],
            None if asked.places_per_count is None else str(asked.places_per_count),
        ),
    )
    return [
        (name, label, [("", "any", chosen is None), *_options(words, chosen)])
        for name, label, words, chosen in fields
    ]


def _options(words: Sequence[str | None], chosen: str | None) -> list[tuple[str, str, bool]]:
    """Options of a field: each word once, and the one that is chosen even where none has it."""
    options = sorted({word or _NOT_SAID for word in words} | ({chosen} if chosen else set()))
    return [(word, "not said" if word == _NOT_SAID else word, word == chosen) for word in options]


def _period_choices(
    period: Period, *, today: date, first_day: date, last_day: date
) -> list[tuple[str, str, bool]]:
    """Periods that are offered: the one shown among them."""
    dates = [month_after(today, -months) for months in range(_MONTHS_OFFERED)]
    words = ["latest", *(f"{d:%Y-%m}" for d in dates if month_after(d, 1) > first_day)]
    words += [str(year) for year in range(last_day.year, first_day.year - 1, -1)]
    words.append("all")
    offered_words = dict.fromkeys(words)
    if period.word not in offered_words:
        offered_words = dict.fromkeys([period.word, *words])
    return [
        (
            word,
            period_of(word, today=today, first_day=first_day, last_day=last_day).label,
            word == period.word,
        )
        for word in offered_words
    ]


def _number_words(
    typed: dict[str, str], played: Sequence[KindPlayed], today: date
) -> dict[str, str]:
    """Words of the form for one number: as typed, else today and the kind played last."""
    words = {"date": today.isoformat(), "hand": "left", "grid": "4", "round_s": "60"}
    if played:
        kind = played[0].kind
        words |= {
            "technique": kind.technique or "",
            "surface": kind.surface or "",
            "loudness": kind.loudness or "",
            "grid": str(kind.places_per_count),
        }
    return typed or words


ROUTES = [
    Route("/chart", _charts, name="charts"),
    *chart_paper.ROUTES,
    Route("/chart/{player:path}/rounds", _write, methods=["POST"]),
    Route("/chart/{player:path}", _chart, name="chart"),
]
