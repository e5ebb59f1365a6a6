"""Published laws of practice against our writing of them."""

import math

import numpy as np
import pytest

from loosehand.reach.practice_curves import (
    exponential_practice,
    fit_practice_curve,
    power_practice,
)

NEWELL = (
    "Newell, A., Rosenbloom, P. S. (1981), Mechanisms of skill acquisition and the law of practice"
)
HEATHCOTE = (
    "Heathcote, A., Brown, S., Mewhort, D. J. K. (2000), Psychonomic Bulletin & Review 7:185-207"
)


@pytest.mark.published(
    source=NEWELL, locator="simple form T = T1 n^-a, T1 = 10, a = 0.4", kind="analytic"
)
def test_simple_power_law_of_worked_trials():
    """Ten at the first trial and a rate of 0.4 give the worked row: each doubling by 0.757858."""
    trial = np.array([1.0, 2.0, 4.0, 8.0, 16.0])
    ours = power_practice(trial, asymptote=0.0, distance=10.0, earlier=0.0, rate=0.4)
    assert ours == pytest.approx([10.0, 7.5786, 5.7435, 4.3528, 3.2988], abs=5e-5)
    assert ours[1:] / ours[:-1] == pytest.approx(0.757858, abs=5e-7)


@pytest.mark.published(
    source=NEWELL, locator="general form T = A + B (N + E)^-a, from memory", kind="from-memory"
)
def test_the_power_law_is_a_line_on_logarithms():
    """The log of what is left over the asymptote falls as a line in log (N + E), of slope -a."""
    trial = np.arange(0.0, 200.0)
    ours = power_practice(trial, asymptote=3.0, distance=7.0, earlier=25.0, rate=0.6)
    slope, constant = np.polyfit(np.log(trial + 25.0), np.log(ours - 3.0), 1)
    assert slope == pytest.approx(-0.6, abs=1e-9)
    assert math.exp(constant) == pytest.approx(7.0, rel=1e-9)


@pytest.mark.published(
    source=HEATHCOTE,
    locator="exponential: what is left to be learned falls by the same share at every trial",
    kind="analytic",
)
def test_the_exponential_learns_at_a_constant_relative_rate():
    """The exponential loses the same share of the rest at each trial; the power law ever less."""
    trial = np.arange(1.0, 60.0)
    exponential = 100.0 - exponential_practice(trial, asymptote=100.0, gain=12.0, scale=20.0)
    power = power_practice(trial, asymptote=0.0, distance=12.0, earlier=0.0, rate=0.6)
    assert np.diff(np.log(exponential)) == pytest.approx(-1.0 / 20.0, rel=1e-9)
    assert (np.diff(np.log(power), n=2) > 0.0).all()


@pytest.mark.published(
    source=HEATHCOTE,
    locator="averaging over people makes exponential learners look like a power law",
    kind="simulated",
)
def test_the_mean_of_exponential_learners_looks_like_a_power_law():
    """Of 60 planted exponential learners the exponential tells better; of their mean the power."""
    rng = np.random.default_rng(2000)
    day, sd_bpm = np.arange(0.0, 300.0, 3.0), 0.5
    variance = np.full(day.size, sd_bpm**2)
    scales = np.exp(rng.normal(math.log(40.0), 0.9, 60))
    truths = [exponential_practice(day, asymptote=100.0, gain=15.0, scale=one) for one in scales]
    lead = []
    for truth in truths:
        value = truth + rng.normal(0.0, sd_bpm, day.size)
        lead.append(_exponential_lead(day, value, variance))
    assert np.sum(lead) > 0.0
    mean = np.mean(truths, axis=0) + rng.normal(0.0, sd_bpm / math.sqrt(60.0), day.size)
    assert _exponential_lead(day, mean, variance / 60.0) < 0.0


def _exponential_lead(day, value, variance):
    """Log evidence of the exponential over the power law."""
    exponential, power = (
        fit_practice_curve(day, value, variance, curve=curve) for curve in ("exponential", "power")
    )
    return exponential.log_evidence - power.log_evidence
