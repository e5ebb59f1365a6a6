"""Two takes of one player side by side: how even, how loud, with what contrast, how long."""

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from loosehand.errors import InputError
from loosehand.judge import SideBySide, side_by_side
from loosehand.judge.drive_figures import DriveFigure, drive_figures
from loosehand.judge.side_by_side import SideBySideRow
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.chart import ChartRound, chart_rounds
from loosehand.studio.database import Studio
from loosehand.studio.part_takes import accents_in_words, part_of_take
from loosehand.studio.take_sheet import TakeSheet, load_take
from loosehand.studio.take_words import hand_in_words, place_names
from loosehand.web.desk import desk_of, page
from loosehand.web.plots.compare_plots import RangedFigure, draw_figures, draw_holds, draw_pair

__all__ = ["ROUTES"]

_MOST_OFFERED = 60


def _compare(request: Request) -> Response:
    """Offer the takes that one can be compared with, or compare two."""
    desk, words = desk_of(request), request.query_params
    one = _take_asked(desk.studio, words.get("one", ""), field="one")
    others = _offered(desk.studio, one)
    values: dict[str, Any] = {
        "one": one,
        "one_words": _take_words(one),
        "others": [(found.take_id, _round_words(found)) for found in others],
        "other": None,
        "care": CARE_SHORT,
        "here": "take",
    }
    if words.get("other"):
        other = _take_asked(desk.studio, words["other"], field="other")
        values |= {
            "other": other,
            "other_words": _take_words(other),
            **_compared(desk.studio, one, other),
        }
    return page(request, "compare.html", **values)


def _take_asked(studio: Studio, word: str, *, field: str) -> TakeSheet:
    """Take that a word names. Raises InputError, NotFound."""
    if not word:
        raise InputError("which take is compared? open one on the chart and go on from there")
    if not (word.isascii() and word.isdigit() and len(word) < 19):
        raise InputError(f"{field} = {word[:20]!r}: want the number of a take")
    return load_take(studio, int(word))


def _offered(studio: Studio, one: TakeSheet) -> list[ChartRound]:
    """Other takes of the player: those most alike first, then the latest."""
    with studio.look() as session:
        rounds = chart_rounds(session, player=one.place.player)
    takes = [found for found in rounds if found.take_id not in (None, one.take_id)]
    takes.sort(key=lambda found: (found.row.day, found.row.order or 0), reverse=True)
    takes.sort(key=lambda found: _unlike(found, one))
    return takes[:_MOST_OFFERED]


def _unlike(found: ChartRound, one: TakeSheet) -> tuple[bool, bool, bool]:
    tags = found.row.tags
    return (
        tags.tempo_bpm != one.tags.tempo_bpm,
        tags.hand != one.tags.hand,
        tags.surface != one.tags.surface,
    )


def _compared(studio: Studio, one: TakeSheet, other: TakeSheet) -> dict[str, Any]:
    """Pictures and table of two takes.

    Raises
    ------
    InputError   if they cannot be compared
    """
    if one.take_id == other.take_id:
        raise InputError("a take is not compared with itself: choose another one")
    if one.place.player != other.place.player:
        raise InputError("only takes of one player are compared: each hand is its own measure")
    for sheet in (one, other):
        if sheet.body is None:
            raise InputError(
                f"take {sheet.take_id} has not been read yet: there is nothing to compare"
            )
    first, second = one.body or {}, other.body or {}
    found = side_by_side(first, second)
    return {
        "drives": [_drive_words(strokes) for strokes in found.drives],
        "rows": _rows(found),
        "accents": _accents(studio, one, other),
        "notes": found.notes,
        **_pictures(one, other, first, second),
    }


def _accents(studio: Studio, one: TakeSheet, other: TakeSheet) -> tuple[str, str] | None:
    """Accents that came in each; None where both were not asked for the same by a part."""
    taken = [part_of_take(studio, sheet.take_id) for sheet in (one, other)]
    if taken[0] is None or taken[1] is None or not taken[0].asked.asks_as(taken[1].asked):
        return None
    if not taken[0].asked.has_accents:
        return None
    return accents_in_words(one, taken[0].asked), accents_in_words(other, taken[1].asked)


