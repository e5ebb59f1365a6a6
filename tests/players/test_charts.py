"""Invented charts whose truth is known."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import InputError
from loosehand.players.charts import (
    CHART_LAWS,
    DAYS_PER_MONTH,
    ChartPlayer,
    LadderHabit,
    draw_chart_hands,
    draw_chart_player,
    play_ladders,
)

STEADY = ChartPlayer("hyperbolic", 92.0, 10.0, 5.0, 0.0, 0.0, 1e-9, 0.0, None, 0.0)
# Its times are no whole counts, so that no rounding tips a count.
UNEVEN = replace(STEADY, minute_bpm=92.31)
NOISY = replace(STEADY, time_noise=0.3, tempo_noise_bpm=1.0)
PLAIN = LadderHabit()


def of(law, **traits):
    """Return a hand of a law."""
    return replace(STEADY, law=law, **traits)


def day_of(player, *, habit=PLAIN, seed=1, hand="left"):
    """Return the rounds of one day."""
    return play_ladders({hand: player}, [0], np.random.default_rng(seed), habit=habit)


@pytest.mark.parametrize("law", CHART_LAWS)
def test_time_and_tempo_are_two_sides_of_one_curve(law):
    """The tempo held for a time is held for that time, and the lead at 10 s is as told."""
    hand = of(law)
    for time_s in (3.0, 10.0, 60.0, 240.0):
        assert hand.curve_s(hand.curve_bpm(time_s)) == pytest.approx(time_s, rel=1e-9)
    assert hand.curve_bpm(60.0) == pytest.approx(92.0)
    assert hand.curve_bpm(10.0) == pytest.approx(102.0)


def test_the_hyperbola_is_worked_by_hand():
    """A reserve of 120 over 90 a minute: 92 for 60 s, 102 for 10 s, 90.5 for 240 s."""
    assert STEADY.reserve_bpm_s == pytest.approx(120.0)
    assert STEADY.sustainable_bpm == pytest.approx(90.0)
    assert STEADY.curve_bpm(240.0) == pytest.approx(90.5)
    assert STEADY.curve_s(90.0) == math.inf
    assert STEADY.top_bpm is None


def test_a_top_rate_is_held_for_no_time():
    """At the top tempo nothing is held; a long time is held at the sustainable one at most."""
    hand = of("top rate")
    assert hand.curve_s(hand.top_bpm) == pytest.approx(0.0, abs=1e-9)
    assert hand.curve_s(hand.top_bpm + 1.0) == 0.0
    assert hand.curve_bpm(1e9) == pytest.approx(hand.sustainable_bpm, abs=1e-6)


def test_the_logarithm_has_no_sustainable_tempo():
    """The log-linear curve falls on, by the same for every doubling."""
    hand = of("log-linear")
    falls = [hand.curve_bpm(time_s) - hand.curve_bpm(2 * time_s) for time_s in (30.0, 60.0, 600.0)]
    assert falls == pytest.approx([falls[0]] * 3)
    assert hand.sustainable_bpm is None


@pytest.mark.parametrize("law", CHART_LAWS)
def test_the_tempo_held_is_held_half_the_time(law):
    """Of simulated fresh rounds at the tempo held for 60 s, half are held, within chance."""
    hand = replace(NOISY, law=law)
    tempo_bpm = hand.tempo_held_bpm(60.0)
    rng = np.random.default_rng(2)
    habit = LadderHabit(lowest_bpm=tempo_bpm, highest_bpm=tempo_bpm)
    rounds = play_ladders({"left": hand}, range(4000), rng, habit=habit)
    whole_s = [one.held_on for one in rounds]
    assert np.mean(whole_s) == pytest.approx(0.5, abs=0.03)
    assert 0.0 <= tempo_bpm - hand.curve_bpm(60.0) < 0.3


def test_chance_falls_with_tempo_and_spreads_with_form():
    """The chance of holding falls as the tempo rises; form makes the edge less sharp."""
    chances = [NOISY.chance_of_holding(tempo_bpm=bpm, time_s=60.0) for bpm in (88.0, 92.0, 96.0)]
    assert chances == sorted(chances, reverse=True)
    spread = NOISY.chance_of_holding(tempo_bpm=88.0, time_s=60.0, form_bpm=3.0)
    assert 0.5 < spread < chances[0]


def test_a_hand_without_noise_plays_its_curve():
    """Each count of a ladder is the curve's time in whole counts, and no more than the round."""
    for one in day_of(UNEVEN):
        counts = UNEVEN.curve_s(one.tempo_bpm) * one.tempo_bpm / 60.0
        assert one.count_held == math.floor(min(counts, one.tempo_bpm))
        assert one.held_on == (UNEVEN.curve_s(one.tempo_bpm) >= 60.0)


