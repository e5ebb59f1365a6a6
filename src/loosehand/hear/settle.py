"""Which candidates are strokes: each by its own odds, and by the company it keeps.

Strokes come about a place apart. A faint candidate that stands where the next stroke is due
is likelier than its own odds say; one that stands alone, or close behind another, is less so.
The best chain of candidates is found by dynamic programming.
"""

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.engine import Candidates

__all__ = ["chain", "gap_odds", "only"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

COMPANY = 0.7
"""Weight of the company against a candidate's own odds: chosen on simulated takes."""
_ALONE = -2.5
_LOOK_BACK = 14
_SINGLE = (0.90, 0.13)
_DOUBLE = (0.04, 0.18)
_ANY = 0.03
_USUAL = 0.37
_BOUNCE = 0.42


def gap_odds(gap_places: FloatArray) -> FloatArray:
    """Log odds of a gap between strokes against chance, the gap in places.

    Source
    ------
    Ours: a mixture of one interval, two intervals and anything, against strokes by chance at
    the same rate.
    """
    chance = _ANY + sum(
        share / (width * np.sqrt(2 * np.pi)) * np.exp(-0.5 * ((gap_places - middle) / width) ** 2)
        for middle, (share, width) in ((1.0, _SINGLE), (2.0, _DOUBLE))
    )
    odds = COMPANY * np.log(chance / _USUAL)
    odds = np.where(gap_places < _BOUNCE, -1.0, odds)
    return np.maximum(np.where(gap_places > 2.7, _ALONE, odds), _ALONE)


def chain(found: Candidates, *, place_s: float) -> IntArray:
    """Indices of the candidates that are strokes.

    Parameters
    ----------
    found : candidates in order of time
    place_s : length of a place

    Returns
    -------
    index : int array, increasing
    """
    size = len(found)
    if size == 0:
        return np.zeros(0, dtype=np.int64)
    best = np.empty(size)
    came_from = np.full(size, -1, dtype=np.int64)
    time_s, odds = found.time_s, found.log_odds
    # Longest silence first: the best chain that ended more than a few candidates ago.
    furthest, furthest_index = 0.0, -1
    for index in range(size):
        first = max(index - _LOOK_BACK, 0)
        if first > 0 and best[first - 1] > furthest:
            furthest, furthest_index = float(best[first - 1]), first - 1
        value, origin = furthest + _ALONE, furthest_index
        if index > first:
            gap = (time_s[index] - time_s[first:index]) / place_s
            through = best[first:index] + gap_odds(gap)
            top = int(np.argmax(through))
            if through[top] > value:
                value, origin = float(through[top]), first + top
        best[index] = odds[index] + value
        came_from[index] = origin
    last = int(np.argmax(best))
    if best[last] <= 0:
        return np.zeros(0, dtype=np.int64)
    kept = []
    while last >= 0:
        kept.append(last)
        last = int(came_from[last])
    return np.array(kept[::-1], dtype=np.int64)


def only(found: Candidates, index: IntArray) -> Candidates:
    """Some of the candidates."""
    return Candidates(
        found.time_s[index], found.log_odds[index], found.level_db[index], found.timbre_db[index]
    )
