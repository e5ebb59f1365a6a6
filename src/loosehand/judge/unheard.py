"""Places whose stroke the recording may have hidden.

A soft stroke under speech or a loud room leaves no trace, and a place with no stroke heard is
then no proof of a place left out. How likely a stroke would have been missed follows from how
far strokes of that place of the figure stand above what sounds there. Lone empty places are
presumed played where that is the likelier story of the whole hold; a hand that thins out
leaves the same place empty again and again, which chance does not.
"""

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.band_levels import band_levels
from loosehand.hear.heard import Background, Strokes
from loosehand.judge.hold import bad_runs

__all__ = ["audibility_db", "chance_missed", "presumed_played"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_MIDDLE_DB = 10.0
_SLOPE_DB = 2.7
_MOST_MISSED = 0.5
_LEAST_MISSED = 0.003
_WORTH_A_DOUBT = 0.01
_MOST_TOGETHER = 3
_FEWEST_OF_PLACE = 5
_OFF = 0.003
_LOST_ODDS = np.log([0.60, 0.38, 0.15])
"""Log chance of a good, an empty and a bad place once the hand has lost the click."""
_THIN_ODDS = np.log([0.1, 0.9, 0.05])
"""The same for the place that a thinning hand leaves out."""
_LOSES = np.log(1 / 600)
_CATCHES = np.log(1 / 60)


def audibility_db(
    strokes: Strokes, class_of_stroke: IntArray, place_s: FloatArray, background: Background
) -> FloatArray:
    """How far a stroke at each place would stand above what sounds there.

    Parameters
    ----------
    strokes : strokes of one hand
    class_of_stroke : int array, shape (strokes,), place of the figure, counted within a count
    place_s : float array, shape (places,), when a stroke is due; places go round the figure
    background : what sounds between the strokes

    Returns
    -------
    audibility_db : float array, shape (places,), in the band where it is largest
    """
    band_db = band_levels(strokes.level_db, strokes.timbre_db)
    classes = int(class_of_stroke.max(initial=-1)) + 1
    usual = np.median(band_db, axis=0)
    of_class = np.tile(usual, (max(classes, 1), 1))
    for which in range(classes):
        own = band_db[class_of_stroke == which]
        if own.shape[0] >= _FEWEST_OF_PLACE:
            of_class[which] = np.median(own, axis=0)
    due = of_class[np.arange(place_s.size) % of_class.shape[0]]
    return np.asarray(np.max(due - background.at(place_s), axis=1))


def chance_missed(audibility: FloatArray) -> FloatArray:
    """Chance that the ear misses a stroke that stands so many dB above what sounds there.

    Source
    ------
    Ours: a curve through what was missed in simulated takes.
    """
    curve = _MOST_MISSED / (1.0 + np.exp((audibility - _MIDDLE_DB) / _SLOPE_DB))
    return np.asarray(_LEAST_MISSED + curve)


def presumed_played(
    good: BoolArray, empty: BoolArray, missed: FloatArray, *, places_per_count: int
) -> BoolArray:
    """Empty places at which a stroke was most likely played, but not heard.

    Parameters
    ----------
    good, empty : bool arrays, shape (places,): a stroke in its place; no stroke at all
    missed : float array, shape (places,), chance that a stroke there is missed
    places_per_count : places in a count

    Returns
    -------
    presumed : bool array, shape (places,)

    Source
    ------
    Ours: the likeliest path through three kinds of state: locked, lost, and thinning at one
    place of the figure (dynamic programming). Of the empty places on its locked stretches
    those are presumed where missing is a real possibility and at most three stand together.
    """
    size, n = good.size, places_per_count
    if not np.any(empty & (missed > _WORTH_A_DOUBT)):
        return np.zeros(size, dtype=np.bool_)
    seen = np.where(good, 0, np.where(empty, 1, 2))
    locked = np.log(np.stack([1.0 - missed - _OFF, missed, np.full(size, _OFF)]))
    score = np.empty((size, 2 + n))
    score[:, 0] = locked[seen, np.arange(size)]
    score[:, 1] = _LOST_ODDS[seen]
    score[:, 2:] = score[:, :1]
    turn = np.arange(size)
    score[turn, 2 + turn % n] = _THIN_ODDS[seen]
    state = _likeliest(score)
    alone = np.zeros(size, dtype=np.bool_)
    for run in bad_runs(~empty):
        alone[run.start : run.end] = run.end - run.start <= _MOST_TOGETHER
    return np.asarray(alone & (state == 0) & (missed > _WORTH_A_DOUBT))


def _likeliest(score: FloatArray) -> IntArray:
    """State at every place on the likeliest path; it starts locked."""
    size, states = score.shape
    change = np.full((states, states), _LOSES + _CATCHES)
    change[0, 1:], change[1:, 0] = _LOSES, _CATCHES
    np.fill_diagonal(change, 0.0)
    came_from = np.zeros((size, states), dtype=np.int64)
    value = np.full(states, _LOSES)
    value[0] = 0.0
    value = value + score[0]
    for place in range(1, size):
        through = value[:, None] + change
        came_from[place] = np.argmax(through, axis=0)
        value = through[came_from[place], np.arange(states)] + score[place]
    path = np.zeros(size, dtype=np.int64)
    path[-1] = int(np.argmax(value))
    for place in range(size - 1, 0, -1):
        path[place - 1] = came_from[place, path[place]]
    return path
