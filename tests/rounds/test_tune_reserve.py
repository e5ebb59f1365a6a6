"""The reserve of a hand through a tune, against what can be worked out by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import InputError
from loosehand.reach.fit import expect_of_nobody
from loosehand.reach.laws import LAWS, Curve
from loosehand.reach.reserve import recovered, reserve_after
from loosehand.rounds.tune_reserve import HandDraws, Stretches, hand_draws, play_tune
from tests.reach.known_reach import DAY, a_reach

EDGE_BPM, RESERVE = 95.0, 300.0
HYPERBOLA = Curve.from_critical_rate(EDGE_BPM, RESERVE, top_rate=None)
RECOVERY_S = 30.0


def a_hand(curve=HYPERBOLA, *, recovery_s=RECOVERY_S):
    """A hand without form or noise, as a single draw."""
    return HandDraws(
        law=np.array([LAWS.index(curve.law)]),
        minute_bpm=np.array([curve.minute_bpm]),
        steepness_bpm=np.array([curve.steepness_bpm]),
        top_s=np.array([curve.top_s]),
        time_share=np.ones(1),
        recovery_s=np.array([recovery_s]),
    )


def stretches(*rows):
    """Stretches of (length, rate) or (length, rate, technique), each a section of its own."""
    length_s = np.array([row[0] for row in rows], dtype=float)
    return Stretches(
        start_s=np.concatenate([[0.0], np.cumsum(length_s)[:-1]]),
        length_s=length_s,
        rate_bpm=np.array([row[1] for row in rows], dtype=float),
        section=np.arange(len(rows)),
        technique=np.array([row[2] if len(row) > 2 else 0 for row in rows]),
        sections=len(rows),
    )


def test_two_runs_and_a_rest_are_as_worked_out():
    """At 105, which is held for 30 s: 12 s, a rest of 20 s and 12 s leave what they must."""
    first = 1.0 - 12.0 / 30.0
    rested = 1.0 - (1.0 - first) * math.exp(-20.0 / RECOVERY_S)
    played = play_tune(stretches((12, 105), (20, 0), (12, 105)), [a_hand()])
    assert played.left[:, 0] == pytest.approx([first, rested, rested - 0.4])
    assert played.chance == 1.0
    assert rested == pytest.approx(
        float(recovered(np.array(first), rest_s=np.array(20.0), recovery_s=RECOVERY_S))
    )


def test_it_ends_where_the_reserve_is_gone():
    """The second run ends after as many seconds as the rest gave back and the first one left."""
    first = 1.0 - 24.0 / 30.0
    rested = 1.0 - (1.0 - first) * math.exp(-5.0 / RECOVERY_S)
    played = play_tune(stretches((24, 105), (5, 0), (24, 105), (60, 0)), [a_hand()])
    assert played.ended_s[0] == pytest.approx(29.0 + rested * 30.0)
    assert played.chance == 0.0
    assert played.left[2:, 0].tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    "curve",
    [
        HYPERBOLA,
        Curve.from_critical_rate(EDGE_BPM, RESERVE, top_rate=150.0),
        Curve("log-linear", 100.0, 4.0),
    ],
    ids=lambda curve: curve.law,
)
@pytest.mark.parametrize("tempo_bpm", [102.0, 110.0])
def test_a_single_run_lasts_as_long_as_the_law_says(curve, tempo_bpm):
    """Without a rest the reserve ends at the hold time of the curve."""
    hold_s = float(curve.time_s(tempo_bpm))
    played = play_tune(stretches((hold_s + 5.0, tempo_bpm)), [a_hand(curve)])
    assert played.ended_s[0] == pytest.approx(hold_s)
    assert play_tune(stretches((hold_s - 0.01, tempo_bpm)), [a_hand(curve)]).chance == 1.0


def test_under_the_edge_the_reserve_comes_back_by_the_differential_form():
    """The share agrees with the reserve that the reach package works out at a constant rate."""
    capacity = EDGE_BPM * RECOVERY_S
    start = 0.4
    spent_s = (1.0 - start) * 30.0
    played = play_tune(stretches((spent_s, 105), (40, 60)), [a_hand()])
    left = reserve_after(
        start * capacity, rate=60.0, critical_rate=EDGE_BPM, capacity=capacity, duration_s=40.0
    )
    assert played.left[:, 0] == pytest.approx([start, left / capacity])


def test_a_section_without_a_stretch_has_what_was_left_before_it():
    """Too short for one of its own, it changes nothing."""
    rows = stretches((12, 105), (12, 105))
    skipped = replace(rows, section=np.array([0, 2]), sections=4)
    assert play_tune(skipped, [a_hand()]).left[:, 0] == pytest.approx([0.6, 0.6, 0.2, 0.2])


def test_what_nobody_plays_is_over_at_once():
    """A rate beyond any hand ends where it begins, by every law."""
    for law in LAWS:
        hand = a_hand(Curve(law, 100.0, 1.0, 10.0 if law == "top rate" else 0.0))
        played = play_tune(stretches((5, 60), (5, 6000)), [hand])
        assert played.ended_s[0] == pytest.approx(5.0, abs=0.02)


def test_a_lost_tune_stays_lost():
    """However long the rest and the easy playing after it."""
    rows = ((60, 105), (9000, 0), (10, 105), (2000, 60), (29, 105))
    played = play_tune(stretches(*rows), [a_hand(recovery_s=2.0)])
    assert played.ended_s[0] == pytest.approx(30.0)
    assert played.left.max() == 0.0


def test_a_law_without_an_edge_gains_nothing_while_it_plays():
    """With the log-linear law a slow stretch costs little, and only rests give back."""
    hand = a_hand(Curve("log-linear", 100.0, 4.0))
    played = play_tune(stretches((30, 100), (20, 60), (20, 0)), [hand])
    assert played.left[1, 0] < played.left[0, 0] == pytest.approx(0.5)
    assert played.left[2, 0] > 0.7


@pytest.mark.parametrize("seed", range(3))
def test_the_chance_falls_with_length_and_rises_with_rests(seed):
    """On equal days, draw by draw."""
    hand = hand_draws(a_reach(HYPERBOLA, sd_bpm=3.0), seed=seed)
    chance = [play_tune(stretches((each, 100)), [hand]).chance for each in (30, 60, 90, 180)]
    assert chance == sorted(chance, reverse=True)
    assert chance[0] > chance[-1] + 0.2
    rests = [
        play_tune(stretches((45, 100), (rest, 0), (45, 100)), [hand]).chance
        for rest in (0.001, 5, 20, 60)
    ]
    assert rests == sorted(rests)
    assert rests[-1] > rests[0] + 0.05


def test_a_fresh_run_has_the_chance_that_the_reach_says():
    """One run without a rest is a round: both ways of telling its chance agree."""
    reach = a_reach(HYPERBOLA, sd_bpm=3.0, draws=4000)
    for tempo_bpm in (98.0, 100.0, 103.0):
        told = reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=60.0)
        played = play_tune(stretches((60, tempo_bpm)), [hand_draws(reach, draws=4000)])
        assert played.chance == pytest.approx(told, abs=0.05)


def test_techniques_change_from_stretch_to_stretch():
    """The second stretch is paid at the second technique's price."""
    strong = a_hand(Curve.from_critical_rate(EDGE_BPM, 2 * RESERVE, top_rate=None))
    played = play_tune(stretches((12, 105, 0), (12, 105, 1)), [a_hand(), strong])
    assert played.left[:, 0] == pytest.approx([0.6, 0.4])


def test_days_are_the_same_for_every_technique():
    """A technique that is better by two counts lasts wherever the other one does."""
    worse, better = (
        play_tune(
            stretches((60, 100)), [hand_draws(a_reach(Curve("hyperbolic", minute, 5.0)))]
        ).ended_s
        for minute in (100.0, 102.0)
    )
    assert (better >= worse).all()


def test_of_nobody_something_wide_is_believed():
    """The prior of a hand that was never heard gives a chance that is neither nought nor one."""
    nobody = expect_of_nobody(a_reach().kind, as_of=DAY)
    assert 0.05 < play_tune(stretches((60, 90)), [hand_draws(nobody)]).chance < 0.95


def test_what_cannot_be_is_refused_in_a_sentence():
    """No stretch, or a tune of more than four hours."""
    with pytest.raises(InputError, match="no stretch to play"):
        play_tune(stretches(*[]), [a_hand()])
    with pytest.raises(InputError, match="four hours"):
        play_tune(stretches((14_401, 60)), [a_hand()])
