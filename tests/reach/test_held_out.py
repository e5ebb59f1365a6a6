"""How a day is foretold from the others, against leaving it out in earnest."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import norm

from loosehand.reach.held_out import held_out_scores
from loosehand.reach.interval_likelihood import interval_chance
from loosehand.reach.laplace import find_mode, margins
from loosehand.reach.laws import LAWS
from loosehand.reach.noises import fit_law
from loosehand.reach.prior import LAPSE_SHARE, NOBODY_KNOWN
from tests.reach.ladder_hands import a_player, a_start, a_task, ladders


def fitted(rounds, law):
    """Return task and top point of a fit."""
    task = a_task(rounds, law)
    fit = fit_law(task, prior=NOBODY_KNOWN, start=a_start(task), known=None)
    return task, fit.points[0]


def left_out_in_earnest(task, point, day):
    """Score a day from a fit without its rounds, its form integrated over on a fine grid."""
    others = task.data.day_index != day
    names = ("tempo_bpm", "low_s", "high_s", "lapse_chance", "day_index", "own")
    data = replace(task.data, **{name: getattr(task.data, name)[others] for name in names})
    without = replace(task, data=data, low_s=task.low_s[others], high_s=task.high_s[others])
    mode = find_mode(
        without,
        noise=point.noise,
        form_bpm=point.form_bpm,
        day_bpm=point.mode.day_bpm,
        log_shape=point.mode.log_shape,
    )
    sd = np.sqrt(np.linalg.inv(mode.precision + np.diag(mode.weight))[day, day])
    grid = mode.day_bpm[day] + sd * np.linspace(-7.0, 7.0, 281)
    heights = []
    for minute in grid:
        bpm = np.full(len(task.low_s), minute)
        low, high = margins(task, point.noise, minute_bpm=bpm, log_shape=point.mode.log_shape)
        found = interval_chance(
            low.z, high.z, lapse_share=LAPSE_SHARE, lapse_chance=task.data.lapse_chance
        )
        heights.append(found.log_chance[~others].sum())
    weights = norm.logpdf(grid, mode.day_bpm[day], sd)
    return logsumexp(np.array(heights) + weights) + np.log(grid[1] - grid[0])


@pytest.mark.parametrize("law", LAWS)
def test_the_scores_are_those_of_leaving_days_out(law):
    """On each of ten days the score is that of a fit without it, within 0.6; on all, within 0.2."""
    task, point = fitted(ladders(a_player(law), 10, seed=1), law)
    scores = held_out_scores(task, point)
    earnest = np.array([left_out_in_earnest(task, point, day) for day in range(10)])
    assert scores == pytest.approx(earnest, abs=0.6)
    assert scores.mean() == pytest.approx(earnest.mean(), abs=0.2)


def test_an_odd_day_is_foretold_worse():
    """A day on which every tempo was lost much sooner has the lowest score of all."""
    rounds = ladders(a_player(day_form_bpm=0.5), 12, seed=2)
    odd = [
        replace(each, count_held=each.count_held // 4, held_on=False)
        if each.day == rounds[-1].day
        else each
        for each in rounds
    ]
    task, point = fitted(odd, "hyperbolic")
    scores = held_out_scores(task, point)
    assert scores.argmin() == 11
    assert scores[-1] < scores[:-1].mean() - 5.0


def test_the_right_law_foretells_better():
    """Over a month of ladders the law that was played has the better mean score."""
    rounds = ladders(a_player("hyperbolic", short_lead_bpm=10.0), 30, seed=3)
    right, wrong = (held_out_scores(*fitted(rounds, law)) for law in ("hyperbolic", "log-linear"))
    assert right.mean() > wrong.mean()


def test_one_day_alone_has_a_finite_score():
    """With no other day the day is told from the prior, worse than with nine others."""
    rounds = ladders(a_player(), 10, seed=4)
    alone = [each for each in rounds if each.day == rounds[-1].day]
    (score,) = held_out_scores(*fitted(alone, "hyperbolic"))
    assert np.isfinite(score)
    assert score < held_out_scores(*fitted(rounds, "hyperbolic"))[-1]
