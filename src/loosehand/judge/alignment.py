"""Strokes matched to places: in order, one to one, by least total cost.

Nearest-place matching would 'recover' a hand that slows until it has slid by a whole place;
matching in order does not. A deviation of d places costs d squared, a place left without a
stroke costs ``MISSED_COST``, a stroke left without a place costs ``EXTRA_COST``.

Conventions: deviation = (stroke - lead - place) / place length; early is negative.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["EXTRA_COST", "MISSED_COST", "NO_STROKE", "match_in_order"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MISSED_COST = 0.5
EXTRA_COST = 0.5
NO_STROKE = -1
"""Index that stands for 'no stroke at this place'."""

_MATCH, _MISS, _EXTRA = 0, 1, 2


def match_in_order(stroke_place: FloatArray, *, places: int) -> IntArray:
    """Match strokes to places 0 to ``places`` - 1 in order, at least total cost.

    Parameters
    ----------
    stroke_place : float array, shape (n,), increasing: each stroke's time in places from
        place 0 (a stroke at 3.1 lies a tenth of a place after place 3)
    places : how many places there are

    Returns
    -------
    stroke_of_place : int array, shape (places,), index of the matched stroke or NO_STROKE

    Source
    ------
    Ours: the dynamic programme of sequence alignment with squared deviation as the cost of
    a match. A match further off than sqrt(MISSED_COST + EXTRA_COST) = 1 place never pays.

    Examples
    --------
    >>> match_in_order(np.array([0.1, 0.9, 3.0]), places=4)
    array([ 0,  1, -1,  2])
    """
    strokes = stroke_place.size
    matched = np.full(places, NO_STROKE, dtype=np.int64)
    if strokes == 0 or places == 0:
        return matched
    step = _decisions(stroke_place, places)
    place, stroke = places, strokes
    while place > 0 and stroke > 0:
        decision = step[place, stroke]
        if decision == _MATCH:
            place, stroke = place - 1, stroke - 1
            matched[place] = stroke
        elif decision == _MISS:
            place -= 1
        else:
            stroke -= 1
    return matched


def _decisions(stroke_place: FloatArray, places: int) -> NDArray[np.int8]:
    """Best last step for every pair (places used, strokes used)."""
    strokes = stroke_place.size
    extra_so_far = EXTRA_COST * np.arange(strokes + 1)
    total = extra_so_far.copy()
    step = np.full((places + 1, strokes + 1), _EXTRA, dtype=np.int8)
    for place in range(1, places + 1):
        missed = total + MISSED_COST
        here = missed.copy()
        matched = total[:-1] + np.square(stroke_place - (place - 1))
        best_match = matched < missed[1:]
        here[1:] = np.where(best_match, matched, missed[1:])
        after_extras = np.minimum.accumulate(here - extra_so_far) + extra_so_far
        is_extra = after_extras < here - 1e-12
        row = np.full(strokes + 1, _MISS, dtype=np.int8)
        row[1:][best_match] = _MATCH
        row[is_extra] = _EXTRA
        step[place] = row
        total = np.where(is_extra, after_extras, here)
    return step
