"""Draws of the posterior and of the prior, against the normal laws that they are drawn from."""

import numpy as np
import pytest

from loosehand.reach.draws import draw_posterior, draw_prior, level_covariance
from loosehand.reach.laws import LAWS
from loosehand.reach.noises import fit_law
from loosehand.reach.prior import NOBODY_KNOWN, log_steepness
from tests.reach.ladder_hands import a_player, a_start, a_task, ladders

GRID = np.array([-28.0, -7.0, 0.0, 14.0, 112.0])
PRIOR = NOBODY_KNOWN


def fitted(law="hyperbolic", *, days=8, seed=1):
    """Return a law's fit."""
    task = a_task(ladders(a_player(law), days, seed=seed), law)
    return fit_law(task, prior=PRIOR, start=a_start(task), known=None)


def drawn(fits, *, as_of_day=28.0, draws=20000, grid=GRID):
    """Draw from fits."""
    return draw_posterior(fits, prior=PRIOR, grid_day=grid, as_of_day=as_of_day, draws=draws)


def levels_by_algebra(fit, point, at):
    """Mean and covariance of the levels at a point, from the joint precision of days and shape."""
    mode, days = point.mode, fit.task.data.days
    size = len(days)
    joint = np.block(
        [[mode.precision + np.diag(mode.weight), mode.cross], [mode.cross.T, mode.shape_precision]]
    )
    of_days = np.linalg.inv(joint)[:size, :size]
    trend = level_covariance(days, days, prior=PRIOR)
    across = level_covariance(at, days, prior=PRIOR)
    gain = across @ np.linalg.inv(trend + point.form_bpm**2 * np.eye(size))
    left = level_covariance(at, at, prior=PRIOR) - gain @ across.T
    mean = PRIOR.minute_bpm + gain @ (mode.day_bpm - PRIOR.minute_bpm)
    return mean, left + gain @ of_days @ gain.T


@pytest.mark.parametrize("law", LAWS)
def test_the_levels_are_those_of_the_normal_law(law):
    """Means and covariances of 20,000 draws are those of a mixture worked out by algebra."""
    fit = fitted(law)
    found = drawn([(fit, 1.0)])
    at = 28.0 + GRID
    parts = [(point.weight, *levels_by_algebra(fit, point, at)) for point in fit.points]
    mean = sum(weight * one for weight, one, _ in parts)
    covariance = sum(
        weight * (spread + np.outer(one - mean, one - mean)) for weight, one, spread in parts
    )
    sd = np.sqrt(np.diag(covariance))
    assert found.level_bpm.mean(axis=0) == pytest.approx(mean, abs=0.04 * sd.max())
    assert np.cov(found.level_bpm.T) == pytest.approx(
        covariance, abs=0.04 * float(np.outer(sd, sd).max())
    )
    assert found.level_bpm[:, 2].std() == pytest.approx(sd[2], rel=0.03)


def test_the_shape_is_drawn_from_its_own_law():
    """Mean and spread of the log of the steepness are those of the joint precision."""
    fit = fitted(days=8)
    found = drawn([(fit, 1.0)])
    means, variances = [], []
    for point in fit.points:
        mode = point.mode
        joint = np.block(
            [
                [mode.precision + np.diag(mode.weight), mode.cross],
                [mode.cross.T, mode.shape_precision],
            ]
        )
        means.append(mode.log_shape[0])
        variances.append(np.linalg.inv(joint)[-1, -1])
    weights = np.array([point.weight for point in fit.points])
    mean = weights @ means
    variance = weights @ (np.array(variances) + (np.array(means) - mean) ** 2)
    assert np.log(found.steepness_bpm).mean() == pytest.approx(mean, abs=0.01)
    assert np.log(found.steepness_bpm).std() == pytest.approx(np.sqrt(variance), rel=0.04)


