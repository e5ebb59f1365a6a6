"""Two readings of one player on the same part, side by side: evenness, level, contrast, hold.

Made from the objects that are kept of readings (``loosehand.reading/1``), so takes of any age can
be compared; what a reading does not know stays None. A difference is the second less the first. It
is called plain only where both figures have a range or an error and the difference is more than two
of its standard errors; which of two is better is not said. Source: ours.
"""

from dataclasses import dataclass
from typing import Any

from loosehand.errors import InputError
from loosehand.judge.drive_figures import drive_figures
from loosehand.judge.variability import NORMAL_80

__all__ = ["SideBySide", "SideBySideRow", "side_by_side"]

Json = dict[str, Any]

_PLAIN_ERRORS = 2.0


@dataclass(frozen=True)
class SideBySideRow:
    """One figure of both readings.

    Attributes
    ----------
    name : what it is
    unit : its unit, may be empty
    first, second : the figure of each, None where it is not known
    difference : second - first, None where either is not known
    plain : whether the difference is more than two of its standard errors; None where that cannot
        be told
    """

    name: str
    unit: str
    first: float | None
    second: float | None
    difference: float | None
    plain: bool | None


@dataclass(frozen=True)
class SideBySide:
    """Two readings compared.

    Attributes
    ----------
    drives : strokes a drive as heard in each, None where it cannot be told
    rows : the figures
    notes : sentences about what differs in the task, so that the figures do not compare cleanly
    """

    drives: tuple[int | None, int | None]
    rows: tuple[SideBySideRow, ...]
    notes: tuple[str, ...]


def side_by_side(first: Json, second: Json) -> SideBySide:
    """Compare two readings.

    Parameters
    ----------
    first, second : readings as JSON, of one hand each

    Returns
    -------
    comparison : SideBySide

    Raises
    ------
    InputError
        If a reading is of two hands: each hand has a technique of its own.
    """
    for which, body in (("first", first), ("second", second)):
        if body["hand"] == "alternating":
            raise InputError(f"the {which} reading is of two hands: compare takes of one hand")
    pairs = zip(_figures(first), _figures(second), strict=True)
    return SideBySide(
        drives=(_drive(first), _drive(second)),
        rows=tuple(_row(one, other) for one, other in pairs),
        notes=_notes(first, second),
    )


@dataclass(frozen=True)
class _Known:
    name: str
    unit: str
    told: float | None
    error: float | None


def _figures(body: Json) -> list[_Known]:
    """Figures of one reading, always the same ones in the same order."""
    evenness, technique = body["evenness"], body["technique"]
    counts_s = None
    if body["count_held"] is not None and body["tempo_bpm"]:
        counts_s = 60.0 * body["count_held"] / body["tempo_bpm"]
    return [
        _Known("counts held", "", body["count_held"], None),
        _Known("held for", "s", counts_s, None),
        _Known("counts without a slip", "", body["clean_counts"], None),
        _spread("spread around the places", "ms", evenness, "asynchrony_sd_ms"),
        _spread("spread of the intervals", "ms", evenness, "interval_sd_ms"),
        _spread("spread of the level", "dB", evenness, "level_spread_db"),
        _ranged("slope of the level", "dB a minute", evenness, "level_slope_db_per_minute"),
        *(
            _Known(each.name, each.unit, each.told, _error(each.low80, each.high80))
            for each in drive_figures(technique)
        ),
    ]


def _spread(name: str, unit: str, evenness: Json, key: str) -> _Known:
    """A standard deviation; its own error needs the correlation of strokes, so none is given."""
    return _Known(name, unit, evenness.get(key), None)


def _ranged(name: str, unit: str, where: Json, key: str) -> _Known:
    """A figure with the range that holds four chances in five."""
    figure = where.get(key) or {"told": None, "low80": None, "high80": None}
    return _Known(name, unit, figure["told"], _error(figure["low80"], figure["high80"]))


def _error(low80: float | None, high80: float | None) -> float | None:
    """Standard error of a figure with a range."""
    return None if low80 is None or high80 is None else (high80 - low80) / (2.0 * NORMAL_80)


def _row(first: _Known, second: _Known) -> SideBySideRow:
    """Both figures and their difference."""
    difference, plain = None, None
    if first.told is not None and second.told is not None:
        difference = second.told - first.told
        if first.error is not None and second.error is not None:
            error = (first.error**2 + second.error**2) ** 0.5
            plain = abs(difference) > _PLAIN_ERRORS * error
    return SideBySideRow(first.name, first.unit, first.told, second.told, difference, plain)


def _drive(body: Json) -> int | None:
    strokes: int | None = (body["technique"].get("drive_length") or {}).get("strokes")
    return strokes


def _notes(first: Json, second: Json) -> tuple[str, ...]:
    """Say where the two takes were not asked the same."""
    asked = (
        ("hand", "hands"),
        ("tempo_bpm", "tempos"),
        ("places_per_count", "places a count"),
        ("counts_offered", "lengths"),
    )
    notes = [
        f"The two takes are of different {name}: {first[key]} and {second[key]}."
        for key, name in asked
        if not _same(first[key], second[key])
    ]
    if "level_spread_db" in first["evenness"]:
        notes.append("Levels are relative within a take, so which take was louder cannot be told.")
    return tuple(notes)


def _same(one: float | str | None, other: float | str | None) -> bool:
    """Tempos are measured by the take's own clock, so half a count a minute is the same."""
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 0.5
    return one == other
