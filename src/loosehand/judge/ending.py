"""How a hold ended: what the strokes did from the break on."""

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.alignment import NO_STROKE
from loosehand.judge.hold import Hold, HoldGrid
from loosehand.judge.reading import Ending

__all__ = ["how_it_ended"]

FloatArray = NDArray[np.float64]

STOPPED_COUNTS = 2
"""Counts without a stroke that make a stop."""
_COUNTS_LOOKED_AT = 4
_FEWEST_STROKES = 4
_THINNED_SHARE = 0.85
_IN_PLACE_SHARE = 0.7
_RATE_OFF = 0.02
_SLID_PLACES = 0.45


def how_it_ended(stroke_s: FloatArray, grid: HoldGrid, hold: Hold) -> Ending:
    """Say how one hand's hold ended.

    Parameters
    ----------
    stroke_s : float array, shape (n,), this hand's strokes
    grid : its places
    hold : where it lost the click

    Returns
    -------
    ending : "held to the end" where there is no break

    Source
    ------
    Ours: a stop is two counts without a stroke; thinning out is a share of the places
    missing while the rest stay in place; running ahead and falling behind are a drift of
    the strokes, followed from the break on, by about half a place.
    """
    if hold.first_bad_place is None:
        return "held to the end"
    break_s = grid.first_place_s + hold.lead_s + hold.first_bad_place * grid.place_s
    count_s = grid.place_s * grid.places_per_count
    after = stroke_s[stroke_s >= break_s - 0.7 * grid.place_s]
    end_s = grid.first_place_s + grid.places * grid.place_s
    if _stops(after, break_s, count_s, end_s):
        return "stopped"
    if _thins(grid, hold):
        return "thinned out"
    drift = _slide(stroke_s, grid, hold, break_s, count_s)
    if drift > _SLID_PLACES:
        return "fell behind"
    if drift < -_SLID_PLACES:
        return "ran ahead"
    return "lost the click"


def _stops(after: FloatArray, break_s: float, count_s: float, end_s: float) -> bool:
    """Two counts of silence that begin within a count of the break."""
    near = after[after < break_s + count_s]
    last = float(near[-1]) if near.size else break_s
    following = after[after > last]
    silent_until = float(following[0]) if following.size else end_s
    return silent_until - last >= STOPPED_COUNTS * count_s or (
        following.size == 0 and near.size <= 1 and end_s - last > 0.5 * count_s
    )


def _thins(grid: HoldGrid, hold: Hold) -> bool:
    """Some places stay empty while those that are played stay good."""
    first = hold.first_bad_place or 0
    end = min(first + 2 * _COUNTS_LOOKED_AT * grid.places_per_count, grid.places)
    matched = hold.stroke_of_place[first:end] != NO_STROKE
    if np.count_nonzero(matched) < _FEWEST_STROKES:
        return False
    good = hold.good[first:end][matched]
    return bool(matched.mean() < _THINNED_SHARE and good.mean() > _IN_PLACE_SHARE)


def _slide(
    stroke_s: FloatArray, grid: HoldGrid, hold: Hold, break_s: float, count_s: float
) -> float:
    """How far the strokes slide against the click, in places, gap by gap from the break."""
    span = _COUNTS_LOOKED_AT * count_s
    near = stroke_s[(stroke_s > break_s - count_s) & (stroke_s < break_s + span)]
    if near.size < _FEWEST_STROKES:
        return 0.0
    gap = np.diff(near) / grid.place_s
    single = gap[(gap > 0.6) & (gap < 1.5)]
    if single.size < _FEWEST_STROKES:
        return 0.0
    rate = float(np.median(single)) - 1.0
    if abs(rate) < _RATE_OFF:
        return 0.0
    return rate * _COUNTS_LOOKED_AT * grid.places_per_count
