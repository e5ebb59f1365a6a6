"""What is most worth working at in a take of a part: its accents, or the technique.

- Accents missed count from where their share of those due is plainly more than the ear itself may
  miss, accents unasked from where their share of the plain strokes is: three or more of them, and
  the share above its bound by three standard errors (Wilson).
- A bound is no less than the share that the overlap of both kinds alone makes wrong: with accents
  h dB above plain strokes that spread by s, and the border midway, Phi(-h / 2 s) of each kind lies
  on the wrong side. Accents less than two spreads high are named neither missed nor unasked.
- Both are turned into decibels: the height of an accent times the share of those due that did not
  come, and times the share of the accents heard that nobody asked for. Where no accent stands out
  at all, the height is the common one.
- The main fault is the accents' or the technique's, whichever is more times what can be heard.

Source: ours; the bounds are several times what the ear does wrongly on rendered takes
(bench/technique.py, kind `part`).
"""

from math import erfc, sqrt

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from loosehand.judge.accents import AccentsHeard
from loosehand.judge.main_fault import COMMON_ACCENT_DB, MainFault, smallest_heard
from loosehand.judge.share_interval import wilson
from loosehand.judge.variability import NORMAL_80

__all__ = ["ACCENT_FAULT_KINDS", "accents_fault", "larger_fault", "spread_of_plain_db"]

ACCENT_FAULT_KINDS = ("accents missed", "accents not asked for")
"""Kinds of faults of accents; keys of the faults in the data of techniques."""

_MISSED_BY_THE_EAR, _UNASKED_BY_THE_EAR = 0.05, 0.02
"""Shares of accents due, and of plain strokes, that the ear may get wrong. Ours, chosen above what
was measured."""

_LEAST_SPREADS = 2.0
"""Spreads by which accents stand above the rest where a fault of theirs is named. Ours, chosen."""

_FEWEST = 3
_SURE_ERRORS = 3.0

_STROKES_A_BEND = 49
"""Plain strokes over which the level may bend and is no spread; an odd number. Ours, chosen."""

_MEDIAN_TO_SPREAD = 1.4826
"""A normal spread over the median of its deviations."""


def accents_fault(found: AccentsHeard, *, spread_db: float) -> MainFault | None:
    """Name what is plainly wrong with the accents, the larger of missed and unasked ones.

    Parameters
    ----------
    found : accents heard against a part's
    spread_db : standard deviation of the level of plain strokes alike

    Returns
    -------
    fault : MainFault, or None where no more is wrong than the ear may get wrong
    """
    height_db = COMMON_ACCENT_DB if found.contrast_db is None else found.contrast_db
    if found.contrast_db is not None and height_db < _LEAST_SPREADS * spread_db:
        return None
    overlap = _overlap(height_db, spread_db)
    heard = found.hits + found.false_accents
    missed, unasked = ACCENT_FAULT_KINDS
    faults = []
    if _is_plain(found.misses, found.due, max(_MISSED_BY_THE_EAR, overlap)):
        faults.append(_fault(missed, found.misses, found.due, height_db))
    if _is_plain(found.false_accents, found.plain, max(_UNASKED_BY_THE_EAR, overlap)):
        faults.append(_fault(unasked, found.false_accents, heard, height_db))
    return max(faults, key=lambda fault: fault.effect, default=None)


def spread_of_plain_db(level_db: NDArray[np.float64], level_class: NDArray[np.int64]) -> float:
    """Spread of the level of plain strokes alike, slow bends and accents among them left out.

    Told from the softer half alone, for accents that nobody asked for lie in the other.

    Parameters
    ----------
    level_db : float array, shape (n,), of strokes that ought to have no accent, in order
    level_class : int array, shape (n,), number of the level that each ought to have

    Returns
    -------
    spread_db : standard deviation of a normal spread with this softer half; nought without strokes

    Examples
    --------
    >>> spread_of_plain_db(np.array([0.0, -1.0, 9.0, 1.0, 0.0]), np.zeros(5, dtype=np.int64))
    1.4826
    """
    around = np.array(level_db, dtype=float)
    for each in np.unique(level_class):
        around[level_class == each] -= np.median(around[level_class == each])
    around -= _slow_bend(around)
    below = -around[around < 0.0]
    return _MEDIAN_TO_SPREAD * float(np.median(below)) if below.size else 0.0


def larger_fault(
    one: MainFault | None, other: MainFault | None, *, place_ms: float
) -> MainFault | None:
    """Return the fault that is more times what can be heard, the first of two alike.

    Parameters
    ----------
    one, other : faults, None where there is none
    place_ms : how long a place is
    """

    def times(fault: MainFault) -> float:
        return fault.effect / smallest_heard(fault.unit, place_ms=place_ms)

    return max((fault for fault in (one, other) if fault is not None), key=times, default=None)


def _slow_bend(level_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median of the strokes around each, mirrored at the ends."""
    if not level_db.size:
        return level_db
    around = np.pad(level_db, _STROKES_A_BEND // 2, mode="symmetric")
    bend: NDArray[np.float64] = np.median(sliding_window_view(around, _STROKES_A_BEND), axis=1)
    return bend


def _overlap(height_db: float, spread_db: float) -> float:
    """Share of accents, and of plain strokes, on the other side of a border midway."""
    return 0.5 * erfc(height_db / (2.0 * sqrt(2.0) * spread_db)) if spread_db > 0.0 else 0.0


def _is_plain(times: int, of: int, bound: float) -> bool:
    """Whether so many are plainly more than a share."""
    return times >= _FEWEST and wilson(times / of, of, errors=_SURE_ERRORS)[0] > bound


def _fault(kind: str, times: int, of: int, height_db: float) -> MainFault:
    low, high = wilson(times / of, of, errors=NORMAL_80)
    effect = height_db * times / of
    return MainFault(kind, None, effect, "dB", height_db * low, height_db * high)
