"""All laws fitted to a hand's rounds, and weighed."""

from itertools import pairwise

import numpy as np
import pytest

from loosehand.players.charts import LadderHabit
from loosehand.reach.hand_data import hand_data
from loosehand.reach.law_fits import fit_laws, go_on, known_of, weigh, with_recovery
from loosehand.reach.laws import LAWS
from loosehand.reach.prior import NOBODY_KNOWN
from loosehand.reach.reserve import RECOVERY_S, RECOVERY_SHARES
from tests.reach.ladder_hands import AT_ONCE_S, KIND, a_player, a_round, ladders

USUAL_S = RECOVERY_S[0]
SHUFFLED = LadderHabit(step_bpm=3.0, below_edge_bpm=12.0, is_shuffled=True, rest_s=20.0)


def fits_of(rounds, *, recovery_s=AT_ONCE_S, laws=LAWS):
    """Fit laws; return their fits and the data."""
    data = hand_data(rounds, kind=KIND)
    return fit_laws(data, laws=laws, prior=NOBODY_KNOWN, recovery_s=recovery_s), data


def test_the_laws_come_in_their_order():
    """Whichever is fitted first, the fits stand as the laws do, each with a finite evidence."""
    fits, _ = fits_of(ladders(a_player("log-linear"), 6, seed=1))
    assert tuple(fit.task.law for fit in fits) == LAWS
    assert np.isfinite([fit.log_evidence for fit in fits]).all()
    only, _ = fits_of(ladders(a_player(), 3, seed=1), laws=("log-linear",))
    assert [fit.task.law for fit in only] == ["log-linear"]


@pytest.mark.parametrize(
    ("law", "other"), [("hyperbolic", "log-linear"), ("log-linear", "hyperbolic")]
)
def test_the_law_that_was_played_is_likelier(law, other):
    """A month of ladders of one law is better explained by it than by the other."""
    fits, data = fits_of(ladders(a_player(law, short_lead_bpm=10.0), 30, seed=2))
    weighed = weigh(fits, data, recovery_s=AT_ONCE_S)
    assert weighed.weight_of(law) > 10.0 * weighed.weight_of(other)


def test_very_easy_rounds_tell_nothing_and_are_left_out():
    """Two hundred rounds at 40, all held, change no evidence and stand in no task."""
    rounds = ladders(a_player(), 6, seed=3)
    easy = [
        a_round(day % 6, 100 + day, tempo_bpm=40.0, held=40, on=True, rest_s=300.0)
        for day in range(200)
    ]
    plain, data = fits_of(rounds)
    more, _ = fits_of(rounds + easy)
    for one, two in zip(plain, more, strict=True):
        assert len(two.task.data.tempo_bpm) <= len(data.tempo_bpm)
        assert two.log_evidence == pytest.approx(one.log_evidence, abs=0.05)


def test_weights_sum_to_one_with_a_recovery_and_without():
    """One fit a law where the recovery is given; else up to one a law and recovery."""
    fits, data = fits_of(ladders(a_player(), 6, seed=4), recovery_s=USUAL_S)
    given, told = weigh(fits, data, recovery_s=USUAL_S), weigh(fits, data, recovery_s=None)
    assert len(given.fits) == 3
    assert 3 < len(told.fits) <= 9
    for weighed in (given, told):
        assert sum(weighed.weights) == pytest.approx(1.0)
        assert sum(map(weighed.weight_of, LAWS)) == pytest.approx(1.0)
        assert len(weighed.usual) == 3


def recovery_weights(rounds):
    """Return the weights of the three recoveries, the usual one first."""
    fits, data = fits_of(rounds, recovery_s=USUAL_S)
    weighed = weigh(fits, data, recovery_s=None)
    middle = len(fits)
    each = (len(weighed.fits) - middle) // 2
    edges = [0, middle, middle + each, len(weighed.fits)]
    return [sum(weighed.weights[low:high]) for low, high in pairwise(edges)]


def test_a_rising_ladder_leaves_the_recovery_its_prior():
    """Where tiring and tempo cannot be told apart, the weights are those stated beforehand."""
    rounds = ladders(a_player(recovery_s=60.0), 12, seed=5)
    assert recovery_weights(rounds) == pytest.approx(RECOVERY_SHARES)


@pytest.mark.parametrize("place", [1, 2])
def test_shuffled_ladders_tell_the_recovery(place):
    """Of a hand that comes back fast, or slowly, that recovery gains weight."""
    rounds = ladders(a_player(recovery_s=RECOVERY_S[place]), 30, seed=6, habit=SHUFFLED)
    weights = recovery_weights(rounds)
    assert sum(weights) == pytest.approx(1.0)
    assert weights[place] > 1.8 * RECOVERY_SHARES[place]


def test_the_same_recovery_again_changes_nothing():
    """With the recovery that was fitted the evidence stays, within 0.05."""
    fits, _ = fits_of(ladders(a_player(recovery_s=30.0), 8, seed=7), recovery_s=USUAL_S)
    for fit in fits:
        again = with_recovery(fit, USUAL_S)
        assert again.log_evidence == pytest.approx(fit.log_evidence, abs=0.05)
        assert len(again.points) == 1


def test_what_is_known_leads_to_the_same_fit():
    """Going on from where the laws were found, with no new round, their evidence is the same."""
    rounds = ladders(a_player(), 8, seed=8)
    fits, data = fits_of(rounds, recovery_s=USUAL_S)
    known = known_of(weigh(fits, data, recovery_s=None))
    assert tuple(each.law for each in known) == LAWS
    assert sum(each.weight for each in known) == pytest.approx(1.0)
    again = go_on(data, known=known, prior=NOBODY_KNOWN, recovery_s=USUAL_S)
    for one, two in zip(fits, again, strict=True):
        if len(one.points) == len(two.points):
            assert two.log_evidence == pytest.approx(one.log_evidence, abs=0.1)
        assert two.points[0].mode.day_bpm == pytest.approx(one.points[0].mode.day_bpm, abs=0.2)
