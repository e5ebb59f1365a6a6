"""Published timing models against our writing of them."""

import numpy as np
import pytest

from loosehand.errors import NotIdentifiable
from loosehand.judge.variability import open_loop_parts, steady_variance, wing_kristofferson

WING = "Wing, A. M., Kristofferson, A. B. (1973), Perception & Psychophysics 14:5-12"
DOUMAS = "Doumas, M., Wing, A. M. (2007), J. Exp. Psychol. Hum. Percept. Perform. 33(2):442-455"
VORBERG = "Vorberg, D., Wing, A. M. (1996), Modeling variability and dependence in timing"


@pytest.mark.published(
    source=WING,
    locator="two-level model: var(I) = t + 2 m, cov at lag 1 = -m",
    kind="analytic",
)
def test_open_loop_parts_of_worked_moments():
    """Variance 150 and lag-1 covariance -25 are a timekeeper of 100 and a motor part of 25."""
    assert open_loop_parts(150.0, -25.0) == pytest.approx((100.0, 25.0))


@pytest.mark.published(
    source=WING,
    locator="two-level model, timekeeper SD 10 ms and motor SD 5 ms: 150, -25, -1/6",
    kind="simulated",
)
def test_open_loop_split_of_a_long_row():
    """From 400,000 simulated intervals the split finds both planted parts within 1 %."""
    rng = np.random.default_rng(1973)
    interval_s = 0.3 + rng.normal(0.0, 0.010, 400_000) + np.diff(rng.normal(0.0, 0.005, 400_001))
    split = wing_kristofferson(interval_s, measurement_sd_s=0.0)
    assert split.timekeeper_ms.told == pytest.approx(10.0, rel=0.01)
    assert split.motor_ms.told == pytest.approx(5.0, rel=0.01)


@pytest.mark.published(
    source=DOUMAS,
    locator="abstract: lag-1 autocorrelation of intervals bounded between 0 and -.50",
    kind="printed",
)
@pytest.mark.parametrize(
    ("lag1_correlation", "told"),
    [(-0.501, False), (-0.5, True), (-0.25, True), (0.0, True), (0.001, False)],
)
def test_bounds_of_the_lag1_correlation(lag1_correlation, told):
    """The open-loop split is told inside the bounds and nowhere else."""
    if told:
        timekeeper, motor = open_loop_parts(100.0, 100.0 * lag1_correlation)
        assert timekeeper >= 0.0
        assert motor >= 0.0
        return
    with pytest.raises(NotIdentifiable):
        open_loop_parts(100.0, 100.0 * lag1_correlation)


@pytest.mark.published(
    source=VORBERG,
    locator="model, from memory; var(A) = (t + 2 a m) / (1 - (1 - a)^2), derived by us",
    kind="analytic",
)
@pytest.mark.parametrize(
    ("correction", "variance"), [(0.2, 305.5556), (0.5, 166.6667), (0.8, 145.8333)]
)
def test_variance_of_asynchrony_with_a_click_at_every_stroke(correction, variance):
    """Timekeeper SD 10 and motor SD 5 ms give the closed form's variance of asynchrony."""
    ours = steady_variance(np.array(correction), np.array(100.0), np.array(25.0), every=1, since=1)
    assert float(ours) == pytest.approx(variance, abs=5e-5)


@pytest.mark.published(
    source=VORBERG,
    locator="model, from memory; least variance at a = (-r + sqrt(r^2 + 4 r)) / 2, derived by us",
    kind="analytic",
)
def test_correction_of_least_variance():
    """With a timekeeper variance of four motor variances the best correction is 0.828427."""
    correction = np.linspace(0.8, 0.86, 60_001)
    ours = steady_variance(correction, np.array(100.0), np.array(25.0), every=1, since=1)
    assert correction[np.argmin(ours)] == pytest.approx(0.828427, abs=1e-6)


@pytest.mark.published(
    source=VORBERG,
    locator="model, from memory, the correction acting at clicks only: simulated recursion",
    kind="simulated",
)
@pytest.mark.parametrize(("every", "since"), [(1, 1), (4, 1), (4, 4), (8, 3)])
def test_variance_of_asynchrony_with_clicks_further_apart(every, since):
    """The steady variance is that of 40,000 simulated players, place by place."""
    rng = np.random.default_rng(1996)
    clock = np.zeros(40_000)
    for place in range(60 * every + since + 1):
        asynchrony = clock + rng.normal(0.0, 5.0, clock.size)
        clicked = 0.4 * asynchrony if place % every == 0 else 0.0
        clock = clock + rng.normal(0.0, 10.0, clock.size) - clicked
    ours = steady_variance(np.array(0.4), np.array(100.0), np.array(25.0), every=every, since=since)
    assert asynchrony.var() == pytest.approx(float(ours), rel=0.03)
