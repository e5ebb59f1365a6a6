"""The rule of the hold, applied to strokes whose intended place is known.

A place is good when its stroke lies within the leeway of it, steady lead taken out. A slip is
a run of one or two bad places, forgiven when at least n good places (n a count) lie before
it, or it is the first, and n after it; at the end fewer, but at least one, will do. The first
bad run not forgiven is the break; where two slips are too close, the first of them is.

This is written apart from the judge on purpose: it never has to match strokes to places.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LEEWAY_SHARE", "HandTruth", "first_break", "hand_truth"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
LEEWAY_SHARE = 0.30
"""How far from its place a stroke may lie, as a share of a place."""


@dataclass(frozen=True)
class HandTruth:
    """What one hand held, in its own places.

    Attributes
    ----------
    good : bool array, shape (places,), the place has a stroke within the leeway
    first_bad : first place of the break, or None
    lead_share : the steady lead taken out, as a share of a place
    """

    good: BoolArray
    first_bad: int | None
    lead_share: float


def _bad_runs(good: BoolArray) -> list[tuple[int, int]]:
    """Start and end (exclusive) of each run of bad places."""
    edges = np.diff(np.concatenate(([0], (~good).astype(np.int8), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]


def first_break(good: BoolArray, *, places_per_count: int) -> int | None:
    """First place of the first bad run that is not forgiven.

    Parameters
    ----------
    good : bool array, shape (places,)
    places_per_count : places of this hand in a count

    Returns
    -------
    place : int, or None where the round was held

    Examples
    --------
    >>> good = np.ones(24, dtype=bool)
    >>> good[[5, 6, 12]] = False
    >>> first_break(good, places_per_count=4) is None
    True
    >>> good[15] = False
    >>> first_break(good, places_per_count=4)
    12
    """
    runs = _bad_runs(good)
    for index, (start, end) in enumerate(runs):
        following = runs[index + 1][0] if index + 1 < len(runs) else None
        after = (good.size if following is None else following) - end
        enough = after >= places_per_count or (following is None and after >= 1)
        if end - start > 2 or not enough:
            return start
    return None


def hand_truth(late_share: FloatArray, *, places_per_count: int) -> HandTruth:
    """Find what one hand held, the steady lead found by iterating.

    Parameters
    ----------
    late_share : float array, shape (places,), stroke minus place as a share of a place; NaN
        where no stroke was made
    places_per_count : places of this hand in a count

    Returns
    -------
    truth : good places, the break and the lead
    """
    upto = 2 * places_per_count
    first_bad: int | None = None
    good = np.zeros(late_share.size, dtype=bool)
    lead = 0.0
    for _ in range(20):
        heard = late_share[:upto][np.isfinite(late_share[:upto])]
        lead = float(np.median(heard)) if heard.size else 0.0
        good = np.abs(np.nan_to_num(late_share - lead, nan=np.inf)) <= LEEWAY_SHARE
        found = first_break(good, places_per_count=places_per_count)
        settled = late_share.size if found is None else found
        if settled in (upto, 0):
            first_bad = found
            break
        upto, first_bad = settled, found
    return HandTruth(good=good, first_bad=first_bad, lead_share=lead)
