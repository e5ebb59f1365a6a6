"""The chart on paper: type a month of it in, or print one."""

import calendar
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from sqlalchemy.orm import Session
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.errors import InputError
from loosehand.sheets import ChartPaper, PaperMark, chart_paper_pdf
from loosehand.sheets.chart_paper import MOST_TEMPOS, SIZES
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.chart import ChartRound, KindPlayed, chart_rounds_between, kinds_played
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.filing import import_rows
from loosehand.studio.round_tags import RoundTags, check_count, check_tempo_bpm, check_word
from loosehand.web.desk import desk_of, page
from loosehand.web.pages.chart_form import WORDS, chart_path, check_past, offered, tags_of
from loosehand.web.pages.chart_period import check_month, day_words, month_after
from loosehand.web.pages.chart_view import Number, number_of

__all__ = ["ROUTES", "Cell", "Filled", "PaperAsked", "fill", "paper_asked"]

_MOST_FIELDS = 2000
_SHARED = ("hand", "technique", "surface", "loudness", "grid", "round_s", "first", "last", "step")
_ALL_COUNTS = "="
_CELL_NAME = re.compile(r"c[0-9]+-[0-9.e+-]+")
_FEW_DIGITS = re.compile(r"[0-9]{1,5}")


@dataclass(frozen=True)
class PaperAsked:
    """A sheet that is asked for.

    Attributes
    ----------
    words : as typed, with what was not said filled in
    month : its first day
    tags : what its rounds share; the tempo is that of its first row
    tempos_bpm : its rows
    """

    words: dict[str, str]
    month: date
    tags: RoundTags
    tempos_bpm: tuple[float, ...]

    @property
    def days(self) -> list[date]:
        """Days of the month."""
        after = month_after(self.month, 1)
        return [self.month + timedelta(days=n) for n in range((after - self.month).days)]


@dataclass(frozen=True)
class Cell:
    """A cell of the sheet.

    Attributes
    ----------
    name : of its field
    day, tempo_bpm : where it stands
    has_come : whether the day has come
    numbers : what stands there already
    typed : what was typed, or empty
    row : the round to add, or None
    problem : why what was typed cannot be, or None
    """

    name: str
    day: date
    tempo_bpm: float
    has_come: bool
    numbers: tuple[Number, ...]
    typed: str
    row: ChartRow | None
    problem: str | None

    @property
    def said(self) -> str:
        """Day and tempo in words."""
        return f"{day_words(self.day)} at {self.tempo_bpm:g}"


@dataclass(frozen=True)
class Filled:
    """A sheet with what was typed: rows of cells by tempo."""

    rows: tuple[tuple[float, tuple[Cell, ...]], ...]

    @property
    def cells(self) -> list[Cell]:
        """All cells, day by day."""
        return sorted((c for _, row in self.rows for c in row), key=lambda c: (c.day, c.tempo_bpm))

    @property
    def new(self) -> list[ChartRow]:
        """Rounds to add."""
        return [cell.row for cell in self.cells if cell.row is not None]

    @property
    def already_there(self) -> int:
        """How many typed numbers stand there already."""
        typed = [cell for cell in self.cells if cell.typed and cell.problem is None]
        return len(typed) - len(self.new)

    @property
    def wrong(self) -> str | None:
        """Say which cell is wrong, the first one, and how many more."""
        wrong = [cell for cell in self.cells if cell.problem is not None]
        if not wrong:
            return None
        more = f" (and {len(wrong) - 1} more, marked below)" if len(wrong) > 1 else ""
        return f"{wrong[0].said}: {wrong[0].problem}{more}. Nothing was saved."