def _pictures(
    one: TakeSheet, other: TakeSheet, first: dict[str, Any], second: dict[str, Any]
) -> dict[str, Any]:
    names = place_names(first["places_per_count"])
    places, others = (body["evenness"].get("places") or [] for body in (first, second))
    drawn: dict[str, Any] = {
        "hold": draw_holds(
            [(one.count_held, one.tags.counts), (other.count_held, other.tags.counts)]
        )
    }
    if places and others and first["places_per_count"] == second["places_per_count"]:
        drawn |= {kind: draw_pair(places, others, names, kind=kind) for kind in ("timing", "level")}
    return drawn | _drive_pictures(first, second)


def _drive_pictures(first: dict[str, Any], second: dict[str, Any]) -> dict[str, Any]:
    """How the drive sounds in both: in level, then lateness and what changes over the take."""
    drives = (drive_figures(body["technique"]) for body in (first, second))
    known = [
        (one.name, one.unit, _ranged(one), _ranged(other))
        for one, other in zip(*drives, strict=True)
        if one.told is not None or other.told is not None
    ]
    level = [row for row in known if row[1] == "dB"]
    rest = [row for row in known if row[1] != "dB"]
    parts = (
        ("drive_level", level, "Level of the strokes of a drive"),
        ("drive_change", rest, "Lateness after the accent, and how the drive changes"),
    )
    return {
        key: draw_figures(rows, name=key.replace("_", "-"), title=title)
        for key, rows, title in parts
        if rows
    }


def _ranged(figure: DriveFigure) -> RangedFigure:
    return RangedFigure(figure.told, figure.low80, figure.high80)


def _rows(found: SideBySide) -> list[tuple[str, str, str, str, str]]:
    """Rows of the table: name, both figures, difference, and whether it is plain."""
    plain = {True: "plain", False: "within the error", None: ""}
    return [
        (
            f"{row.name}{', ' + row.unit if row.unit else ''}",
            _figure(row.first, digits=_digits(row)),
            _figure(row.second, digits=_digits(row)),
            _figure(row.difference, digits=_digits(row), signed=True),
            plain[row.plain],
        )
        for row in found.rows
        if row.first is not None or row.second is not None
    ]


def _digits(row: SideBySideRow) -> int:
    """Decimals of a row: none where both figures are whole."""
    known = [each for each in (row.first, row.second) if each is not None]
    return 0 if all(float(each).is_integer() for each in known) else 1


def _figure(value: float | None, *, digits: int, signed: bool = False) -> str:
    """Write a figure.

    Examples
    --------
    >>> _figure(12.0, digits=0), _figure(2.345, digits=1), _figure(None, digits=0)
    ('12', '2.3', '')
    >>> _figure(-1.5, digits=1, signed=True), _figure(0.0, digits=0, signed=True)
    ('−1.5', '0')
    """
    if value is None:
        return ""
    value = round(value, digits) or 0.0
    signed = signed and value != 0.0
    written = f"{value:+.{digits}f}" if signed else f"{value:.{digits}f}"
    return written.replace("-", "\N{MINUS SIGN}")


def _drive_words(strokes: int | None) -> str:
    """Say how often the drive comes."""
    if strokes is None:
        return "cannot tell"
    return "on every stroke" if strokes == 1 else f"on every {strokes} strokes"


def _take_words(sheet: TakeSheet) -> str:
    tags = sheet.tags
    words = [
        f"{hand_in_words(tags.hand)} at {tags.tempo_bpm:g}",
        tags.technique,
        tags.surface,
        f"{sheet.place.day.day} {sheet.place.day:%B %Y}",
    ]
    return ", ".join(word for word in words if word)


def _round_words(found: ChartRound) -> str:
    tags, day = found.row.tags, found.row.day
    held = "not judged" if found.row.count_held is None else f"{found.row.count_held} held"
    words = [f"{hand_in_words(tags.hand)} at {tags.tempo_bpm:g}", tags.technique, tags.surface]
    words += [held, f"{day.day} {day:%B %Y}"]
    return ", ".join(word for word in words if word)


ROUTES = [Route("/compare", _compare, name="compare")]
