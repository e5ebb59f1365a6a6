"""Practice curves: that they find what was planted, and say how sure they are."""

import math

import numpy as np
import pytest

from loosehand.errors import BadTimes, InputError, NotIdentifiable
from loosehand.reach.practice_curves import (
    PRACTICE_CURVES,
    compare_practice_curves,
    exponential_practice,
    fit_practice_curve,
    power_practice,
)

DAY = np.arange(0.0, 360.0, 2.0)
LEVELLING = {"asymptote": 100.0, "gain": 12.0, "scale": 80.0}
SLOWING = {"asymptote": 108.0, "distance": -20.0 * 30.0**0.5, "earlier": 30.0, "rate": 0.5}


def planted(curve, *, sd_bpm, seed=1):
    """Return values of a curve with noise, and their variance."""
    truth = {
        "straight": lambda day: 88.0 + day / 30.0,
        "exponential": lambda day: exponential_practice(day, **LEVELLING),
        "power": lambda day: power_practice(day, **SLOWING),
    }[curve]
    noise = np.random.default_rng(seed).normal(0.0, sd_bpm, DAY.size)
    return truth, truth(DAY) + noise, np.full(DAY.size, sd_bpm**2)


@pytest.mark.parametrize("curve", PRACTICE_CURVES)
def test_almost_exact_values_give_the_curve_back(curve):
    """From values that are right to 0.01 bpm the curve is found, and a year ahead within 0.2."""
    truth, value, variance = planted(curve, sd_bpm=0.01)
    fit = fit_practice_curve(DAY, value, variance, curve=curve)
    for day in (0.0, 180.0, 358.0, 720.0):
        assert fit.level_bpm(day).median == pytest.approx(float(truth(np.array(day))), abs=0.2)


def test_the_exponential_finds_its_figures():
    """Asymptote 100, gain 12, scale 80 days come back from values with noise of 1 bpm."""
    _, value, variance = planted("exponential", sd_bpm=1.0)
    fit = fit_practice_curve(DAY, value, variance, curve="exponential")
    assert fit.asymptote_bpm == pytest.approx(100.0, abs=1.0)
    assert math.exp(fit.free[1]) == pytest.approx(12.0, abs=1.0)
    assert math.exp(fit.free[2]) == pytest.approx(80.0, rel=0.2)


@pytest.mark.parametrize("curve", PRACTICE_CURVES)
def test_the_interval_holds_the_truth_as_often_as_it_says(curve):
    """Of 200 charts, the 80 % interval of the last day holds the truth in 72 to 88 %."""
    held = 0
    for seed in range(200):
        truth, value, variance = planted(curve, sd_bpm=1.5, seed=seed)
        told = fit_practice_curve(DAY, value, variance, curve=curve).level_bpm(358.0)
        held += told.low80 <= float(truth(np.array(358.0))) <= told.high80
    assert 0.72 <= held / 200 <= 0.88


@pytest.mark.parametrize("curve", PRACTICE_CURVES)
def test_further_ahead_is_less_sure(curve):
    """The interval widens with the days ahead of the last that was seen."""
    _, value, variance = planted("exponential", sd_bpm=1.0)
    fit = fit_practice_curve(DAY[:30], value[:30], variance[:30], curve=curve)
    told = [fit.level_bpm(day) for day in (58.0, 120.0, 400.0)]
    widths = [one.high80 - one.low80 for one in told]
    assert widths[0] < widths[1] < widths[2]


@pytest.mark.parametrize("curve", ["straight", "exponential"])
def test_evidence_and_bic_choose_the_planted_curve(curve):
    """Over a year, a line and one that levels off are told apart both ways."""
    _, value, variance = planted(curve, sd_bpm=1.0)
    fits = compare_practice_curves(DAY, value, variance)
    assert fits[0].curve == curve
    by_bic = {fit.curve: fit.bic for fit in fits}
    other = "exponential" if curve == "straight" else "straight"
    assert by_bic[curve] < by_bic[other]