def test_a_ladder_ends_after_two_tempos_lost_soon():
    """The last two rounds are lost within 16 counts, and no two in a row before them are."""
    soon = [one.count_held < 16 for one in day_of(STEADY)]
    assert soon[-2:] == [True, True]
    assert not any(first and second for first, second in itertools.pairwise(soon[:-1]))
    assert [one.tempo_bpm for one in day_of(STEADY)][:3] == [60.0, 65.0, 70.0]


def test_a_ladder_can_begin_near_the_edge_in_finer_steps():
    """With a nearer start no tempo is lower than asked, and the steps are as asked."""
    rounds = day_of(STEADY, habit=LadderHabit(step_bpm=2.0, below_edge_bpm=10.0))
    tempos = [one.tempo_bpm for one in rounds]
    assert tempos[0] == 82.0
    assert np.diff(tempos) == pytest.approx(2.0)


def test_shuffled_tempos_leave_out_what_two_lost_ones_tell():
    """Shuffled, no round stands over two tempos that were lost within 16 counts before it."""
    rounds = day_of(NOISY, habit=LadderHabit(is_shuffled=True), seed=5)
    tempos = [one.tempo_bpm for one in rounds]
    assert tempos != sorted(tempos)
    for place, one in enumerate(rounds):
        lost = [r for r in rounds[:place] if r.count_held < 16 and r.tempo_bpm < one.tempo_bpm]
        assert len(lost) < 2


def test_a_full_ladder_leaves_nothing_out():
    """A full ladder has all seventeen tempos, those that are lost at once too."""
    assert len(day_of(UNEVEN, habit=LadderHabit(is_full=True))) == 17


def test_a_test_stands_before_the_ladder_once_a_week():
    """On every seventh day the first round is the test, always at the same tempo."""
    habit = LadderHabit(test_every_days=7)
    rounds = play_ladders({"left": NOISY}, range(15), np.random.default_rng(3), habit=habit)
    firsts = [one for one in rounds if one.order == 1]
    assert [one.day for one in firsts if one.tempo_bpm > 60.0] == [0, 7, 14]
    assert {one.tempo_bpm for one in firsts} == {60.0, 90.0}


def test_hands_take_turns():
    """At each tempo weak, strong and both follow one another, numbered through the day."""
    hands = draw_chart_hands(np.random.default_rng(4), "hyperbolic")
    rounds = play_ladders(hands, [0, 2], np.random.default_rng(4), habit=PLAIN)
    assert [one.hand for one in rounds[:6]] == ["left", "right", "alternating"] * 2
    assert [one.places_per_count for one in rounds[:3]] == [4, 4, 8]
    for day in (0, 2):
        orders = [one.order for one in rounds if one.day == day]
        assert orders == list(range(1, len(orders) + 1))
    assert hands["right"].minute_bpm > hands["left"].minute_bpm


def test_a_gain_ends_at_the_told_ability():
    """A month before the last day the whole curve lies lower by the gain of a month."""
    hand = replace(STEADY, gain_bpm_per_month=6.0, minute_bpm=92.1)
    days = [0, round(DAYS_PER_MONTH)]
    habit = LadderHabit(step_bpm=1.0)
    rounds = play_ladders({"left": hand}, days, np.random.default_rng(6), habit=habit)
    held = [max(r.tempo_bpm for r in rounds if r.day == day and r.held_on) for day in days]
    assert held == [86.0, 92.0]


