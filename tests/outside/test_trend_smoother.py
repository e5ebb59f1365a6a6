"""Our smoother of the slow trend against another's state space model."""

import numpy as np
import pytest

from loosehand.reach.trend import smooth_trend

STATSMODELS = "Python package statsmodels 0.15.0, UnobservedComponents, smooth trend"
DURBIN = (
    "Durbin, J., Koopman, S. J. (2012), Time Series Analysis by State Space Methods, exact diffuse "
    "initialisation, as in Python package statsmodels 0.15.0"
)
DAYS, AHEAD = 90, 30


def chart(seed):
    """Return played days, values and variances of a chart with days left out."""
    rng = np.random.default_rng(seed)
    day = np.flatnonzero(rng.random(DAYS) < 0.6).astype(float)
    slope = 0.05 + np.cumsum(rng.normal(0.0, 0.01, DAYS))
    level = 90.0 + np.cumsum(slope)
    variance = rng.uniform(0.3, 6.0, day.size)
    return day, level[day.astype(int)] + rng.normal(0.0, np.sqrt(variance)), variance


def other_smoother(day, value, variance, *, slope_sd_per_day, start_covariance):
    """Return smoothed level and its spread by statsmodels on all days and those ahead.

    A start covariance of None is exactly diffuse.
    """
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    days = DAYS + AHEAD
    seen, noise = np.full(days, np.nan), np.ones(days)
    seen[day.astype(int)], noise[day.astype(int)] = value, variance
    model = UnobservedComponents(seen, "smooth trend")
    model.ssm["obs_cov"] = noise.reshape(1, 1, days)
    model.ssm["state_cov"] = np.array([[slope_sd_per_day**2]])
    if start_covariance is None:
        model.ssm.initialize_diffuse()
    else:
        model.ssm.initialize_known(np.zeros(2), start_covariance)
    smoothed = model.ssm.smooth()
    return smoothed.smoothed_state[0], np.sqrt(smoothed.smoothed_state_cov[0, 0])


@pytest.mark.published(
    source=STATSMODELS,
    locator="smoothed level and its variance, known start; days missing, 30 days of forecast",
    kind="reference-run",
)
@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("slope_sd_per_day", [0.0, 0.004, 0.05])
def test_the_trend_is_that_of_a_state_space_smoother(seed, slope_sd_per_day):
    """On every day of a chart with gaps, and for a month after it, level and spread are equal."""
    day, value, variance = chart(seed)
    theirs = other_smoother(
        day,
        value,
        variance,
        slope_sd_per_day=slope_sd_per_day,
        start_covariance=np.diag([200.0**2, 0.5**2]),
    )
    ours = smooth_trend(
        day,
        value,
        variance,
        slope_sd_per_day=slope_sd_per_day,
        level_sd=200.0,
        slope_sd=0.5,
        at_day=np.arange(DAYS + AHEAD, dtype=float),
    )
    assert ours[0] == pytest.approx(theirs[0], abs=1e-6)
    assert ours[1] == pytest.approx(theirs[1], abs=1e-6)


@pytest.mark.published(
    source=DURBIN, locator="smoothed level and its variance, nothing known", kind="reference-run"
)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_wide_start_is_as_good_as_a_diffuse_one(seed):
    """With a start of 1,000 bpm and 10 bpm a day nothing that is told differs from diffuse."""
    day, value, variance = chart(seed)
    theirs = other_smoother(day, value, variance, slope_sd_per_day=0.01, start_covariance=None)
    ours = smooth_trend(
        day,
        value,
        variance,
        slope_sd_per_day=0.01,
        level_sd=1000.0,
        slope_sd=10.0,
        at_day=np.arange(DAYS + AHEAD, dtype=float),
    )
    assert ours[0] == pytest.approx(theirs[0], abs=1e-3)
    assert ours[1] == pytest.approx(theirs[1], abs=1e-3)
