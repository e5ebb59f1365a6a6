"""How sure the count held is: the chance that it is within one count of the truth.

A logistic model over a few plain signs of doubt. Its weights were fitted on simulated takes
(``bench/fit_confidence.py``), not on the takes that the bench reports.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.heard import Heard
from loosehand.judge.alignment import NO_STROKE
from loosehand.judge.hold import Hold, HoldGrid

__all__ = ["SIGNS", "chance_within_one", "signs_of_doubt"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Judged = tuple[HoldGrid, Hold, IntArray]

SIGNS: tuple[str, ...] = (
    "start in doubt",
    "strokes in doubt",
    "worst stroke in doubt",
    "places near the leeway",
    "spread of asynchrony",
    "strokes without a place",
    "held to the end",
    "broke at once",
    "empty places at the break",
    "doubt at the break",
    "deviation at the break",
)
_WEIGHTS = np.array([-0.67, -3.71, -1.93, 2.11, 1.98, -2.68, 0.98, -2.61, 0.05, -3.13, 0.73])
_OFFSET = 3.11


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
    worst[5:] = hands[first][5:]
    return np.concatenate(([start], worst))


def _signs_of_hand(heard: Heard, grid: HoldGrid, hold: Hold, strokes: IntArray) -> FloatArray:
    end = grid.places if hold.first_bad_place is None else hold.first_bad_place
    matched = hold.stroke_of_place[:end]
    place = np.flatnonzero(matched != NO_STROKE)
    index = strokes[matched[place]]
    doubt = 1.0 - heard.strokes.confidence[index]
    lateness = (heard.strokes.time_s[index] - grid.first_place_s) / grid.place_s - place
    deviation = np.abs(lateness - hold.lead_s / grid.place_s)
    near = np.abs(deviation - grid.leeway) < 0.05
    around = hold.stroke_of_place[end : end + 2 * grid.places_per_count]
    here = strokes[around[around != NO_STROKE]]
    break_s = grid.first_place_s + end * grid.place_s
    inside = heard.strokes.time_s[strokes]
    inside = inside[(inside > grid.first_place_s) & (inside < break_s)]
    at_break = np.flatnonzero(hold.stroke_of_place[end : end + 1] != NO_STROKE)
    off = 0.0
    if at_break.size:
        stroke = strokes[hold.stroke_of_place[end]]
        place_s = grid.first_place_s + hold.lead_s + end * grid.place_s
        off = min(abs(heard.strokes.time_s[stroke] - place_s) / grid.place_s - grid.leeway, 0.5)
    held_on = hold.first_bad_place is None
    return np.array(
        [
            float(np.mean(doubt)) if doubt.size else 1.0,
            float(np.max(doubt, initial=0.0)),
            float(np.mean(near)) if near.size else 1.0,
            float(np.std(deviation)) if deviation.size else 0.5,
            max(inside.size - place.size, 0) / max(place.size, 1),
            float(held_on),
            float(hold.count_held < 2),
            0.0 if held_on else 1.0 - around[around != NO_STROKE].size / max(around.size, 1),
            0.0 if held_on or not here.size else float(np.mean(1 - heard.strokes.confidence[here])),
            0.0 if held_on else off,
        ]
    )
