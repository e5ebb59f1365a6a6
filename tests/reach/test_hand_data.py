"""Rounds as arrays, and what earlier rounds of a day took from the hand."""

import math
import random
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from loosehand.players.charts import LadderHabit
from loosehand.reach.hand_data import REST_S, fresh_bounds_s, hand_data, order_varies
from loosehand.reach.laws import LAWS, Curve
from loosehand.reach.reserve import reserve_after
from loosehand.reach.seen import HandKind
from tests.reach.ladder_hands import FIRST, KIND, a_player, a_round, ladders

RIGHT = replace(KIND, hand="right")
BOTH = HandKind("alternating", None, "pad", None, 8)


def test_a_lost_round_lies_between_two_counts():
    """Held to count 37 at 100: between 37 and 38 counts, of 0.6 s each."""
    data = hand_data([a_round(tempo_bpm=100.0, held=37)], kind=KIND)
    assert (data.low_s[0], data.high_s[0]) == pytest.approx((22.2, 22.8))
    assert data.lapse_chance[0] == pytest.approx(1.0 / 101.0)


def test_a_round_that_was_held_on_has_no_upper_bound():
    """Held on to its end: at least its time; in a lapse only the chance of its last place."""
    data = hand_data([a_round(tempo_bpm=100.0, held=100, on=True)], kind=KIND)
    assert data.low_s[0] == pytest.approx(60.0)
    assert math.isinf(data.high_s[0])
    assert data.lapse_chance[0] == pytest.approx(1.0 / 101.0)


def test_a_round_of_not_even_a_count_has_no_lower_bound():
    """Lost within the first count: between nothing and one count."""
    data = hand_data([a_round(tempo_bpm=120.0, held=0)], kind=KIND)
    assert (data.low_s[0], data.high_s[0]) == pytest.approx((0.0, 0.5))


@pytest.mark.parametrize(("hand", "places", "factor"), [("left", 3, 0.75), ("alternating", 4, 0.5)])
def test_tempos_become_sixteenths_of_one_hand(hand, places, factor):
    """The tempo is told in sixteenths of one hand, the times stay as they were played."""
    kind = HandKind(hand, None, "pad", None, places)
    data = hand_data([a_round(tempo_bpm=120.0, held=20, kind=kind)], kind=kind)
    assert data.tempo_bpm[0] == pytest.approx(120.0 * factor)
    assert data.all_tempo_bpm[0] == pytest.approx(120.0 * factor)
    assert data.low_s[0] == pytest.approx(10.0)


def test_the_order_of_the_list_does_not_matter():
    """Shuffled, the same rounds give the same arrays."""
    rounds = ladders(a_player(), 5, seed=1) + [a_round(day, 0, kind=BOTH) for day in range(5)]
    mixed = list(rounds)
    random.Random(2).shuffle(mixed)
    one, two = hand_data(rounds, kind=KIND), hand_data(mixed, kind=KIND)
    for name, value in vars(one).items():
        assert np.array_equal(value, getattr(two, name)), name


def test_days_count_from_the_first_of_the_hand():
    """Days of other hands alone do not count, and gaps stay."""
    rounds = [
        a_round(0, kind=RIGHT),
        a_round(2),
        a_round(2, 2),
        a_round(9),
    ]
    data = hand_data(rounds, kind=KIND)
    assert data.days.tolist() == [0.0, 7.0]
    assert data.day_index.tolist() == [0, 0, 1]
    assert (data.first_day, data.last_day) == (FIRST + timedelta(2), FIRST + timedelta(9))
    assert len(data.all_tempo_bpm) == 3


def test_the_other_hand_only_passes_the_time():
    """Rests and playing of the other hand are added to the rest before this hand's next round."""
    rounds = [
        a_round(0, 1, tempo_bpm=100.0, held=100, on=True, rest_s=45.0),
        a_round(0, 2, kind=RIGHT, tempo_bpm=120.0, held=59, rest_s=20.0),
        a_round(0, 3, kind=RIGHT, tempo_bpm=60.0, held=60, on=True, rest_s=None),
        a_round(0, 4, tempo_bpm=100.0, held=10, rest_s=30.0),
    ]
    data = hand_data(rounds, kind=KIND)
    assert data.all_rest_s.tolist() == pytest.approx(
        [45.0, 20.0 + 59.5 * 0.5 + REST_S + 60.0 + 30.0]
    )
    assert data.all_played_s.tolist() == pytest.approx([60.0, 10.5 * 0.6])
    assert data.all_lost.tolist() == [False, True]