def test_today_on_the_last_day_knows_its_form():
    """On the last day played the day's own tempo is surer than on another; later it is not."""
    fit = fitted()
    last = float(fit.task.data.days[-1])
    grid = np.array([-28.0, 0.0, 14.0])
    played, later = (drawn([(fit, 1.0)], as_of_day=day, grid=grid) for day in (last, last + 1.0))
    mode = fit.points[0].mode
    assert played.today_bpm.mean() == pytest.approx(mode.day_bpm[-1], abs=0.5)
    assert played.today_bpm.std() < 0.8 * later.today_bpm.std()
    assert later.today_bpm.std() > later.level_bpm[:, 1].std()


def test_laws_are_drawn_as_their_weights_say():
    """A quarter and three quarters of the draws, and points of the noises by their weights."""
    rounds = ladders(a_player(), 6, seed=2)
    fits = []
    for law in ("hyperbolic", "top rate"):
        task = a_task(rounds, law)
        fits.append(fit_law(task, prior=PRIOR, start=a_start(task), known=None))
    found = drawn([(fits[0], 0.25), (fits[1], 0.75)], draws=8000)
    assert len(found.law) == 8000
    assert np.bincount(found.law, minlength=3).tolist() == pytest.approx([2000, 6000, 0], abs=10)
    assert (found.top_s[found.law == 0] == 0.0).all()
    assert (found.top_s[found.law == 1] > 0.0).all()
    first = fits[0].points[0]
    share = (found.form_bpm[found.law == 0] == first.form_bpm).mean()
    assert share == pytest.approx(first.weight, abs=0.01)


def test_the_spread_grows_ahead():
    """Four months ahead the level is less sure than in two weeks, and that than today."""
    found = drawn([(fitted(days=12), 1.0)], as_of_day=11.0)
    spread = found.level_bpm.std(axis=0)
    assert spread[2] < spread[3] < spread[4]


def test_the_same_fit_gives_the_same_draws():
    """Drawn twice, every array is the same bit for bit."""
    fit = fitted(days=4)
    one, two = drawn([(fit, 1.0)], draws=500), drawn([(fit, 1.0)], draws=500)
    for name, value in vars(one).items():
        assert np.array_equal(value, getattr(two, name)), name


def test_draws_of_the_prior_have_its_means_and_spreads():
    """Levels, logs of steepness and of the spreads have the means and spreads that are stated."""
    found = draw_prior(prior=PRIOR, grid_day=GRID, draws=30000)
    assert found.level_bpm[:, 0].mean() == pytest.approx(PRIOR.minute_bpm, abs=0.3)
    since = GRID - GRID.min()
    told = level_covariance(since, since, prior=PRIOR)
    assert np.cov(found.level_bpm.T) == pytest.approx(told, rel=0.04)
    assert np.bincount(found.law).tolist() == [10000] * 3
    for place, law in enumerate(LAWS):
        logs = np.log(found.steepness_bpm[found.law == place])
        assert logs.mean() == pytest.approx(log_steepness(law, PRIOR), abs=0.02)
        assert logs.std() == pytest.approx(PRIOR.log_drop_sd, rel=0.03)
    for name, mean, sd in (
        ("form_bpm", PRIOR.log_form_bpm, PRIOR.log_form_sd),
        ("tempo_noise_bpm", PRIOR.log_tempo_noise_bpm, PRIOR.log_tempo_noise_sd),
        ("time_noise", PRIOR.log_time_noise, PRIOR.log_time_noise_sd),
    ):
        logs = np.log(getattr(found, name))
        assert logs.mean() == pytest.approx(mean, abs=0.02), name
        assert logs.std() == pytest.approx(sd, rel=0.03), name


def test_the_trend_of_the_prior_is_start_slope_and_wandering():
    """On the first day only the start is open; a month on, the gain adds its stated spread."""
    day = np.array([0.0, 30.0])
    told = level_covariance(day, day, prior=PRIOR)
    start = PRIOR.minute_sd_bpm**2
    assert told[0] == pytest.approx([start, start])
    wander = PRIOR.slope_step_sd_bpm**2 * sum(step**2 for step in range(1, 30))
    assert told[1, 1] == pytest.approx(start + PRIOR.gain_sd_bpm**2 + wander)
