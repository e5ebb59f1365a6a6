"""What is asked of a reach, on draws that are known."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from scipy.stats import norm

from loosehand.errors import BadTempo, InputError
from loosehand.reach.laws import LAWS, Curve
from tests.reach.known_reach import DAY, FLAT, a_reach

HYPERBOLA = Curve("hyperbolic", 100.0, 5.0)
TOPPED = Curve("top rate", 100.0, 5.0, 4.0)
CURVES = [HYPERBOLA, TOPPED, FLAT]


def bent(reach, *, gain_sd_bpm, gain_bpm=0.0):
    """Return the reach with a gain in 28 days that differs from draw to draw."""
    size = len(reach.draws.law)
    gain = np.random.default_rng(3).normal(gain_bpm, gain_sd_bpm, size)
    grid = reach.draws.grid_day
    level = reach.draws.level_bpm[:, 1:2] + gain[:, None] * grid / 28.0
    return replace(reach, draws=replace(reach.draws, level_bpm=level))


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: curve.law)
def test_the_tempo_held_is_that_of_the_curve(curve):
    """With draws of one curve, median and bounds are its tempo at every time, and it falls."""
    reach = a_reach(curve)
    times = [5.0, 10.0, 30.0, 60.0, 240.0, 600.0]
    tempos = [reach.tempo_held_bpm(time_s) for time_s in times]
    assert [each.median for each in tempos] == pytest.approx(curve.tempo_bpm(np.array(times)))
    assert all(each.low80 == pytest.approx(each.high80) for each in tempos)
    assert (np.diff([each.median for each in tempos]) < 0.0).all()


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: curve.law)
def test_the_hold_time_is_that_of_the_curve(curve):
    """With draws of one curve, the hold time is its inverse."""
    for tempo_bpm in (101.0, 104.0, 110.0):
        told = a_reach(curve).hold_time_s(tempo_bpm)
        assert told.median == pytest.approx(float(curve.time_s(tempo_bpm)))


def test_the_bounds_are_those_of_eighty_in_a_hundred():
    """A normal spread of 2 gives bounds 1.28 spreads to either side of the median."""
    minute = a_reach(sd_bpm=2.0, draws=20000).tempo_held_bpm(60.0)
    assert minute.median == pytest.approx(100.0, abs=0.06)
    assert minute.low80 == pytest.approx(100.0 - 1.2816 * 2.0, abs=0.1)
    assert minute.high80 == pytest.approx(100.0 + 1.2816 * 2.0, abs=0.1)


def test_under_the_sustainable_tempo_there_is_no_end():
    """At 94 of a hand that sustains 95 the hold time is inf; at 97 it is not."""
    reach = a_reach(HYPERBOLA)
    assert math.isinf(reach.hold_time_s(94.0).median)
    assert reach.hold_time_s(97.0).median == pytest.approx(150.0)
    spread = a_reach(HYPERBOLA, sd_bpm=2.0).hold_time_s(96.5)
    assert math.isfinite(spread.low80)
    assert math.isinf(spread.high80)


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: curve.law)
def test_the_chance_falls_with_tempo_and_with_time(curve):
    """More tempo or more time never has the greater chance; far off it is nearly 0 or 1."""
    reach = a_reach(curve, sd_bpm=1.0)
    by_tempo = [
        reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=60.0)
        for tempo_bpm in np.arange(80.0, 125.0, 1.5)
    ]
    by_time = [
        reach.chance_of_holding(tempo_bpm=102.0, time_s=time_s)
        for time_s in np.geomspace(1.0, 7200.0, 30)
    ]
    for chances in (by_tempo, by_time):
        assert (np.diff(chances) < 1e-12).all()
    assert by_tempo[0] > 0.98
    assert by_tempo[-1] < 0.02
    assert all(0.0 <= chance <= 1.0 for chance in by_tempo + by_time)


def test_at_the_tempo_held_the_chance_is_even():
    """A minute at the tempo held for a minute succeeds half the time, whatever the spreads."""
    reach = a_reach(sd_bpm=1.5, draws=20000)
    held = reach.tempo_held_bpm(60.0).median
    assert reach.chance_of_holding(tempo_bpm=held, time_s=60.0) == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("curve", CURVES, ids=lambda curve: curve.law)
def test_the_chance_is_the_share_of_simulated_rounds(curve):
    """Of 40,000 rounds drawn, the share that lasts is the chance told, within 3 points."""
    reach = a_reach(curve, sd_bpm=1.0, draws=40000)
    for tempo_bpm, time_s in ((98.0, 60.0), (100.0, 60.0), (103.0, 30.0), (99.0, 240.0)):
        held_s = reach.draw_hold_s(tempo_bpm, np.random.default_rng(1), 40000)
        chance = reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=time_s)
        assert (held_s >= time_s).mean() == pytest.approx(chance, abs=0.03)


def test_form_and_noise_make_chances_less_sure():
    """Of an otherwise known hand the chance 3 over what it holds is that of all the spreads."""
    reach = a_reach(Curve("log-linear", 100.0, 1.0), draws=20000)
    chance = reach.chance_of_holding(tempo_bpm=103.0, time_s=60.0)
    together = math.sqrt(2.0**2 + 1.0**2 + 0.2**2)
    assert chance == pytest.approx(norm.cdf(-3.0 / together), abs=0.01)


def test_simulated_rounds_come_from_the_chance_that_is_handed_in():
    """The same generator gives the same times; they are positive, of the size asked for."""
    reach = a_reach(HYPERBOLA, sd_bpm=1.0)
    one, two, three = (
        reach.draw_hold_s(104.0, np.random.default_rng(seed), 500) for seed in (1, 1, 2)
    )
    assert np.array_equal(one, two)
    assert not np.array_equal(one, three)
    assert one.shape == (500,)
    assert (one > 0.0).all()
    assert np.isinf(reach.draw_hold_s(60.0, np.random.default_rng(1), 50)).all()


def test_the_sustainable_tempo_is_told_where_laws_with_one_weigh_more():
    """A steepness under the minute; none of the log-linear law, nor where it has half the draws."""
    assert a_reach(HYPERBOLA).sustainable_bpm().median == pytest.approx(95.0)
    assert a_reach(HYPERBOLA, places=3).sustainable_bpm().median == pytest.approx(95.0 / 0.75)
    assert a_reach(FLAT).sustainable_bpm() is None
    law = np.array([0, 2] * 500)
    reach = a_reach(HYPERBOLA)
    assert replace(reach, draws=replace(reach.draws, law=law)).sustainable_bpm() is None


@pytest.mark.parametrize(
    ("hand", "places", "factor"), [("left", 3, 0.75), ("alternating", 4, 0.5), ("right", 6, 1.5)]
)
def test_tempos_are_in_counts_of_the_kind(hand, places, factor):
    """Tempos told are over the factor, tempos asked times it; gains likewise."""
    reach = a_reach(HYPERBOLA, hand=hand, places=places, sd_bpm=1.0, gain_bpm=2.8)
    plain = a_reach(HYPERBOLA, sd_bpm=1.0, gain_bpm=2.8)
    assert reach.tempo_held_bpm(30.0).median == pytest.approx(
        plain.tempo_held_bpm(30.0).median / factor
    )
    assert reach.hold_time_s(101.0 / factor) == plain.hold_time_s(101.0)
    assert reach.chance_of_holding(tempo_bpm=101.0 / factor, time_s=60.0) == pytest.approx(
        plain.chance_of_holding(tempo_bpm=101.0, time_s=60.0)
    )
    assert reach.trend_bpm_per_month().median == pytest.approx(3.0 / factor)
    last = DAY + timedelta(days=200)
    assert reach.date_of_reaching(
        tempo_bpm=103.0 / factor, time_s=60.0, last=last
    ) == plain.date_of_reaching(tempo_bpm=103.0, time_s=60.0, last=last)


def test_the_trend_is_the_gain_of_the_last_four_weeks():
    """2.8 in 28 days are 3 in a month of 30."""
    assert a_reach(gain_bpm=2.8).trend_bpm_per_month().median == pytest.approx(3.0)
    told = bent(a_reach(draws=20000), gain_bpm=2.8, gain_sd_bpm=1.4).trend_bpm_per_month()
    assert told.high80 - told.low80 == pytest.approx(2 * 1.2816 * 1.5, rel=0.04)


def test_the_chance_of_having_improved_is_the_share_of_gains():
    """With a gain of 1 and a spread of 1 it is Phi(1); since today, nothing has changed."""
    reach = bent(a_reach(draws=20000), gain_bpm=1.0, gain_sd_bpm=1.0)
    since = DAY - timedelta(days=28)
    assert reach.probability_improved(since) == pytest.approx(norm.cdf(1.0), abs=0.01)
    assert reach.probability_improved(DAY - timedelta(days=10)) == pytest.approx(
        norm.cdf(1.0), abs=0.01
    )
    assert reach.probability_improved(DAY) == 0.0
    with pytest.raises(InputError, match="since = 2027-03-02 lies after 2027-03-01"):
        reach.probability_improved(DAY + timedelta(days=1))


def test_the_smallest_change_that_shows_is_that_of_a_test():
    """It is 2.49 spreads of the monthly gain: called at 95 of 100, found in 80 of 100."""
    reach = bent(a_reach(draws=20000), gain_sd_bpm=2.8)
    told = reach.smallest_change_bpm()
    assert told == pytest.approx((norm.ppf(0.95) + norm.ppf(0.8)) * 3.0, rel=0.02)


def test_a_plateau_needs_a_flat_trend_that_is_sure_and_days_enough():
    """Flat, sure and six weeks: yes; of five weeks, rising, falling, or unsure: no."""
    sure = bent(a_reach(days=43), gain_sd_bpm=0.4)
    assert sure.is_plateau()
    assert not replace(sure, first_day=DAY - timedelta(days=41)).is_plateau()
    assert not replace(sure, first_day=None).is_plateau()
    assert not bent(a_reach(days=43), gain_sd_bpm=0.4, gain_bpm=3.0).is_plateau()
    assert not bent(a_reach(days=43), gain_sd_bpm=0.4, gain_bpm=-3.0).is_plateau()
    assert not bent(a_reach(days=43), gain_sd_bpm=2.0).is_plateau()


def test_beyond_what_was_seen_is_longer_than_the_longest_hold():
    """A time as long as the longest hold was seen; a longer one was not."""
    reach = a_reach(longest_held_s=60.0)
    assert not reach.is_beyond_seen(30.0)
    assert not reach.is_beyond_seen(60.0)
    assert reach.is_beyond_seen(61.0)


def test_a_target_is_reached_when_the_line_gets_there():
    """At 0.1 a day, 3.05 over the curve at its time is reached after 31 days, by every draw."""
    reach = a_reach(HYPERBOLA, gain_bpm=2.8)
    target = float(HYPERBOLA.tempo_bpm(30.0)) + 3.05
    told = reach.date_of_reaching(tempo_bpm=target, time_s=30.0, last=DAY + timedelta(days=300))
    assert told.chance == 1.0
    assert told.earliest == told.median == told.latest == DAY + timedelta(days=31)


def test_dates_stand_in_order_and_are_left_open_where_they_do_not_come():
    """Earliest, median, latest rise; beyond the last day there is none; the chance grows."""
    reach = bent(a_reach(draws=4000), gain_bpm=2.0, gain_sd_bpm=1.0)
    told = [
        reach.date_of_reaching(tempo_bpm=104.0, time_s=60.0, last=DAY + timedelta(days=days))
        for days in (5, 60, 364)
    ]
    assert told[0].chance < told[1].chance < told[2].chance
    assert (told[0].earliest, told[0].median, told[0].latest) == (None, None, None)
    assert told[1].earliest is not None
    assert told[1].latest is None
    assert told[2].earliest < told[2].median < told[2].latest
    assert told[2].earliest == told[1].earliest
    assert (told[2].median - DAY).days == pytest.approx(56, abs=3)


def test_what_was_reached_once_stays_reached():
    """A level that climbs to 104 in two weeks and falls from there reached 103 on the 11th day."""
    reach = a_reach()
    grid = np.array([-28.0, 0.0, 14.0, 364.0])
    level = np.tile([100.0, 100.0, 104.0, 90.0], (len(reach.draws.law), 1))
    reach = replace(reach, draws=replace(reach.draws, grid_day=grid, level_bpm=level))
    told = reach.date_of_reaching(tempo_bpm=103.0, time_s=60.0, last=DAY + timedelta(days=364))
    assert told.chance == 1.0
    assert told.earliest == told.latest == DAY + timedelta(days=11)


def test_what_is_held_already_is_reached_today():
    """A target under the curve is reached on the day told of, even if nothing else is asked."""
    told = a_reach().date_of_reaching(tempo_bpm=95.0, time_s=60.0, last=DAY)
    assert told.chance == 1.0
    assert told.earliest == told.latest == DAY


@pytest.mark.parametrize("days", [-1, 365])
def test_days_out_of_range_are_refused_in_one_sentence(days):
    """A last day before today, or more than 364 days ahead, is named with what is wanted."""
    last = DAY + timedelta(days=days)
    with pytest.raises(
        InputError, match=f"last = {last} cannot be; want a day from 2027-03-01 to 2028-02-28"
    ):
        a_reach().date_of_reaching(tempo_bpm=100.0, time_s=60.0, last=last)


@pytest.mark.parametrize("tempo_bpm", [0.0, 19.9, 401.0, -5.0, math.nan, math.inf])
def test_tempos_that_cannot_be_are_refused(tempo_bpm):
    """Every question that takes a tempo says what it got and what is wanted."""
    reach = a_reach()
    said = f"tempo_bpm = {tempo_bpm:g} is not a tempo; want 20 to 400"
    with pytest.raises(BadTempo, match=said):
        reach.hold_time_s(tempo_bpm)
    with pytest.raises(BadTempo, match=said):
        reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=60.0)
    with pytest.raises(BadTempo, match=said):
        reach.date_of_reaching(tempo_bpm=tempo_bpm, time_s=60.0, last=DAY)
    with pytest.raises(BadTempo, match=said):
        reach.draw_hold_s(tempo_bpm, np.random.default_rng(1), 5)


@pytest.mark.parametrize("time_s", [0.0, 0.4, 14401.0, -1.0, math.nan, math.inf])
def test_times_that_cannot_be_are_refused(time_s):
    """Every question that takes a time says what it got and what is wanted."""
    reach = a_reach()
    said = f"time_s = {time_s:g} cannot be; want 0.5 to 14400 seconds"
    with pytest.raises(InputError, match=said):
        reach.tempo_held_bpm(time_s)
    with pytest.raises(InputError, match=said):
        reach.chance_of_holding(tempo_bpm=100.0, time_s=time_s)
    with pytest.raises(InputError, match=said):
        reach.date_of_reaching(tempo_bpm=100.0, time_s=time_s, last=DAY)


def test_draws_of_several_laws_are_told_together():
    """With a third of the draws of each law, the median at 240 s is that of the middle curve."""
    reach = a_reach(draws=3)
    law = np.array([0, 1, 2])
    draws = replace(
        reach.draws,
        law=law,
        steepness_bpm=np.full(3, 4.0),
        top_s=np.array([0.0, 6.0, 0.0]),
    )
    tops = (0.0, 6.0, 0.0)
    curves = [Curve(name, 100.0, 4.0, top_s) for name, top_s in zip(LAWS, tops, strict=True)]
    told = replace(reach, draws=draws).tempo_held_bpm(240.0)
    ordered = sorted(float(curve.tempo_bpm(240.0)) for curve in curves)
    assert [told.low80, told.median, told.high80] == pytest.approx(ordered)
    held = replace(reach, draws=draws).hold_time_s(104.0)
    ordered = sorted(float(curve.time_s(104.0)) for curve in curves)
    assert [held.low80, held.median, held.high80] == pytest.approx(ordered)
