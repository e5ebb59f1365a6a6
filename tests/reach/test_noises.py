"""The integral over what is not known of the noises, against a fine grid."""

from itertools import product

import numpy as np
import pytest
from scipy.special import logsumexp

from loosehand.reach.laplace import find_mode
from loosehand.reach.margin import Noise
from loosehand.reach.noises import fit_law, fit_law_at
from loosehand.reach.prior import NOBODY_KNOWN
from tests.reach.ladder_hands import a_player, a_start, a_task, ladders

PRIOR = NOBODY_KNOWN
MEAN = np.array([PRIOR.log_form_bpm, PRIOR.log_tempo_noise_bpm, PRIOR.log_time_noise])
SD = np.array([PRIOR.log_form_sd, PRIOR.log_tempo_noise_sd, PRIOR.log_time_noise_sd])
OF_THE_DESIGN = np.log(1.3**2 / (1.3**2 - 1.0))
"""The constant that nine points, eight of them at 1.3 spreads a side, add to every evidence."""


def fit_of(task, **options):
    """Fit a law from the usual start."""
    return fit_law(task, prior=PRIOR, start=a_start(task), **({"known": None} | options))


def on_a_grid(task, fit, *, half=5, step=0.36):
    """Return places and heights (log evidence times prior) on a grid about the top of a fit."""
    steps = step * np.arange(-half, half + 1)
    places = fit.log_spreads + np.array(list(product(steps, repeat=3)))
    mode = fit.points[0].mode
    heights = []
    for place in places:
        form_bpm, tempo_bpm, time_share = np.exp(place)
        found = find_mode(
            task,
            noise=Noise(tempo_bpm, time_share),
            form_bpm=form_bpm,
            day_bpm=mode.day_bpm,
            log_shape=mode.log_shape,
        )
        heights.append(found.log_evidence - 0.5 * (((place - MEAN) / SD) ** 2).sum())
    return places, np.array(heights), 3.0 * np.log(step)


@pytest.mark.parametrize(("law", "seed"), [("hyperbolic", 1), ("log-linear", 2)])
def test_nine_points_stand_for_the_whole(law, seed):
    """Evidence within 0.2 of a grid of 1331 points; means of the spreads within a third."""
    task = a_task(ladders(a_player(law), 10, seed=seed), law)
    fit = fit_of(task)
    places, heights, log_cell = on_a_grid(task, fit)
    shares = np.exp(heights - logsumexp(heights))
    whole = logsumexp(heights) + log_cell - 1.5 * np.log(2.0 * np.pi)
    assert fit.log_evidence - OF_THE_DESIGN == pytest.approx(whole, abs=0.2)
    mean = shares @ places
    sd = np.sqrt(shares @ (places - mean) ** 2)
    weights = np.array([point.weight for point in fit.points])
    own_mean = weights @ fit.places
    own_sd = np.sqrt(weights @ (fit.places - own_mean) ** 2)
    assert np.abs(own_mean - mean).max() < 0.33
    assert own_sd == pytest.approx(sd, rel=0.35)


def test_the_first_point_is_the_top():
    """No grid point stands much higher than the first, and it is where the places begin."""
    task = a_task(ladders(a_player(), 10, seed=3), "hyperbolic")
    fit = fit_of(task)
    _, heights, _ = on_a_grid(task, fit, half=2, step=0.25)
    assert fit.top_height > heights.max() - 0.3
    assert np.log(fit.points[0].form_bpm) == pytest.approx(fit.log_spreads[0])
    assert np.log(fit.points[0].noise.tempo_bpm) == pytest.approx(fit.log_spreads[1])
    assert np.log(fit.points[0].noise.time_share) == pytest.approx(fit.log_spreads[2])


def test_the_weights_sum_to_one():
    """Nine points, all with a weight, that sum to 1."""
    fit = fit_of(a_task(ladders(a_player(), 6, seed=4), "hyperbolic"))
    weights = [point.weight for point in fit.points]
    assert len(weights) == 9
    assert min(weights) > 0.0
    assert sum(weights) == pytest.approx(1.0)


def test_the_noises_that_were_played_are_found():
    """Of a month of ladders each spread is found within a factor of 1.7."""
    player = a_player(day_form_bpm=3.0, tempo_noise_bpm=0.7, time_noise=0.3)
    fit = fit_of(a_task(ladders(player, 40, seed=5), "hyperbolic"))
    weights = np.array([point.weight for point in fit.points])
    mean = weights @ fit.places
    assert np.abs(mean - np.log([3.0, 0.7, 0.3])).max() < np.log(1.7)


def test_a_law_from_anothers_top_ends_where_it_does_alone():
    """Begun at the noises of another law, evidence and spreads are those of a climb from afar."""
    rounds = ladders(a_player("hyperbolic"), 15, seed=6)
    other = fit_of(a_task(rounds, "hyperbolic"))
    task = a_task(rounds, "log-linear")
    alone, led = fit_of(task), fit_of(task, known=other)
    if len(led.points) == 9:
        assert led.log_evidence == pytest.approx(alone.log_evidence, abs=0.3)
    assert np.abs(led.log_spreads - alone.log_spreads).max() < 0.5


def test_a_hopeless_law_keeps_its_top_alone():
    """A law far under another, by 12 in log chance, has a single point of weight 1."""
    rounds = ladders(a_player("hyperbolic", short_lead_bpm=12.0), 60, seed=7)
    good = fit_of(a_task(rounds, "hyperbolic"))
    bad = fit_of(a_task(rounds, "log-linear"), known=good)
    assert bad.top_height < good.top_height - 12.0
    assert [point.weight for point in bad.points] == [1.0]


def fit_and_again(*, top_alone):
    """A fit, and the fit at the places that it found."""
    task = a_task(ladders(a_player(), 8, seed=8), "hyperbolic")
    fit = fit_of(task)
    again = fit_law_at(
        task,
        prior=PRIOR,
        start=a_start(task),
        places=fit.places,
        log_widths=fit.log_widths,
        top_alone=top_alone,
    )
    return fit, again


def test_known_places_give_the_same_fit():
    """At the places where a law was found its evidence and weights are the same again."""
    fit, again = fit_and_again(top_alone=False)
    assert again.log_evidence == pytest.approx(fit.log_evidence, abs=0.03)
    for one, two in zip(fit.points, again.points, strict=True):
        assert one.weight == pytest.approx(two.weight, abs=0.02)
        assert one.mode.day_bpm == pytest.approx(two.mode.day_bpm, abs=0.1)


def test_the_top_alone_keeps_its_places():
    """A law that hardly counts is fitted at one point, and its places are kept for later."""
    fit, again = fit_and_again(top_alone=True)
    assert [point.weight for point in again.points] == [1.0]
    assert again.places is fit.places
