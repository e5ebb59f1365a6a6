"""The chance of an interval, its slopes and its bends."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import log_ndtr
from scipy.stats import norm

from loosehand.reach.interval_likelihood import interval_chance

INF = np.inf
STEP = 1e-4


def chance_of(z_low, z_high, *, lapse_share=0.02, lapse_chance=0.01):
    """Return the chance of intervals, all with one chance in a lapse."""
    low, high = np.atleast_1d(np.asarray(z_low, float)), np.atleast_1d(np.asarray(z_high, float))
    return interval_chance(
        low, high, lapse_share=lapse_share, lapse_chance=np.full(low.shape, lapse_chance)
    )


@pytest.mark.parametrize(("low", "high"), [(1.0, -0.5), (0.3, 0.2), (INF, 1.2), (-0.7, -INF)])
def test_the_chance_is_the_area_between_the_margins(low, high):
    """It is Phi(low) - Phi(high), and with lapses the two chances by their shares."""
    area = norm.cdf(low) - norm.cdf(high)
    assert np.exp(chance_of(low, high, lapse_share=0.0).log_chance[0]) == pytest.approx(area)
    mixed = np.exp(chance_of(low, high, lapse_share=0.1, lapse_chance=0.3).log_chance[0])
    assert mixed == pytest.approx(0.9 * area + 0.1 * 0.3)


def test_the_intervals_of_a_round_sum_to_one():
    """The chances of every count held, and of holding on, sum to 1, lapses among them."""
    falling = np.linspace(2.5, -3.0, 24)
    low = np.array([INF, *falling])
    high = np.array([*falling, -INF])
    found = chance_of(low, high, lapse_share=0.2, lapse_chance=1.0 / 25.0)
    assert np.exp(found.log_chance).sum() == pytest.approx(1.0)


@pytest.mark.parametrize("z", [-3.0, -12.0, -30.0])
def test_far_tails_keep_their_digits(z):
    """Far out on either side the log chance is that of the normal tail, not of rounding."""
    still_on = chance_of(z, -INF, lapse_share=0.0).log_chance[0]
    not_a_count = chance_of(INF, -z, lapse_share=0.0).log_chance[0]
    assert still_on == pytest.approx(log_ndtr(z), rel=1e-9)
    assert not_a_count == pytest.approx(log_ndtr(z), rel=1e-9)
    left, right = chance_of(z, z - 0.5), chance_of(0.5 - z, -z)
    assert left.log_chance[0] == pytest.approx(right.log_chance[0], rel=1e-12)


@pytest.mark.parametrize("lapse_share", [0.0, 0.02])
@pytest.mark.parametrize(
    ("low", "high"), [(1.0, -0.5), (0.31, 0.3), (3.5, 2.9), (-2.0, -2.4), (0.4, -INF), (INF, 0.6)]
)
def test_the_slopes_are_those_of_finite_differences(low, high, lapse_share):
    """Moving either margin a little changes the log chance as the slopes say."""

    def moved(at_low, at_high):
        return chance_of(low + at_low, high + at_high, lapse_share=lapse_share).log_chance[0]

    found = chance_of(low, high, lapse_share=lapse_share)
    by_low = (moved(STEP, 0.0) - moved(-STEP, 0.0)) / (2 * STEP)
    by_high = (moved(0.0, STEP) - moved(0.0, -STEP)) / (2 * STEP)
    assert found.by_low[0] == pytest.approx(by_low, rel=2e-3, abs=1e-6)
    assert found.by_high[0] == pytest.approx(by_high, rel=2e-3, abs=1e-6)


@pytest.mark.parametrize(
    ("low", "high"), [(1.0, -0.5), (0.8, 0.3), (3.5, 2.9), (-2.0, -2.4), (0.4, -INF), (INF, 0.6)]
)
def test_without_lapses_the_bends_are_minus_the_second_derivatives(low, high):
    """The slopes of the slopes, by finite differences, are minus the three bends."""

    def slopes(at_low, at_high):
        found = chance_of(low + at_low, high + at_high, lapse_share=0.0)
        return np.array([found.by_low[0], found.by_high[0]])

    found = chance_of(low, high, lapse_share=0.0)
    along_low = (slopes(STEP, 0.0) - slopes(-STEP, 0.0)) / (2 * STEP)
    along_high = (slopes(0.0, STEP) - slopes(0.0, -STEP)) / (2 * STEP)
    assert found.bend_low[0] == pytest.approx(-along_low[0], rel=1e-4, abs=1e-6)
    assert found.bend_high[0] == pytest.approx(-along_high[1], rel=1e-4, abs=1e-6)
    assert found.bend_both[0] == pytest.approx(-along_low[1], rel=1e-4, abs=1e-6)


margins = st.floats(-45.0, 45.0) | st.sampled_from([INF, -INF])


@given(one=margins, two=margins, lapse_chance=st.floats(0.005, 1.0))
def test_nothing_is_ever_no_number_and_no_bend_turns(one, two, lapse_chance):
    """However far out: no NaN, a log chance of at most 0, bends that are never indefinite."""
    low, high = max(one, two), min(one, two)
    if low - high < 1e-3 or np.isnan(low - high):
        return
    found = chance_of(low, high, lapse_chance=lapse_chance)
    for values in vars(found).values():
        assert np.isfinite(values).all()
    assert found.log_chance[0] <= 1e-12
    bends = np.array(
        [[found.bend_low[0], found.bend_both[0]], [found.bend_both[0], found.bend_high[0]]]
    )
    least = np.linalg.eigvalsh(bends)[0]
    assert least >= -1e-6 * max(1.0, np.abs(bends).max())


def test_a_lapse_keeps_a_surprise_finite():
    """A hold on far over what can be held is explained by the share of lapses, and pulls little."""
    found = chance_of(-30.0, -INF, lapse_share=0.02, lapse_chance=0.5)
    assert found.log_chance[0] == pytest.approx(np.log(0.01))
    assert abs(found.by_low[0]) < 1e-6