def test_a_broken_off_round_tires_as_far_as_it_was_played():
    """Broken off at count 40 of 100 while it was held: 40.5 counts were played, none was lost."""
    data = hand_data([a_round(tempo_bpm=100.0, held=40, on=True)], kind=KIND)
    assert data.all_played_s[0] == pytest.approx(40.5 * 0.6)
    assert not data.all_lost[0]
    assert (data.low_s[0], data.high_s[0]) == pytest.approx((24.0, np.inf))


def test_alternating_rounds_tire_either_hand():
    """They stand among those that tire a hand, at their rate of one hand, but are not its own."""
    rounds = [a_round(0, 1, kind=BOTH, tempo_bpm=110.0), a_round(0, 2, tempo_bpm=90.0)]
    data = hand_data(rounds, kind=KIND)
    assert data.all_tempo_bpm.tolist() == [110.0, 90.0]
    assert data.own.tolist() == [1]
    assert data.tempo_bpm.tolist() == [90.0]
    assert data.before.tolist() == [[0, 1]]


def test_either_hand_tires_alternating_rounds():
    """A round of the left and one of the right both stand before an alternating one."""
    rounds = [a_round(0, 1), a_round(0, 2, kind=RIGHT), a_round(0, 3, kind=BOTH)]
    assert hand_data(rounds, kind=BOTH).own.tolist() == [2]


def fresh(rounds, *, law="hyperbolic", minute=90.0, steepness=2.0, top_s=0.0, recovery_s=30.0):
    """Return the bounds of a fresh hand, and those that were played."""
    data = hand_data(rounds, kind=KIND)
    low_s, high_s = fresh_bounds_s(
        data,
        law=law,
        minute_bpm=np.full(len(data.days), minute),
        steepness_bpm=steepness,
        top_s=top_s,
        recovery_s=recovery_s,
    )
    return low_s, high_s, data


@pytest.mark.parametrize("law", LAWS)
def test_a_hand_that_rested_long_is_fresh(law):
    """After a lost round and a very long rest, and on the next day, the bounds stay."""
    rounds = [
        a_round(0, 1, tempo_bpm=100.0, held=20),
        a_round(0, 2, tempo_bpm=100.0, held=20, rest_s=7200.0),
        a_round(1, 1, tempo_bpm=100.0, held=20, rest_s=0.0),
    ]
    low_s, high_s, data = fresh(rounds, law=law, top_s=2.0 if law == "top rate" else 0.0)
    assert low_s == pytest.approx(data.low_s)
    assert high_s == pytest.approx(data.high_s)


def test_without_a_rest_a_lost_round_leaves_little():
    """Right after a lost round the hand has the least share: its hold counts twentyfold."""
    rounds = [
        a_round(0, 1, tempo_bpm=100.0, held=20),
        a_round(0, 2, tempo_bpm=100.0, held=3, rest_s=0.0),
    ]
    low_s, high_s, data = fresh(rounds)
    assert low_s[1] == pytest.approx(20.0 * data.low_s[1])
    assert high_s[1] == pytest.approx(20.0 * data.high_s[1])
    assert low_s[0] == data.low_s[0]


def test_what_was_spent_and_given_back_is_the_closed_form():
    """20 s held on at 96 of S 88, R 120; 25 s of rest: the share of ``reserve_after``, twice."""
    rounds = [
        a_round(0, 1, tempo_bpm=96.0, held=32, on=True, round_s=20.0),
        a_round(0, 2, tempo_bpm=92.0, held=16, on=True, round_s=10.4, rest_s=25.0),
        a_round(0, 3, tempo_bpm=100.0, held=5, rest_s=40.0),
    ]
    curve = Curve.from_critical_rate(88.0, 120.0, top_rate=None)
    low_s, high_s, data = fresh(
        rounds, minute=curve.minute_bpm, steepness=curve.steepness_bpm, recovery_s=120.0 / 88.0
    )
    left = 120.0
    for tempo_bpm, played_s, rest_s in ((96.0, 20.0, 25.0), (92.0, 10.4, 40.0)):
        hard = {"critical_rate": 88.0, "capacity": 120.0}
        left = reserve_after(max(left, 0.0), rate=tempo_bpm, duration_s=played_s, **hard)
        left = reserve_after(max(left, 0.0), rate=0.0, duration_s=rest_s, **hard)
    assert low_s[2] == pytest.approx(data.low_s[2] / (left / 120.0))
    assert high_s[2] == pytest.approx(data.high_s[2] / (left / 120.0))


