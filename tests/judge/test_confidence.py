"""Checks of how sure the count held is."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.hear.heard import CountGrid, Heard, Quality, Strokes
from loosehand.judge.confidence import (
    SIGNS,
    chance_unbroken,
    chance_within_one,
    signs_of_doubt,
)
from loosehand.judge.hold import LEEWAY, HoldGrid, find_break, judge_hold
from tests.hear.scenes import jittered

GRID = HoldGrid(first_place_s=2.0, place_s=0.15, places=80, places_per_count=4, leeway=LEEWAY)


def case(*, certain=0.98, strokes=80, start=0.98):
    """What was heard of a hand, and its hold."""
    time_s = jittered(2.0, 0.15, strokes, sd_s=0.006)
    column = np.full(strokes, certain)
    heard = Heard(
        Strokes(time_s, column, column, np.zeros((strokes, 3))),
        CountGrid(2.0, 0.6, 20, 4, "click", start),
        Quality(15.0, 48000, None, None, None, 0.0, (), (), None),
        None,
    )
    return heard, [(GRID, judge_hold(time_s, GRID), np.arange(strokes))]


def test_signs_have_names():
    """There is a finite number for every sign, whether held, broken or not begun."""
    for strokes in (80, 30, 1, 0):
        signs = signs_of_doubt(*case(strokes=strokes))
        assert signs.shape == (len(SIGNS),)
        assert np.all(np.isfinite(signs))


def test_chance_is_a_chance():
    """The chance lies between nought and one."""
    assert all(0 <= chance_within_one(*case(strokes=n, certain=0.5)) <= 1 for n in (80, 30, 0))


def test_doubt_lowers_the_chance():
    """Doubtful strokes or a doubtful start make a count less sure, never surer."""
    sure = chance_within_one(*case())
    assert chance_within_one(*case(certain=0.6)) < sure
    assert chance_within_one(*case(start=0.2)) < sure


def by_drawing(bad, n, rng, times=4000):
    """Share of drawn rows of places in which the rule finds no break: slow and plain."""
    drawn = rng.random((times, bad.size)) >= bad
    tail = np.ones((times, n), dtype=bool)
    rows = np.concatenate([drawn, tail], axis=1)
    return np.mean([find_break(row, places_per_count=n) is None for row in rows])


@pytest.mark.parametrize("n", [1, 3, 4, 6])
def test_chance_unbroken_is_that_of_the_rule(n):
    """The chain of states gives what drawing rows and judging each by the rule gives."""
    rng = np.random.default_rng(n)
    bad = rng.uniform(0.0, 0.25, 24)
    bad[rng.integers(0, 24, 2)] = 0.9
    chance = chance_unbroken(bad, places_per_count=n)
    assert abs(chance - by_drawing(bad, n, rng)) < 0.03


def test_nothing_is_unbroken():
    """No place, no break."""
    assert chance_unbroken(np.zeros(0), places_per_count=4) == 1.0


def test_no_grid_is_a_doubtful_start():
    """Without counts the start is wholly in doubt."""
    heard, judged = case()
    assert signs_of_doubt(replace(heard, grid=None), judged)[0] == 1.0
