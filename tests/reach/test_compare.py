"""Hands held side by side: gaps and crossings of curves that are known."""

import numpy as np
import pytest

from loosehand.errors import InputError
from loosehand.reach.compare import chance_faster, crossover, crossover_bpm, gap_bpm
from loosehand.reach.laws import Curve
from tests.reach.known_reach import DRAWS, FLAT, a_reach

STEEP = Curve("hyperbolic", 98.0, 10.0)


def test_the_gap_of_known_curves_is_their_difference():
    """At 60 and 240 s the gap is what the curves say, today and not on another day."""
    for time_s in (60.0, 240.0):
        gap = gap_bpm(a_reach(FLAT), a_reach(STEEP), time_s)
        expected = float(FLAT.tempo_bpm(time_s) - STEEP.tempo_bpm(time_s))
        assert (gap.low80, gap.median, gap.high80) == pytest.approx((expected,) * 3)


def test_draws_of_both_are_independent():
    """Equal draws do not cancel: the spread of the gap is that of both, root two of one."""
    one = a_reach(FLAT, sd_bpm=2.0)
    gap = gap_bpm(one, a_reach(FLAT, sd_bpm=2.0, hand="right"), 60.0)
    assert gap.median == pytest.approx(0.0, abs=0.25)
    assert gap.high80 - gap.low80 == pytest.approx(2 * 1.2816 * 2.0 * np.sqrt(2.0), rel=0.08)


def test_as_many_draws_are_not_needed():
    """A hand known from the prior alone, with more draws, is compared all the same."""
    gap = gap_bpm(a_reach(FLAT, draws=333), a_reach(STEEP, draws=4000), 60.0)
    assert gap.median == pytest.approx(2.0)


def test_the_gap_is_in_counts_of_the_hands_own_grid():
    """At eight places a count the same strokes are half the counts."""
    gap = gap_bpm(a_reach(FLAT, places=8), a_reach(STEEP, places=8, hand="right"), 60.0)
    assert gap.median == pytest.approx(1.0)


def test_different_counts_are_not_compared():
    """Tempos of different strokes a count are no gap; one sentence says so."""
    with pytest.raises(InputError, match="cannot be compared by tempo"):
        gap_bpm(a_reach(FLAT), a_reach(FLAT, places=3), 60.0)
    with pytest.raises(InputError, match="cannot be compared by tempo"):
        crossover(a_reach(FLAT), a_reach(FLAT, hand="alternating"))


def test_a_time_that_is_none_is_refused():
    """No gap is told for a time of nought."""
    with pytest.raises(InputError, match=r"want 0\.5 to 14400"):
        gap_bpm(a_reach(FLAT), a_reach(STEEP), 0.0)


def test_curves_cross_where_they_are_equal():
    """The crossing of a steep and a flat curve is where both give one tempo for one time."""
    times = np.geomspace(1.0, 3600.0, 200_001)
    gap = STEEP.tempo_bpm(times) - FLAT.tempo_bpm(times)
    at = int(np.argmin(np.abs(gap)))
    found = crossover(a_reach(STEEP), a_reach(FLAT))
    assert found.chance == 1.0
    assert found.tempo_bpm is not None
    assert found.tempo_bpm.median == pytest.approx(float(FLAT.tempo_bpm(times[at])), abs=0.1)
    assert found.one_above == 1.0
    assert found.one_throughout == 0.0
    assert crossover_bpm(a_reach(STEEP), a_reach(FLAT)) == found.tempo_bpm


def test_the_other_way_round_the_other_is_longer_above():
    """Asked from the flat one's side the crossing is the same, and it is not the longer above."""
    found = crossover(a_reach(FLAT), a_reach(STEEP))
    assert found.one_above == 0.0
    there = crossover_bpm(a_reach(STEEP), a_reach(FLAT))
    assert there is not None
    assert found.tempo_bpm is not None
    assert found.tempo_bpm.median == pytest.approx(there.median)


def test_curves_side_by_side_do_not_cross():
    """Where one lies above throughout there is no crossing, and it is said to be longer."""
    higher = Curve("log-linear", 110.0, 1.0)
    found = crossover(a_reach(higher), a_reach(FLAT))
    assert (found.chance, found.tempo_bpm, found.one_throughout) == (0.0, None, 1.0)
    assert crossover(a_reach(FLAT), a_reach(higher)).one_throughout == 0.0
    assert crossover_bpm(a_reach(FLAT), a_reach(higher)) is None


def test_a_crossing_outside_the_tempos_looked_at_is_none():
    """Curves that cross at 30 counts a minute are said not to cross."""
    slow, slower = Curve("log-linear", 30.0, 1.0), Curve("log-linear", 30.0, 2.0)
    assert crossover(a_reach(slow), a_reach(slower)).chance == 0.0


def test_half_the_draws_crossing_is_a_chance_of_one_half():
    """Where every other draw lies far above, the chance is a half, and the rest is longer."""
    levels = np.where(np.arange(DRAWS) % 2, FLAT.minute_bpm + 200.0, FLAT.minute_bpm)
    found = crossover(a_reach(FLAT, levels=levels), a_reach(STEEP))
    assert found.chance == pytest.approx(0.5, abs=0.02)
    assert found.one_throughout == pytest.approx(0.5, abs=0.02)


def test_the_chance_of_being_faster_is_the_share_of_pairs():
    """Equal hands are even; one that lies two spreads of the difference above nearly always is."""
    one, other = a_reach(FLAT, sd_bpm=1.0), a_reach(FLAT, sd_bpm=1.0, hand="right")
    assert chance_faster(one, other, 60.0) == pytest.approx(0.5, abs=0.04)
    above = a_reach(Curve("log-linear", 100.0 + 2.0 * np.sqrt(2.0), 1.0), sd_bpm=1.0)
    assert chance_faster(above, other, 60.0) == pytest.approx(0.977, abs=0.012)
