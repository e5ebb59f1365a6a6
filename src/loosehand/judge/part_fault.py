"""What is most worth working at in a take of a part: its accents, or the technique.

- Accents missed count from where their share of those due is plainly more than the ear itself may
  miss, accents unasked from where their share of the plain strokes is: three or more of them, and
  the share above its bound by three standard errors (Wilson).
- Both are turned into decibels: the height of an accent times the share of those due that did not
  come, and times the share of the accents heard that nobody asked for. Where no accent stands out
  at all, the height is the common one.
- The main fault is the accents' or the technique's, whichever is more times what can be heard.

Source: ours; the bounds are several times what the ear does wrongly on rendered takes
(bench/technique.py, kind `part`).
"""

from math import sqrt

from loosehand.judge.accents import AccentsHeard
from loosehand.judge.main_fault import COMMON_ACCENT_DB, MainFault
from loosehand.judge.place_faults import HEARD_LEVEL_DB, heard_displacement_ms
from loosehand.judge.variability import NORMAL_80

__all__ = ["ACCENT_FAULT_KINDS", "accents_fault", "larger_fault"]

ACCENT_FAULT_KINDS = ("accents missed", "accents not asked for")
"""Kinds of faults of accents; keys of the faults in the data of techniques."""

_MISSED_BY_THE_EAR, _UNASKED_BY_THE_EAR = 0.05, 0.02
"""Shares of accents due, and of plain strokes, that the ear may get wrong. Ours, chosen above what
was measured."""

_FEWEST = 3
_SURE_ERRORS = 3.0


def accents_fault(found: AccentsHeard) -> MainFault | None:
    """Name what is plainly wrong with the accents, the larger of missed and unasked ones.

    Parameters
    ----------
    found : accents heard against a part's

    Returns
    -------
    fault : MainFault, or None where no more is wrong than the ear may get wrong
    """
    height_db = COMMON_ACCENT_DB if found.contrast_db is None else found.contrast_db
    heard = found.hits + found.false_accents
    missed, unasked = ACCENT_FAULT_KINDS
    faults = []
    if _is_plain(found.misses, found.due, _MISSED_BY_THE_EAR):
        faults.append(_fault(missed, found.misses, found.due, height_db))
    if _is_plain(found.false_accents, found.plain, _UNASKED_BY_THE_EAR):
        faults.append(_fault(unasked, found.false_accents, heard, height_db))
    return max(faults, key=lambda fault: fault.effect, default=None)


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
        heard = heard_displacement_ms(place_ms) if fault.unit == "ms" else HEARD_LEVEL_DB
        return fault.effect / heard

    return max((fault for fault in (one, other) if fault is not None), key=times, default=None)


def _is_plain(times: int, of: int, bound: float) -> bool:
    """Whether so many are plainly more than a share."""
    return times >= _FEWEST and _between(times, of, _SURE_ERRORS)[0] > bound


def _fault(kind: str, times: int, of: int, height_db: float) -> MainFault:
    low, high = _between(times, of, NORMAL_80)
    effect = height_db * times / of
    return MainFault(kind, None, effect, "dB", height_db * low, height_db * high)


def _between(times: int, of: int, errors: float) -> tuple[float, float]:
    """Share, less and more so many standard errors, by Wilson (1927)."""
    share, per = times / of, errors**2 / of
    middle = share + per / 2.0
    reach = errors * sqrt(share * (1.0 - share) / of + per / (4.0 * of))
    return (middle - reach) / (1.0 + per), (middle + reach) / (1.0 + per)