def test_values_kept_back_score_the_planted_curve_best():
    """Fitted to 240 days, the levelling curve foretells the next 120 better than the line."""
    _, value, variance = planted("exponential", sd_bpm=1.0)
    seen, later = DAY < 240.0, DAY >= 240.0
    scores = {
        curve: fit_practice_curve(DAY[seen], value[seen], variance[seen], curve=curve).log_score(
            DAY[later], value[later], variance[later]
        )
        for curve in PRACTICE_CURVES
    }
    assert scores["exponential"] > scores["straight"]


def test_the_straight_line_is_the_weighted_regression():
    """Where values say much, the line is that of weighted least squares, standard errors too."""
    _, value, variance = planted("straight", sd_bpm=0.5)
    variance = variance * np.linspace(0.5, 2.0, DAY.size)
    fit = fit_practice_curve(DAY, value, variance, curve="straight")
    design = np.stack([np.ones(DAY.size), DAY], axis=1)
    bend = design.T @ (design / variance[:, None])
    slopes = np.linalg.solve(bend, design.T @ (value / variance))
    assert fit.free == pytest.approx(slopes, rel=1e-3)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(
        np.sqrt(np.diag(np.linalg.inv(bend))), rel=1e-3
    )


def test_evidence_of_the_line_is_the_closed_form():
    """The line's evidence is the density of the values under prior and noise together."""
    day = np.array([0.0, 10.0, 20.0, 40.0])
    value, variance = np.array([90.0, 91.0, 90.5, 92.0]), np.full(4, 1.0)
    fit = fit_practice_curve(day, value, variance, curve="straight")
    design = np.stack([np.ones(4), day], axis=1)
    whole = np.diag(variance) + design @ np.diag([30.0**2, (2.5 / 30.0) ** 2]) @ design.T
    away = value - value.mean()
    by_hand = -0.5 * (
        away @ np.linalg.solve(whole, away) + np.linalg.slogdet(2.0 * np.pi * whole)[1]
    )
    assert fit.log_evidence == pytest.approx(by_hand, abs=1e-6)


def test_a_flat_chart_is_fitted_too():
    """Values that do not rise, and values that fall, give a fit near their mean, no failure."""
    day, variance = np.arange(30.0), np.full(30, 1.0)
    for slope in (0.0, -0.1):
        for curve in PRACTICE_CURVES:
            fit = fit_practice_curve(day, 90.0 + slope * day, variance, curve=curve)
            assert fit.level_bpm(15.0).median == pytest.approx(90.0 + 15.0 * slope, abs=1.0)


def test_three_days_are_enough_and_two_are_not():
    """With three days there is a fit as wide as its prior; with two there is none."""
    day, value, variance = np.array([0.0, 1.0, 2.0]), np.full(3, 90.0), np.full(3, 4.0)
    told = fit_practice_curve(day, value, variance, curve="power").level_bpm(60.0)
    assert told.high80 - told.low80 > 4.0
    with pytest.raises(NotIdentifiable, match="2 days tell of no practice curve"):
        fit_practice_curve(day[:2], value[:2], variance[:2], curve="power")


def test_what_cannot_be_fitted_is_refused():
    """An unknown curve, unlike shapes, days before the first and a variance of 0 are refused."""
    day, value, variance = np.arange(3.0), np.full(3, 90.0), np.full(3, 4.0)
    with pytest.raises(InputError, match="'logistic' is not one of"):
        fit_practice_curve(day, value, variance, curve="logistic")
    with pytest.raises(InputError, match="of one length"):
        fit_practice_curve(day, value[:2], variance, curve="power")
    with pytest.raises(BadTimes, match=r"day\[0\] = -1 is not a day"):
        fit_practice_curve(day - 1.0, value, variance, curve="power")
    with pytest.raises(InputError, match="got 0 at least"):
        fit_practice_curve(day, value, 0.0 * variance, curve="power")
