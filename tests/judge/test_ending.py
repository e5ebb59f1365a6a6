"""How a hold ended."""

import numpy as np
import pytest

from loosehand.judge.ending import how_it_ended
from loosehand.judge.hold import LEEWAY, HoldGrid, judge_hold

N = 4
PLACE_S = 0.15
GRID = HoldGrid(1.0, PLACE_S, 30 * N, N, LEEWAY)
PLACE = np.arange(30 * N, dtype=float)
AFTER = np.maximum(PLACE - 60, 0)


def ended(place, seed):
    """Tell how strokes given in places ended, with a little noise on them."""
    noise = np.random.default_rng(seed).normal(0.0, 0.02, len(place))
    stroke_s = GRID.first_place_s + PLACE_S * np.sort(np.asarray(place) + noise)
    return how_it_ended(stroke_s, GRID, judge_hold(stroke_s, GRID))


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(
    ("place", "ending"),
    [
        (PLACE, "held to the end"),
        (np.delete(PLACE, 50), "held to the end"),
        (PLACE[:60], "stopped"),
        (np.concatenate([PLACE[:60], PLACE[72:]]), "stopped"),
        (PLACE + 0.05 * AFTER, "fell behind"),
        (PLACE + 0.15 * AFTER, "fell behind"),
        (PLACE - 0.05 * AFTER, "ran ahead"),
        (np.delete(PLACE, np.arange(60, 120, 2)), "thinned out"),
        (np.delete(PLACE, np.arange(60, 120, 4)), "thinned out"),
        (PLACE + np.where(PLACE >= 60, 0.45, 0.0), "lost the click"),
    ],
    ids=[
        "held",
        "a slip",
        "stops for good",
        "three counts of silence",
        "slows a little",
        "slows much",
        "hurries",
        "every other place",
        "one of four places",
        "jumps off the click",
    ],
)
def test_each_ending_has_its_word(place, ending, seed):
    """What the strokes did from the break on is told in the word for it."""
    assert ended(place, seed) == ending


def test_two_counts_of_silence_are_a_stop():
    """Silence of two counts is a stop; of one it is the click lost."""
    assert ended(np.concatenate([PLACE[:60], PLACE[68:]]), 1) == "stopped"
    assert ended(np.concatenate([PLACE[:60], PLACE[64:]]), 1) != "stopped"
