"""Leaning a hand that is little known on another of the same person."""

import math
from dataclasses import replace

import numpy as np
import pytest

from loosehand.players.charts import LadderHabit
from loosehand.reach.fit import fit_hand
from loosehand.reach.laws import Curve
from loosehand.reach.pool import FEW_ROUNDS, donor_of, leaning_prior
from loosehand.reach.prior import NOBODY_KNOWN
from loosehand.reach.seen import HandKind
from tests.reach.known_reach import a_reach
from tests.reach.ladder_hands import KIND, a_player, ladders

LEFT = HandKind("left", "whip fours", "pad", "medium", 4)
RIGHT = replace(LEFT, hand="right")
# Of 10 s over a minute: steepness * 5 in the hyperbola.
STEEP = Curve("hyperbolic", 110.0, 2.0)


def known(kind, *, rounds=400, curve=STEEP, sd_bpm=1.0):
    """Return a reach of a kind with so many rounds."""
    return replace(a_reach(curve, kind=kind, sd_bpm=sd_bpm), rounds=rounds)


def test_nobody_leans_on_nothing():
    """No other reach, only its own, only little known ones: no donor."""
    assert donor_of(LEFT, []) is None
    assert donor_of(LEFT, [known(LEFT)]) is None
    assert donor_of(LEFT, [known(RIGHT, rounds=FEW_ROUNDS - 1)]) is None
    enough = known(RIGHT, rounds=FEW_ROUNDS)
    assert donor_of(LEFT, [enough]) is enough


def test_one_hand_and_two_do_not_lean_on_each_other():
    """Alternating leans on alternating, one hand on one hand."""
    both = replace(LEFT, hand="alternating")
    loud = replace(both, loudness="loud")
    assert donor_of(LEFT, [known(both)]) is None
    assert donor_of(both, [known(LEFT), known(RIGHT)]) is None
    donor = known(loud)
    assert donor_of(both, [known(LEFT), donor]) is donor


def test_the_nearest_kind_is_leant_on_then_the_best_known():
    """The other hand on the same surface goes before a better known one on another."""
    near, nearer_known = known(RIGHT, rounds=50), known(RIGHT, rounds=90)
    far = known(replace(LEFT, surface="snare"), rounds=900)
    further = known(replace(RIGHT, surface="snare", technique=None), rounds=2000)
    assert donor_of(LEFT, [further, far, near]) is near
    assert donor_of(LEFT, [near, nearer_known, far]) is nearer_known
    assert donor_of(LEFT, [further, far]) is far


def test_the_prior_is_drawn_towards_the_donor_and_sharper():
    """Tempo and drop lie between anybody's and the donor's, with less spread than either."""
    prior = leaning_prior(LEFT, known(RIGHT))
    assert NOBODY_KNOWN.minute_bpm < prior.minute_bpm < 110.0
    assert prior.minute_sd_bpm < min(NOBODY_KNOWN.minute_sd_bpm, math.hypot(8.0, 1.0))
    assert NOBODY_KNOWN.log_drop < prior.log_drop < math.log(10.0)
    assert prior.log_drop_sd < NOBODY_KNOWN.log_drop_sd
    changed = {"minute_bpm", "minute_sd_bpm", "log_drop", "log_drop_sd"}
    for name, value in vars(NOBODY_KNOWN).items():
        assert name in changed or getattr(prior, name) == value, name


def test_the_tempo_is_the_mean_by_precision():
    """With 14 about 88 and 8 about 110 (the donor known to the digit) it is 104.6, 6.9 wide."""
    prior = leaning_prior(LEFT, known(RIGHT, sd_bpm=0.0))
    weights = 14.0**-2, 8.0**-2
    assert prior.minute_bpm == pytest.approx(
        (88.0 * weights[0] + 110.0 * weights[1]) / sum(weights), abs=1e-6
    )
    assert prior.minute_sd_bpm == pytest.approx(sum(weights) ** -0.5, abs=1e-6)


def test_each_other_tag_and_a_less_sure_donor_draw_less():
    """Other surface, other technique besides, or a donor with wide bounds: nearer to anybody's."""
    near = leaning_prior(LEFT, known(RIGHT))
    far = leaning_prior(LEFT, known(replace(RIGHT, surface="snare")))
    further = leaning_prior(LEFT, known(replace(RIGHT, surface="snare", technique=None)))
    unsure = leaning_prior(LEFT, known(RIGHT, sd_bpm=10.0))
    assert near.minute_bpm > far.minute_bpm > further.minute_bpm > NOBODY_KNOWN.minute_bpm
    assert near.minute_sd_bpm < far.minute_sd_bpm < further.minute_sd_bpm
    assert unsure.minute_bpm < near.minute_bpm
    assert unsure.minute_sd_bpm > near.minute_sd_bpm


def test_the_donor_counts_in_sixteenths_of_one_hand():
    """A donor that counts triplets lends its strokes a second, not its count."""
    triplets = known(replace(RIGHT, places_per_count=3))
    assert triplets.tempo_held_bpm(60.0).median > 140.0
    sixteenths = known(replace(RIGHT, loudness="loud"))
    one, two = leaning_prior(LEFT, triplets), leaning_prior(LEFT, sixteenths)
    assert one.minute_bpm == pytest.approx(two.minute_bpm)
    assert one.log_drop == pytest.approx(two.log_drop)


def test_a_hand_of_few_rounds_is_nearer_to_the_truth_with_a_donor():
    """Of nine persons whose hands are 5 apart, the little known one is told better leaning."""
    other = replace(KIND, hand="right")
    easy = LadderHabit(lowest_bpm=70.0, highest_bpm=100.0, step_bpm=10.0)
    alone, leaning = [], []
    for seed in range(9):
        rng = np.random.default_rng([77, seed])
        minute = float(rng.normal(105.0, 8.0))
        known_hand = a_player(minute_bpm=minute)
        little = a_player(minute_bpm=minute - 5.0)
        donor_rounds = ladders(known_hand, 10, seed=seed, hand="right", kind=other)
        rounds = ladders(little, [9], seed=seed + 100, habit=easy)
        last = donor_rounds[-1].day
        rounds = [replace(each, day=last) for each in rounds]
        donor = fit_hand(donor_rounds, kind=other, as_of=last)
        prior = leaning_prior(KIND, donor)
        for found, options in ((alone, {}), (leaning, {"prior": prior})):
            reach = fit_hand(rounds, kind=KIND, as_of=last, **options)
            for time_s in (60.0, 240.0):
                told = reach.tempo_held_bpm(time_s).median
                found.append(told - little.tempo_held_bpm(time_s))
    assert np.sqrt(np.mean(np.square(leaning))) < 0.8 * np.sqrt(np.mean(np.square(alone)))
