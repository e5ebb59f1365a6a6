"""The one thing that is most worth working at in a technique as heard, or that there is none.

Weighed are: places of the count that are off; push against pull uneven; taps that swell or fade,
strokes of a drive that are crushed together or spread apart in the course of the take; a decay
within the drive that is too steep; accents that hardly stand out. Each is turned into an effect in
milliseconds or decibels. One is named only if its effect is more than 3 of its standard errors and
more than can be heard: max(6 ms, 2.5 % of the interval) (Friberg and Sundberg 1995), 1.5 dB (ours).
Of several, the one that is most times what can be heard is the main one. Where one is large enough
to be heard and lies between 2 and 3 of its errors, it cannot be told; it is handed on as doubtful.

- A trend counts as the change over the take heard, slope x minutes. The trend of the gap within a
  drive is that of the mean gap: the last stroke moves by as many gaps as lie before it.
- What belongs to a technique is no fault. A decay counts only beyond 2 dB a tap, an accent only as
  far as it lies below 5 dB: common practice, no source. With a drive of 2 or 4 the level of odd and
  even strokes is the accent; with one of 4 so is the time of the stroke after it.
- Weak accents are a fault of drives of 3 and 4 alone, for twos are to be even; and only from 2 dB
  on, below which there is no accent.
- Nothing is named twice. Of places and a pair in the same unit, both heard and sure, the one stays
  that explains more of the places' squares; a tie, as with two places a count, is the place's. A
  drive that is being crushed is off in the mean too, but by no more than half of its change, so the
  change is named.

Source: ours, but for the threshold of timing.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from loosehand.judge.drive_length import DriveLength
from loosehand.judge.drive_shape import DriveShape, PushPull
from loosehand.judge.place_faults import HEARD_LEVEL_DB, PlaceFault, heard_displacement_ms
from loosehand.judge.variability import NORMAL_80, Figure

__all__ = [
    "MAIN_FAULT_KINDS",
    "PLACE_FAULT_UNITS",
    "Findings",
    "MainFault",
    "doubtful_fault",
    "main_fault",
    "smallest_heard",
]

Unit = Literal["ms", "dB"]

MAIN_FAULT_KINDS = (
    "late",
    "early",
    "soft",
    "loud",
    "push and pull uneven",
    "taps swell",
    "taps fade",
    "taps crushed",
    "taps spread",
    "decay too steep",
    "accents weak",
)
"""Every kind; keys of the faults in the data of techniques."""

PLACE_FAULT_UNITS: dict[str, Unit] = {"late": "ms", "early": "ms", "soft": "dB", "loud": "dB"}
"""Units of the faults of single places."""

COMMON_DECAY_DB = 2.0
"""Decay from tap to tap up to which a drive fades as drives do. Common practice, no source."""

COMMON_ACCENT_DB = 5.0
"""Contrast from which on an accent stands out as accents do. Common practice, no source."""

LEAST_ACCENT_DB = 2.0
"""A smaller contrast is no accent, as for the length of the drive; that is not a weak one."""

_SURE_ERRORS, _DOUBTFUL_ERRORS = 3.0, 2.0
_TIE = 1.001
_ALIKE: dict[Unit, frozenset[int]] = {"ms": frozenset((1, 2, 3)), "dB": frozenset((1, 3))}
"""Drives with which odd and even strokes ought to be alike."""


@dataclass(frozen=True)
class Findings:
    """What is heard of one hand's technique.

    Attributes
    ----------
    faults : places that are off
    shape : what the drive sounds like
    push_pull : odd strokes against even ones
    drive : how many strokes come on a drive
    places_per_count, place_ms : places in a count, and how long each is
    held_minutes : how long was heard
    """

    faults: tuple[PlaceFault, ...]
    shape: DriveShape
    push_pull: PushPull
    drive: DriveLength
    places_per_count: int
    place_ms: float
    held_minutes: float


@dataclass(frozen=True)
class MainFault:
    """The main fault.

    Attributes
    ----------
    kind : one of `MAIN_FAULT_KINDS`
    place : place of the count, from 0, or None where it is no single one's
    effect : how large, always positive: of a place how far off, of push and pull their difference,
        of taps the change over the take, of a decay or an accent what is beyond the common
    unit : ``ms`` or ``dB``
    low, high : range that holds four chances in five
    """

    kind: str
    place: int | None
    effect: float
    unit: Unit
    low: float
    high: float


@dataclass(frozen=True)
class _Suspect:
    """Something that may be the main fault; the effect keeps its sign."""

    kind: str
    effect: float
    error: float
    unit: Unit
    place: int | None = None


def smallest_heard(unit: Unit, *, place_ms: float) -> float:
    """Smallest effect that is heard, in its unit.

    Parameters
    ----------
    unit : ``ms`` or ``dB``
    place_ms : how long a place is

    Examples
    --------
    >>> smallest_heard("ms", place_ms=600.0), smallest_heard("dB", place_ms=600.0)
    (15.0, 1.5)
    """
    return heard_displacement_ms(place_ms) if unit == "ms" else HEARD_LEVEL_DB


def main_fault(found: Findings) -> MainFault | None:
    """Name the fault that is most times what can be heard, or None.

    Parameters
    ----------
    found : what is heard of the technique

    Returns
    -------
    fault : MainFault, or None where none can be heard or none is beyond chance
    """
    return _largest(_heard(found, _SURE_ERRORS), found)


def doubtful_fault(found: Findings) -> MainFault | None:
    """Name what may be the main fault but does not beat its uncertainty; None where one is named.

    Parameters
    ----------
    found : what is heard of the technique

    Returns
    -------
    fault : MainFault, or None
    """
    if main_fault(found) is not None:
        return None
    return _largest(_heard(found, _DOUBTFUL_ERRORS), found)


def _largest(suspects: list[_Suspect], found: Findings) -> MainFault | None:
    """The one that is most times what can be heard."""
    if not suspects:
        return None
    one = max(suspects, key=lambda each: abs(each.effect) / _smallest(each, found))
    size, reach = abs(one.effect), NORMAL_80 * one.error
    return MainFault(one.kind, one.place, size, one.unit, size - reach, size + reach)


def _smallest(one: _Suspect, found: Findings) -> float:
    return smallest_heard(one.unit, place_ms=found.place_ms)


def _errors(one: _Suspect) -> float:
    return abs(one.effect) / max(one.error, 1e-12)


def _heard(found: Findings, least_errors: float) -> list[_Suspect]:
    """All that is large enough to be heard, and so many of its errors, nothing twice."""

    def passes(one: _Suspect) -> bool:
        return abs(one.effect) > _smallest(one, found) and _errors(one) > least_errors

    places = _places(found)
    suspects = [*_trends(found), *_of_the_drive(found)]
    return [*filter(passes, suspects), *_once(list(filter(passes, places)), places, found)]


def _error_of(figure: Figure) -> float:
    """Standard error of a figure that is told."""
    assert figure.low80 is not None
    assert figure.high80 is not None
    return (figure.high80 - figure.low80) / (2.0 * NORMAL_80)


def _trends(found: Findings) -> list[_Suspect]:
    """How the taps change over the take: their level, and the time of the last of them."""
    shape, last = found.shape, (found.drive.strokes or 1) - 1
    trends = [
        _change(shape.tap_trend_db_per_minute, found.held_minutes, ("taps swell", "taps fade")),
        _change(
            shape.tap_gap_trend_ms_per_minute,
            found.held_minutes * last,
            ("taps spread", "taps crushed"),
        ),
    ]
    return [one for one in trends if one is not None]


def _change(slope: Figure, times: float, kinds: tuple[str, str]) -> _Suspect | None:
    """A slope as the change that it makes; None where it is unknown."""
    if slope.told is None:
        return None
    unit: Unit = "dB" if "swell" in kinds[0] else "ms"
    kind = kinds[0] if slope.told > 0 else kinds[1]
    return _Suspect(kind, slope.told * times, _error_of(slope) * times, unit)


def _of_the_drive(found: Findings) -> list[_Suspect]:
    """A decay that is too steep, and accents that hardly stand out."""
    shape, suspects = found.shape, []
    if shape.decay_db.told is not None:
        steps = (found.drive.strokes or 0) - 2
        beyond = (shape.decay_db.told - COMMON_DECAY_DB) * steps
        error = _error_of(shape.decay_db) * steps
        suspects.append(_Suspect("decay too steep", max(beyond, 0.0), error, "dB"))
    contrast_db = shape.contrast_db.told or 0.0
    if contrast_db >= LEAST_ACCENT_DB and found.drive.strokes in (3, 4):
        below = COMMON_ACCENT_DB - contrast_db
        error = _error_of(shape.contrast_db)
        suspects.append(_Suspect("accents weak", max(below, 0.0), error, "dB"))
    return suspects


def _places(found: Findings) -> list[_Suspect]:
    """Places that are off, late and loud above nought; push and pull, odd above even."""
    suspects = [
        _Suspect(
            kind=fault.kind,
            effect=fault.effect if fault.kind in ("late", "loud") else -fault.effect,
            error=(fault.high - fault.low) / (2.0 * NORMAL_80),
            unit=PLACE_FAULT_UNITS[fault.kind],
            place=fault.place,
        )
        for fault in found.faults
    ]
    both, drives = found.push_pull, {strokes for strokes, _ in found.drive.plausible}
    if drives <= _ALIKE["ms"]:
        suspects.append(_pair(both.timing_ms, both.timing_error_ms, "ms"))
    if drives <= _ALIKE["dB"]:
        suspects.append(_pair(both.level_db, both.level_error_db, "dB"))
    return suspects


def _pair(effect: float, error: float, unit: Unit) -> _Suspect:
    return _Suspect("push and pull uneven", effect, error, unit)


def _once(passing: list[_Suspect], places: list[_Suspect], found: Findings) -> list[_Suspect]:
    """Of each unit the places or the pair that pass, whichever explains more of all the places."""
    kept = []
    for unit in ("ms", "dB"):
        own = [one for one in passing if one.unit == unit and one.place is not None]
        pairs = [one for one in passing if one.unit == unit and one.place is None]
        if own and pairs and found.places_per_count % 2 == 0:
            off = [one for one in places if one.unit == unit and one.place is not None]
            kept += pairs if _pair_fits(off, pairs[0], found.places_per_count) else own
        else:
            kept += own + pairs
    return kept


def _pair_fits(off: list[_Suspect], pair: _Suspect, places_per_count: int) -> bool:
    """Whether a shift of every second place explains more than the best shift of a single one."""
    shift = np.zeros(places_per_count)
    for one in off:
        shift[one.place] = one.effect
    away = shift - shift.mean()
    by_place = float(np.max(away**2)) * places_per_count / (places_per_count - 1.0)
    return pair.effect**2 * places_per_count / 4.0 > _TIE * by_place