def test_a_slow_recovery_follows_the_closed_form_to_the_digit():
    """With a time of 50 s: half spent, 50 s of rest, and 1 - 0.5/e is there."""
    rounds = [
        a_round(0, 1, tempo_bpm=92.0, held=46, on=True, round_s=30.0),
        a_round(0, 2, tempo_bpm=92.0, held=30, rest_s=50.0),
    ]
    low_s, _, data = fresh(rounds, minute=92.0, recovery_s=50.0)
    assert low_s[1] == pytest.approx(data.low_s[1] / (1.0 - 0.5 / math.e))


def test_what_rounds_take_adds_up_where_rests_are_short():
    """Half spent, 10 s of rest, a quarter more, 20 s of rest: what is left is worked by hand."""
    rounds = [
        a_round(0, 1, tempo_bpm=92.0, held=46, on=True, round_s=30.0),
        a_round(0, 2, tempo_bpm=92.0, held=23, on=True, round_s=15.0, rest_s=10.0),
        a_round(0, 3, tempo_bpm=100.0, held=5, rest_s=20.0),
    ]
    low_s, _, data = fresh(rounds, minute=92.0, recovery_s=50.0)
    second = 1.0 - 0.5 * math.exp(-0.2)
    third = 1.0 - (1.0 - (second - 0.25)) * math.exp(-0.4)
    assert low_s[1] == pytest.approx(data.low_s[1] / second)
    assert low_s[2] == pytest.approx(data.low_s[2] / third)


def test_a_round_under_the_sustainable_tempo_takes_nothing():
    """However long an easy round is, the next one begins fresh."""
    rounds = [
        a_round(0, 1, tempo_bpm=70.0, held=700, on=True, round_s=600.0),
        a_round(0, 2, tempo_bpm=96.0, held=20, rest_s=0.0),
    ]
    low_s, _, data = fresh(rounds)
    assert low_s == pytest.approx(data.low_s)


def test_a_tired_hand_of_a_top_rate_loses_time_and_constant():
    """With a share of its reserve a hand holds that share of time and time constant together."""
    top_s = 4.0
    rounds = [
        a_round(0, 1, tempo_bpm=92.0, held=46, on=True, round_s=30.0),
        a_round(0, 2, tempo_bpm=92.0, held=30, rest_s=50.0),
    ]
    low_s, _, data = fresh(rounds, law="top rate", minute=92.0, top_s=top_s, recovery_s=50.0)
    share = 1.0 - 30.0 / 64.0 / math.e
    assert low_s[1] == pytest.approx((data.low_s[1] + top_s) / share - top_s)


def test_no_lower_bound_stays_none_and_no_end_stays_none():
    """Bounds of nought and of inf are the same in a tired hand."""
    rounds = [
        a_round(0, 1, tempo_bpm=100.0, held=20),
        a_round(0, 2, tempo_bpm=110.0, held=0, rest_s=5.0),
        a_round(0, 3, tempo_bpm=80.0, held=80, on=True, rest_s=5.0),
    ]
    low_s, high_s, _ = fresh(rounds)
    assert low_s[1] == 0.0
    assert math.isinf(high_s[2])


@pytest.mark.parametrize("law", LAWS)
def test_tired_bounds_are_never_below_those_played(law):
    """A fresh hand would have held at least as long, in every round of a month of ladders."""
    player = a_player(law, recovery_s=60.0)
    rounds = ladders(player, 30, seed=9, habit=LadderHabit(is_shuffled=True))
    top_s = 3.0 if law == "top rate" else 0.0
    low_s, high_s, data = fresh(rounds, law=law, minute=95.0, top_s=top_s)
    assert (low_s >= data.low_s - 1e-9).all()
    assert (high_s >= data.high_s - 1e-9).all()
    assert (low_s > data.low_s + 1.0).any()


def test_the_order_varies_in_shuffled_ladders_alone():
    """A rising ladder does not tell tiring from tempo; a shuffled one of a month does."""
    player = a_player()
    rising = ladders(player, 30, seed=5, habit=LadderHabit())
    shuffled = ladders(player, 30, seed=5, habit=LadderHabit(is_shuffled=True))
    assert not order_varies(hand_data(rising, kind=KIND))
    assert order_varies(hand_data(shuffled, kind=KIND))
    assert not order_varies(hand_data(shuffled[:12], kind=KIND))


def test_a_day_of_very_many_rounds_keeps_the_first_sixty_for_tiring():
    """A day of 200 rounds is told, with 60 of them in the order that tires."""
    rounds = [a_round(0, order, tempo_bpm=90.0, held=20) for order in range(200)]
    low_s, _, data = fresh(rounds)
    assert data.before.shape == (1, 60)
    assert len(low_s) == 200
    assert np.isfinite(low_s).all()
