"""How sure the count held is: the chance that it is within one count of the truth.

Each place of the hold may be other than it was heard: a stroke may be none, or lie just
across the leeway. From these chances follows how likely the hand held on as long as was
heard, and how likely it then broke. A logistic model weighs the two and a few plain signs;
its weights were fitted on simulated takes (``bench/fit_confidence.py``), not on the takes
that the bench reports.
"""

from collections.abc import Sequence
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.heard import Heard
from loosehand.judge.alignment import NO_STROKE
from loosehand.judge.hold import LONGEST_SLIP, Hold, HoldGrid

__all__ = ["SIGNS", "chance_unbroken", "chance_within_one", "signs_of_doubt"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Judged = tuple[HoldGrid, Hold, IntArray]

SIGNS: tuple[str, ...] = (
    "start in doubt",
    "hold in doubt",
    "break in doubt",
    "strokes in doubt",
    "strokes presumed",
    "spread of asynchrony",
    "strokes without a place",
    "held to the end",
    "broke at once",
    "empty places at the break",
)
_WEIGHTS = np.array([-0.5, -0.07, -0.20, -4.35, -0.64, -7.09, -0.32, 0.28, -0.84, 1.09])
_OFFSET = 2.21
_TIME_ERROR_S = 0.0015
_EMPTY_IS_BAD = 0.9
_PRESUMED_IS_BAD = 0.1
_LEAST_CHANCE = 0.003


def chance_within_one(heard: Heard, judged: Sequence[Judged]) -> float:
    """Chance that the count held lies within one count of the truth.

    Parameters
    ----------
    heard : what the ear says
    judged : for each hand its grid, its hold and the indices of its strokes

    Returns
    -------
    chance : in [0, 1]

    Source
    ------
    Ours: logistic regression on simulated takes.
    """
    odds = _OFFSET + float(signs_of_doubt(heard, judged) @ _WEIGHTS)
    return float(1.0 / (1.0 + np.exp(-odds)))


def signs_of_doubt(heard: Heard, judged: Sequence[Judged]) -> FloatArray:
    """Return the signs of doubt, shape (len(SIGNS),), the worse hand's where there are two."""
    start = 1.0 - (heard.grid.confidence if heard.grid is not None else 0.0)
    hands = [_signs_of_hand(heard, *hand) for hand in judged]
    first = min(range(len(judged)), key=lambda k: judged[k][1].count_held)
    worst = np.max(hands, axis=0)
    worst[6:] = hands[first][6:]
    return np.concatenate(([start], worst))


def chance_unbroken(bad: FloatArray, *, places_per_count: int) -> float:
    """Chance that no break lies in a row of places, each bad by a chance of its own.

    Parameters
    ----------
    bad : float array, shape (places,), chance that the place is bad
    places_per_count : places in a count, which a slip needs on either side

    Returns
    -------
    chance : in [0, 1]

    Source
    ------
    Ours: the rule of ``loosehand.judge.hold`` as a chain of states, the end of the take left
    aside.

    Examples
    --------
    >>> chance_unbroken(np.array([0.0, 1.0, 1.0, 0.0]), places_per_count=4)
    1.0
    >>> chance_unbroken(np.array([0.0, 1.0, 1.0, 1.0]), places_per_count=4)
    0.0
    """
    # States: clear of any slip, in a slip of so many places, so many good places after one.
    clear = 1.0
    slip = [0.0] * LONGEST_SLIP
    after = [0.0] * (places_per_count - 1)
    for p in bad.tolist():
        good = 1.0 - p
        back = good * sum(slip)
        slip = [p * clear, *(p * state for state in slip[:-1])]
        clear = good * (clear + (after[-1] if after else 0.0))
        if after:
            after = [back, *(good * state for state in after[:-1])]
        else:
            clear += back
    return clear + sum(slip) + sum(after)


def _signs_of_hand(heard: Heard, grid: HoldGrid, hold: Hold, strokes: IntArray) -> FloatArray:
    n = grid.places_per_count
    held_on = hold.first_bad_place is None
    end = hold.held_places
    bad, doubt, deviation = _chances_of_bad(heard, grid, hold, strokes)
    unbroken = chance_unbroken(bad[: max(end - n, 0)], places_per_count=n)
    again = chance_unbroken(bad[max(end - n, 0) : end + 2 * n], places_per_count=n)
    before = deviation[:end][~np.isnan(deviation[:end])]
    break_s = grid.first_place_s + end * grid.place_s
    time_s = heard.strokes.time_s[strokes]
    inside = int(np.count_nonzero((time_s > grid.first_place_s) & (time_s < break_s)))
    around = hold.stroke_of_place[end : end + 2 * n]
    heard_share = np.count_nonzero(around != NO_STROKE) / max(around.size, 1)
    return np.array(
        [
            -_log_odds(unbroken),
            -_log_odds(again if held_on else 1.0 - again),
            float(np.mean(doubt[:end])) if end else 1.0,
            float(np.mean((hold.good & (hold.stroke_of_place == NO_STROKE))[:end])) if end else 0.0,
            float(np.std(before)) if before.size else 0.5,
            max(inside - before.size, 0) / max(before.size, 1),
            float(held_on),
            float(hold.count_held < 2),
            0.0 if held_on else 1.0 - heard_share,
        ]
    )


def _log_odds(chance: float) -> float:
    """Log odds of a chance, kept finite."""
    return float(np.log((chance + _LEAST_CHANCE) / (1.0 - chance + _LEAST_CHANCE)))


def _chances_of_bad(
    heard: Heard, grid: HoldGrid, hold: Hold, strokes: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """For every place: chance that it is bad, doubt of its stroke, deviation (NaN if empty)."""
    has = hold.stroke_of_place != NO_STROKE
    place = np.flatnonzero(has)
    index = strokes[hold.stroke_of_place[place]]
    due_s = grid.first_place_s + hold.lead_s + grid.place_s * place
    if hold.gallops:
        due_s = due_s + hold.habit_s[place % grid.places_per_count]
    deviation = np.full(grid.places, np.nan)
    deviation[place] = (heard.strokes.time_s[index] - due_s) / grid.place_s
    doubt = np.ones(grid.places)
    doubt[place] = 1.0 - heard.strokes.confidence[index]
    room_s = (grid.leeway - np.abs(deviation[place])) * grid.place_s
    off = np.array([0.5 * (1.0 - erf(each / _TIME_ERROR_S / sqrt(2.0))) for each in room_s])
    bad = np.where(hold.good, _PRESUMED_IS_BAD, _EMPTY_IS_BAD)
    bad[place] = 1.0 - (1.0 - off) * (1.0 - doubt[place])
    return np.clip(bad, _LEAST_CHANCE, 1.0 - _LEAST_CHANCE), doubt, deviation
