"""The slow trend: its covariance against summed steps, its smoother against plain cases."""

import numpy as np
import pytest

from loosehand.reach.trend import smooth_trend, wander_covariance


def summed_steps(days, slope_sd_per_day):
    """Covariance of the level on days 0 to ``days`` by writing every step down."""
    slopes = np.tril(np.ones((days + 1, days + 1)))  # slope of day d: steps 1 to d, in columns
    slopes[:, 0] = 0.0
    levels = np.zeros_like(slopes)
    for day in range(1, days + 1):
        levels[day] = levels[day - 1] + slopes[day - 1]
    return slope_sd_per_day**2 * levels @ levels.T


def test_the_covariance_is_that_of_the_summed_steps():
    """For every pair of 25 days it is what the daily steps, written down one by one, give."""
    day = np.arange(25.0)
    ours = wander_covariance(day, day, slope_sd_per_day=0.3)
    assert ours == pytest.approx(summed_steps(24, 0.3), abs=1e-9)


def test_days_may_be_missing_and_differ_on_both_sides():
    """Rows and columns of any days are those of the whole."""
    one, two = np.array([0.0, 3.0, 20.0]), np.array([1.0, 2.0, 11.0, 24.0])
    ours = wander_covariance(one, two, slope_sd_per_day=0.3)
    whole = summed_steps(24, 0.3)
    assert ours == pytest.approx(whole[np.ix_(one.astype(int), two.astype(int))], abs=1e-9)


def test_a_wandering_slope_has_the_spread_of_simulated_ones():
    """20,000 walks of 40 days have the variance at the end that the closed form says."""
    rng = np.random.default_rng(40)
    slope = np.cumsum(rng.normal(0.0, 0.05, (20000, 39)), axis=1)
    end = slope[:, :38].sum(axis=1) + slope[:, 38]
    last = np.array([40.0])
    told = wander_covariance(last, last, slope_sd_per_day=0.05)[0, 0]
    assert end.var() == pytest.approx(told, rel=0.04)


def smoothed(value, *, at_day, sd=0.5, slope_sd_per_day=0.01, level_sd=50.0):
    """Smooth values of successive days."""
    value = np.asarray(value, dtype=float)
    return smooth_trend(
        np.arange(float(value.size)),
        value,
        np.full(value.size, sd**2),
        slope_sd_per_day=slope_sd_per_day,
        level_sd=level_sd,
        slope_sd=5.0,
        at_day=np.asarray(at_day, dtype=float),
    )


def test_one_value_is_joined_with_what_was_known():
    """One value on day 0 and a start of equal spread meet halfway, with half the variance."""
    mean, sd = smoothed([10.0], at_day=[0.0], sd=2.0, level_sd=2.0)
    assert mean[0] == pytest.approx(5.0)
    assert sd[0] == pytest.approx(2.0 / np.sqrt(2.0))


def test_the_spread_grows_with_the_days_ahead():
    """Within the values the spread is less than theirs; ahead it grows day by day."""
    mean, sd = smoothed(2.0 * np.arange(30.0), at_day=[15.0, 29.0, 40.0, 60.0, 120.0])
    assert sd[0] < 0.5
    assert (np.diff(sd) > 0.0).all()
    assert mean[2] == pytest.approx(80.0, abs=1.0)


def test_a_stiff_trend_is_the_least_squares_line():
    """Where the slope cannot wander and nothing is known before, the trend is the fitted line."""
    rng = np.random.default_rng(3)
    value = 90.0 + 0.2 * np.arange(20.0) + rng.normal(0.0, 1.0, 20)
    mean, _ = smoothed(value, at_day=[0.0, 25.0], slope_sd_per_day=1e-9, level_sd=1e4)
    line = np.polyfit(np.arange(20.0), value, 1)
    assert mean == pytest.approx(np.polyval(line, [0.0, 25.0]), abs=0.02)