def paper_asked(words: Mapping[str, str], *, today: date, played: list[KindPlayed]) -> PaperAsked:
    """Read which sheet is asked for.

    Parameters
    ----------
    words : as typed, by the field's name
    today : the day it is
    played : kinds that the player has on the chart: the last is offered where no tag is said

    Raises
    ------
    InputError   naming the first word that cannot be
    """
    filled = _defaults(today, [] if any(name in words for name in _SHARED) else played)
    filled |= {name: words[name].strip() for name in filled if words.get(name, "").strip()}
    tempos_bpm = tuple(_ladder(filled))
    return PaperAsked(
        words=filled,
        month=check_month(filled["month"]),
        tags=tags_of(filled, tempo_bpm=tempos_bpm[0]),
        tempos_bpm=tempos_bpm,
    )


def fill(
    asked: PaperAsked,
    typed: Mapping[str, str],
    standing: Sequence[ChartRound],
    *,
    player: str,
    today: date,
) -> Filled:
    """Lay out a sheet's cells, and read what was typed into them.

    A number that stands in its cell already is not added again; another one there is wrong, since
    it would make a second round of what is most likely a correction.

    Parameters
    ----------
    asked : the sheet
    typed : what was typed, by the field's name
    standing : rounds that stand on the sheet already
    player : whose sheet
    today : the day it is
    """
    there: dict[tuple[float, date], list[ChartRound]] = {}
    for found in standing:
        there.setdefault((found.row.tags.tempo_bpm, found.row.day), []).append(found)

    def cell(day: date, tempo_bpm: float) -> Cell:
        rounds = there.get((tempo_bpm, day), [])
        name = f"c{day.day}-{tempo_bpm:g}"
        text = typed.get(name, "").strip()
        row = problem = None
        if text:
            tags = replace(asked.tags, tempo_bpm=tempo_bpm)
            try:
                count = _count(text, counts=tags.counts)
                check_past(day, today=today)
                if _is_new(count, rounds):
                    row = ChartRow(day, None, player, tags, count, None)
            except InputError as error:
                problem = str(error).removeprefix("count_held = ")
        numbers = tuple(number_of(found, round_s=asked.tags.round_s) for found in rounds)
        return Cell(name, day, tempo_bpm, day <= today, numbers, text, row, problem)

    return Filled(
        tuple(
            (tempo_bpm, tuple(cell(day, tempo_bpm) for day in asked.days))
            for tempo_bpm in asked.tempos_bpm
        )
    )


def _count(text: str, *, counts: int) -> int:
    """Read a number, or the sign for all counts of the round."""
    return counts if text == _ALL_COUNTS else check_count(text, counts=counts)


def _is_new(count: int, rounds: Sequence[ChartRound]) -> bool:
    """Whether a number is to be added to a cell.

    Raises
    ------
    InputError   if other numbers stand there
    """
    if not rounds:
        return True
    if any(count in {found.row.count_held, found.count_written} for found in rounds):
        return False
    stands = ", ".join("?" if (n := found.row.count_held) is None else str(n) for found in rounds)
    raise InputError(
        f"{count} was typed where {stands} stands already; empty the cell, and write a second "
        "round of that day as one number on the chart's page"
    )


def _defaults(today: date, played: list[KindPlayed]) -> dict[str, str]:
    """Words where nothing is said: this month, the left hand, the usual ladder."""
    words = {
        "month": f"{today:%Y-%m}",
        "hand": "left",
        "technique": "",
        "surface": "",
        "loudness": "",
        "grid": "4",
        "round_s": "60",
        # 60 to 140 by 5 is the common ladder (common practice, no source).
        "first": "60",
        "last": "140",
        "step": "5",
    }
    if played:
        kind = played[0].kind
        words |= {
            "technique": kind.technique or "",
            "surface": kind.surface or "",
            "loudness": kind.loudness or "",
            "grid": str(kind.places_per_count),
        }
    return words


