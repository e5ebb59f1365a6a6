"""Strokes matched to places, in order and at least cost."""

import itertools

import numpy as np
import pytest

from loosehand.judge.alignment import EXTRA_COST, MISSED_COST, NO_STROKE, match_in_order


def cost_of(stroke_place, matched):
    """Cost of a match by the words: squared deviations, missed places, strokes left over."""
    pairs = [(stroke_place[s] - p) ** 2 for p, s in enumerate(matched) if s != NO_STROKE]
    missed, extra = len(matched) - len(pairs), len(stroke_place) - len(pairs)
    return sum(pairs) + MISSED_COST * missed + EXTRA_COST * extra


def least_cost(stroke_place, places):
    """Least cost over every way to pair strokes with places in order."""
    costs = []
    for pairs in range(min(len(stroke_place), places) + 1):
        for used in itertools.combinations(range(len(stroke_place)), pairs):
            for taken in itertools.combinations(range(places), pairs):
                matched = [NO_STROKE] * places
                for place, stroke in zip(taken, used, strict=True):
                    matched[place] = stroke
                costs.append(cost_of(stroke_place, matched))
    return min(costs)


@pytest.mark.parametrize("seed", range(60))
def test_no_other_match_costs_less(seed):
    """Of every match in order, tried one by one, none is cheaper; the order is kept."""
    rng = np.random.default_rng(seed)
    places = int(rng.integers(1, 6))
    stroke_place = np.sort(rng.uniform(-1.0, places, int(rng.integers(0, 7))))
    matched = match_in_order(stroke_place, places=places)
    used = matched[matched != NO_STROKE]
    assert matched.shape == (places,)
    assert np.all(np.diff(used) > 0)
    assert cost_of(stroke_place, matched) == pytest.approx(least_cost(stroke_place, places))


def test_a_double_stroke_gives_the_nearer_one():
    """Of two strokes at one place the nearer is matched and the other is left over."""
    matched = match_in_order(np.array([0.0, 0.75, 1.02, 2.0]), places=3)
    assert matched.tolist() == [0, 2, 3]


def test_a_missed_place_moves_no_other_stroke():
    """A place without a stroke stays empty; all after it keep their own strokes."""
    matched = match_in_order(np.delete(np.arange(12.0), 5), places=12)
    assert matched.tolist() == [0, 1, 2, 3, 4, NO_STROKE, 5, 6, 7, 8, 9, 10]


@pytest.mark.parametrize("stroke_place", [[], [-1.1], [4.2], [-3.0, 9.0]])
def test_nothing_near_matches_nothing(stroke_place):
    """Without a stroke within one place of any, every place stays empty."""
    assert match_in_order(np.array(stroke_place), places=4).tolist() == [NO_STROKE] * 4


def test_no_places():
    """Strokes without places give an empty match."""
    assert match_in_order(np.arange(3.0), places=0).size == 0