def test_form_is_one_shift_a_day():
    """With form alone, days differ by its spread while the rounds of a day lie on one curve."""
    hand = replace(STEADY, day_form_bpm=2.0)
    habit = LadderHabit(step_bpm=1.0)
    rounds = play_ladders({"left": hand}, range(400), np.random.default_rng(7), habit=habit)
    best = [max(r.tempo_bpm for r in rounds if r.day == day and r.held_on) for day in range(400)]
    assert np.std(best) == pytest.approx(2.0, abs=0.25)
    for day in range(20):
        mine = [r for r in rounds if r.day == day]
        assert max(r.tempo_bpm for r in mine if r.held_on) < min(
            r.tempo_bpm for r in mine if not r.held_on
        )


def test_a_slow_recovery_costs_the_rounds_after_a_hard_one():
    """After a lost round a hand that comes back slowly holds less; rest gives it back."""
    tired = replace(UNEVEN, recovery_s=60.0)
    counts = [one.count_held for one in day_of(tired)]
    fresh = [one.count_held for one in day_of(UNEVEN)]
    edge = next(place for place, one in enumerate(day_of(UNEVEN)) if not one.held_on)
    assert counts[:edge] == fresh[:edge]
    assert counts[edge] == fresh[edge]
    assert counts[edge + 1] == pytest.approx(fresh[edge + 1] * (1 - math.exp(-1)), abs=1.0)
    rested = day_of(tired, habit=LadderHabit(rest_s=1200.0))
    assert [one.count_held for one in rested] == fresh


def test_alternating_takes_from_both_hands():
    """After the two alternating are spent, either hand holds less than when it is fresh."""
    tired = replace(UNEVEN, recovery_s=60.0)
    habit = LadderHabit(lowest_bpm=95.0, highest_bpm=95.0)
    players = {"alternating": tired, "left": tired, "right": tired}
    alternating, left, right = play_ladders(players, [0], np.random.default_rng(8), habit=habit)
    assert alternating.count_held == math.floor(UNEVEN.curve_s(95.0) * 95.0 / 60.0)
    assert left.count_held < alternating.count_held
    assert left.count_held < right.count_held <= alternating.count_held


def test_slips_lose_rounds_that_would_be_held():
    """With one slip in five, a fifth of sure rounds is lost."""
    hand = replace(STEADY, lapse_share=0.2)
    habit = LadderHabit(lowest_bpm=60.0, highest_bpm=60.0)
    rounds = play_ladders({"left": hand}, range(2000), np.random.default_rng(9), habit=habit)
    assert np.mean([not one.held_on for one in rounds]) == pytest.approx(0.2, abs=0.03)


@pytest.mark.parametrize("law", CHART_LAWS)
def test_drawn_traits_spread(law):
    """A third of drawn hands is flat; leads, tempos and forms lie in their ranges."""
    hands = [draw_chart_player(np.random.default_rng(seed), law) for seed in range(900)]
    assert np.mean([hand.gain_bpm_per_month == 0.0 for hand in hands]) == pytest.approx(
        1 / 3, abs=0.05
    )
    leads = np.quantile([hand.short_lead_bpm for hand in hands], [0.1, 0.9])
    assert leads == pytest.approx([5.0, 12.0], abs=0.8)
    assert np.std([hand.minute_bpm for hand in hands]) == pytest.approx(10.0, abs=1.0)
    assert all(0.8 <= hand.day_form_bpm <= 3.0 for hand in hands)
    assert np.mean([hand.recovery_s is None for hand in hands]) == pytest.approx(0.5, abs=0.06)


def test_one_seed_gives_one_chart():
    """The same seed gives the same chart, another seed another."""
    charts = [day_of(NOISY, seed=seed) for seed in (1, 1, 2)]
    assert charts[0] == charts[1]
    assert charts[0] != charts[2]


def test_what_cannot_be_played_is_refused():
    """An unknown law, an unknown hand, no day and days that do not rise are refused."""
    with pytest.raises(InputError, match="'straight' is not one of"):
        of("straight")
    with pytest.raises(InputError, match="name left, right or alternating"):
        day_of(STEADY, hand="foot")
    for days in ([], [3, 3]):
        with pytest.raises(InputError, match="must rise"):
            play_ladders({"left": STEADY}, days, np.random.default_rng(1), habit=PLAIN)