def _ladder(words: Mapping[str, str]) -> Iterator[float]:
    """Tempos from the first to the last by the step.

    Raises
    ------
    InputError   if they are none, or too many for a page
    """
    first, last = (_tempo(words, name) for name in ("first", "last"))
    try:
        step = float(words["step"])
    except ValueError:
        step = math.nan
    if not 0.1 <= step <= 400.0:
        raise InputError(
            f"step = {words['step'][:40]!r} is not a step; want counts a minute, such as 5"
        )
    if last < first:
        raise InputError(f"last = {last:g} is below first = {first:g}; want it the other way round")
    rows = math.floor((last - first) / step + 1e-9) + 1
    if rows > MOST_TEMPOS:
        raise InputError(
            f"{first:g} to {last:g} by {step:g} makes {rows} tempos; want at most {MOST_TEMPOS}: "
            "take a wider step or fewer tempos"
        )
    yield from (round(first + row * step, 3) for row in range(rows))


def _tempo(words: Mapping[str, str], name: str) -> float:
    """Read a tempo, naming its field."""
    try:
        return check_tempo_bpm(words[name])
    except InputError as error:
        raise InputError(str(error).replace("tempo_bpm", name, 1)) from error


def _paper(request: Request) -> Response:
    """Show the sheet to type into."""
    return _typing_page(request, dict(request.query_params), {}, sentence=None, status_code=200)


async def _file_paper(request: Request) -> Response:
    """File what was typed into a sheet."""
    async with request.form(max_fields=_MOST_FIELDS) as form:
        words = {name: word for name, word in form.items() if isinstance(word, str)}
    return await run_in_threadpool(_take_in, request, words)


def _take_in(request: Request, words: dict[str, str]) -> Response:
    """File all numbers of a sheet, or none."""
    desk, player = desk_of(request), str(request.path_params["player"])
    today = desk.now().astimezone().date()
    with desk.studio.look() as session:
        asked = paper_asked(words, today=today, played=kinds_played(session, player=player))
        filled = fill(asked, words, _standing(session, player, asked), player=player, today=today)
    stray = _stray_cells(words, filled)
    sentence = filled.wrong or (
        f"{stray[0]!r} is not a cell of this sheet: lay the sheet out again. Nothing was saved."
        if stray
        else None
    )
    if sentence is not None:
        return _typing_page(request, words, words, sentence=sentence, status_code=422)
    done = import_rows(desk.studio, filled.new, now=desk.now())
    there = filled.already_there + done.already_there
    to = chart_path(player, under="paper", **asked.words, added=str(done.added), there=str(there))
    return RedirectResponse(to, status_code=303)


def _stray_cells(words: Mapping[str, str], filled: Filled) -> list[str]:
    """Names of cells that were typed into but do not stand on the sheet."""
    known = {cell.name for cell in filled.cells}
    return [
        name[:20]
        for name, word in words.items()
        if _CELL_NAME.fullmatch(name) and name not in known and word.strip()
    ]


def _typing_page(
    request: Request,
    words: dict[str, str],
    typed: dict[str, str],
    *,
    sentence: str | None,
    status_code: int,
) -> Response:
    """Lay out the sheet to type into."""
    desk, player = desk_of(request), str(request.path_params["player"])
    today = desk.now().astimezone().date()
    with desk.studio.look() as session:
        played = kinds_played(session, player=player)
        asked = paper_asked(words, today=today, played=played)
        filled = fill(asked, typed, _standing(session, player, asked), player=player, today=today)
    months = {"earlier": month_after(asked.month, -1), "later": month_after(asked.month, 1)}
    shared = {name: asked.words[name] for name in _SHARED}
    return page(
        request,
        "chart_paper.html",
        status_code,
        here="chart",
        player=player,
        asked=asked,
        filled=filled,
        sentence=sentence,
        said=_done_words(words) if sentence is None else None,
        month_words=f"{calendar.month_name[asked.month.month]} {asked.month.year}",
        weekdays=[calendar.day_abbr[day.weekday()][:2] for day in asked.days],
        ways={
            name: chart_path(player, under="paper", month=f"{month:%Y-%m}", **shared)
            for name, month in months.items()
        },
        chart_way=chart_path(player, period=f"{asked.month:%Y-%m}"),
        here_way=chart_path(player, under="paper"),
        pdf_ways=_pdf_ways(player, asked),
        words=WORDS,
        offered=offered(played),
    )


