"""The mode of a law at given noises, and how sure it is, against slow ways to the same."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import logsumexp

from loosehand.reach.draws import level_covariance
from loosehand.reach.interval_likelihood import interval_chance
from loosehand.reach.laplace import find_mode, margins
from loosehand.reach.laws import LAWS
from loosehand.reach.margin import Noise
from loosehand.reach.prior import LAPSE_SHARE, NOBODY_KNOWN
from tests.reach.ladder_hands import a_player, a_round, a_start, a_task, ladders

NOISE = Noise(0.8, 0.2)
FORM_BPM = 1.5


def mode_of(task, *, minute_bpm=93.0, noise=NOISE, form_bpm=FORM_BPM):
    """Return the mode, from a first guess."""
    start = a_start(task, minute_bpm=minute_bpm)
    return find_mode(
        task, noise=noise, form_bpm=form_bpm, day_bpm=start.day_bpm, log_shape=start.log_shape
    )


def log_joint(task, day_bpm, log_shape, *, noise=NOISE, form_bpm=FORM_BPM):
    """Log of likelihood times prior, constants and all, from the plain densities."""
    data, prior = task.data, NOBODY_KNOWN
    minute_bpm = day_bpm[data.day_index]
    low, high = margins(task, noise, minute_bpm=minute_bpm, log_shape=log_shape)
    chance = interval_chance(low.z, high.z, lapse_share=LAPSE_SHARE, lapse_chance=data.lapse_chance)
    covariance = level_covariance(data.days, data.days, prior=prior)
    covariance += form_bpm**2 * np.eye(len(data.days))
    off = day_bpm - prior.minute_bpm
    stretched = (log_shape - task.shape.mean) / task.shape.sd
    constants = (len(off) + len(log_shape)) * np.log(2.0 * np.pi) + 2.0 * np.log(
        task.shape.sd
    ).sum()
    squares = off @ np.linalg.solve(covariance, off) + stretched @ stretched
    return chance.log_chance.sum() - 0.5 * (squares + constants + np.linalg.slogdet(covariance)[1])


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("seed", [1, 2])
def test_the_mode_is_the_maximum_that_another_way_finds(law, seed):
    """A general optimizer on the plain joint density ends at the same days and shape."""
    task = a_task(ladders(a_player(law), 4, seed=seed), law)
    mode = mode_of(task)
    days = len(task.data.days)

    def cost(values):
        return -log_joint(task, values[:days], values[days:])

    found = minimize(cost, np.r_[np.full(days, 95.0), task.shape.mean], method="BFGS", tol=1e-6)
    ours = -cost(np.r_[mode.day_bpm, mode.log_shape])
    assert ours == pytest.approx(-found.fun, abs=0.005)
    assert mode.day_bpm == pytest.approx(found.x[:days], abs=0.1)
    assert mode.log_shape == pytest.approx(found.x[days:], abs=0.1)


@pytest.mark.parametrize("law", LAWS)
def test_the_mode_does_not_hang_on_where_the_climb_begins(law):
    """From 40 under and from 40 over it ends in the same place."""
    task = a_task(ladders(a_player(law), 6, seed=3), law)
    low, high = mode_of(task, minute_bpm=55.0), mode_of(task, minute_bpm=135.0)
    assert low.log_evidence == pytest.approx(high.log_evidence, abs=0.02)
    assert low.day_bpm == pytest.approx(high.day_bpm, abs=0.15)


@pytest.mark.parametrize("law", ["hyperbolic", "log-linear"])
@pytest.mark.parametrize("seed", [4, 5, 6])
def test_the_log_evidence_is_that_of_quadrature(law, seed):
    """One day, one shape: the double integral over a fine grid, within 0.15 of log chance."""
    task = a_task(ladders(a_player(law), 1, seed=seed), law)
    mode = mode_of(task)
    day_bpm = mode.day_bpm[0] + np.linspace(-20.0, 20.0, 81)
    log_shape = np.linspace(-2.5, 3.5, 41)
    heights = np.array(
        [
            [log_joint(task, np.array([day]), np.array([one])) for one in log_shape]
            for day in day_bpm
        ]
    )
    cell = np.log((day_bpm[1] - day_bpm[0]) * (log_shape[1] - log_shape[0]))
    assert mode.log_evidence == pytest.approx(logsumexp(heights) + cell, abs=0.15)


@pytest.mark.parametrize("law", LAWS)
def test_the_curvature_is_that_of_the_density(law):
    """Without its constants, the density bends by day as precision plus weight say."""
    task = a_task(ladders(a_player(law), 3, seed=7), law)
    mode = mode_of(task)
    told = np.diag(mode.precision) + mode.weight
    step, bends = 0.05, []
    for place in range(len(mode.day_bpm)):
        off = step * np.eye(len(mode.day_bpm))[place]
        up, at, down = (
            log_joint(task, mode.day_bpm + sign * off, mode.log_shape) for sign in (1, 0, -1)
        )
        bends.append((2.0 * at - up - down) / step**2)
    assert told == pytest.approx(bends, rel=0.2)


def test_the_slope_is_nought_at_the_mode():
    """The pull of the rounds and that of the prior balance on every day."""
    task = a_task(ladders(a_player(), 5, seed=8), "hyperbolic")
    mode = mode_of(task)
    left = mode.pull - mode.precision @ (mode.day_bpm - task.minute_bpm)
    assert np.abs(left / (np.diag(mode.precision) + mode.weight)).max() < 0.05


def test_noisier_rounds_tell_less():
    """With four times the noise from round to round the weight of every day is less."""
    task = a_task(ladders(a_player(), 5, seed=8), "hyperbolic")
    sharp, dull = mode_of(task), mode_of(task, noise=Noise(3.2, 0.8))
    assert (dull.weight < sharp.weight).all()


@pytest.mark.parametrize("law", LAWS)
def test_charts_of_one_kind_of_round_have_a_mode(law):
    """All held to the end, or none: the mode is finite, above or below what was believed."""
    believed = NOBODY_KNOWN.minute_bpm
    held = [a_round(day, tempo_bpm=100.0, held=100, on=True) for day in range(4)]
    mode = mode_of(a_task(held, law), minute_bpm=102.0)
    assert np.isfinite(mode.log_evidence)
    assert (mode.day_bpm > believed + 5.0).all()
    lost = [a_round(day, tempo_bpm=85.0, held=10) for day in range(4)]
    mode = mode_of(a_task(lost, law), minute_bpm=75.0)
    assert np.isfinite(mode.log_evidence)
    assert (mode.day_bpm < believed - 5.0).all()


def test_by_round_margins_are_those_at_both_bounds():
    """Lower bounds are outlasted by more than upper ones; no upper bound is -inf."""
    task = a_task(ladders(a_player(), 2, seed=9), "hyperbolic")
    low, high = margins(
        task,
        NOISE,
        minute_bpm=np.full(len(task.low_s), 95.0),
        log_shape=task.shape.mean,
    )
    assert (low.z > high.z).all()
    assert np.array_equal(np.isneginf(high.z), np.isinf(task.high_s))