def _standing(session: Session, player: str, asked: PaperAsked) -> list[ChartRound]:
    """Rounds that stand on a sheet: the tags it shares, of any length."""
    first, last = asked.days[0], asked.days[-1]
    shared = _shared_tags(asked.tags)
    return [
        found
        for found in chart_rounds_between(session, player=player, first=first, last=last)
        if _shared_tags(found.row.tags) == shared
    ]


def _shared_tags(tags: RoundTags) -> tuple[str | int | None, ...]:
    """Tags that the rounds of a sheet share."""
    return (tags.hand, tags.technique, tags.surface, tags.loudness, tags.places_per_count)


def _done_words(words: Mapping[str, str]) -> str | None:
    """Say what was filed just now, as the address tells it."""
    added, there = words.get("added", ""), words.get("there", "")
    if not (_FEW_DIGITS.fullmatch(added) and _FEW_DIGITS.fullmatch(there)):
        return None
    numbers = "1 number is" if int(added) == 1 else f"{int(added)} numbers are"
    stood = f"; {int(there)} stood there already" if int(there) else ""
    return f"{numbers} new on the chart{stood}."


def _pdf_ways(player: str, asked: PaperAsked) -> list[tuple[str, str]]:
    """Addresses of the sheet to print."""
    names = {"a4": "A4", "letter": "Letter"}
    return [
        (
            f"{names[size]}, {'blank' if blank == '1' else 'filled'}",
            chart_path(player, under="paper.pdf", **asked.words, size=size, blank=blank),
        )
        for size in SIZES
        for blank in ("1", "0")
    ]


def _print_paper(request: Request) -> Response:
    """Print a month."""
    desk, player = desk_of(request), str(request.path_params["player"])
    words = dict(request.query_params)
    size = check_word(words.get("size", "a4"), field="size", words=tuple(SIZES))
    blank = check_word(words.get("blank", "1"), field="blank", words=("0", "1")) == "1"
    today = desk.now().astimezone().date()
    with desk.studio.look() as session:
        asked = paper_asked(words, today=today, played=kinds_played(session, player=player))
        standing = [] if blank else _standing(session, player, asked)
    tempos = {found.row.tags.tempo_bpm for found in standing}
    tags = asked.tags
    pdf = chart_paper_pdf(
        ChartPaper(
            player=player,
            month=asked.month,
            hand=tags.hand,
            technique=tags.technique,
            surface=tags.surface,
            loudness=tags.loudness,
            places_per_count=tags.places_per_count,
            round_s=tags.round_s,
            tempos_bpm=tuple(sorted(tempos.union(asked.tempos_bpm))),
            marks=tuple(_mark(found, round_s=tags.round_s) for found in standing),
            care=CARE_SHORT,
            size=size,
        )
    )
    name = f"chart-{asked.month:%Y-%m}-{tags.hand}.pdf"
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return Response(pdf, media_type="application/pdf", headers=headers)


def _mark(found: ChartRound, *, round_s: float) -> PaperMark:
    """Return a round's number as the sheet shows it."""
    number = number_of(found, round_s=round_s)
    return PaperMark(
        day=found.row.day,
        tempo_bpm=found.row.tags.tempo_bpm,
        text=f"{number.text}{number.after}{'*' if number.corrected else ''}",
        held=number.held,
    )


ROUTES = [
    Route("/chart/{player:path}/paper", _paper, name="chart_paper"),
    Route("/chart/{player:path}/paper", _file_paper, methods=["POST"]),
    Route("/chart/{player:path}/paper.pdf", _print_paper, name="chart_paper_pdf"),
]
