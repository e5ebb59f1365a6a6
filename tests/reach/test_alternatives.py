"""When practice curves reach a target, beside the straight line."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from loosehand.errors import InputError, NotIdentifiable
from loosehand.reach.alternatives import dates_by_curve
from loosehand.reach.laws import Curve
from tests.reach.known_reach import DAY, a_reach

LAST = DAY + timedelta(days=300)


def played(levels, *, sd_bpm=0.5, curve=None):
    """Return a reach whose days, every second one, say these levels by themselves."""
    curve = curve or Curve("log-linear", float(levels[-1]), 4.0)
    reach = a_reach(curve, days=len(levels))
    first = DAY - timedelta(days=2 * (len(levels) - 1))
    days = tuple(
        replace(
            each,
            day=first + timedelta(days=2 * place),
            own_bpm=float(level),
            own_sd_bpm=float(sd),
        )
        for place, (each, level, sd) in enumerate(
            zip(reach.days, levels, np.broadcast_to(sd_bpm, len(levels)), strict=True)
        )
    )
    return replace(reach, days=days, first_day=first)


def curves_of(reach, *, tempo_bpm, time_s=60.0, last=LAST):
    """Return what each curve says of a target, by name."""
    found = dates_by_curve(reach, tempo_bpm=tempo_bpm, time_s=time_s, last=last)
    return {each.curve: each for each in found}


def rising(days=60, *, a_day=0.1, noise_bpm=0.3, seed=1):
    """Return levels on every second day of a straight rise to 100."""
    day = 2.0 * np.arange(days)
    return 100.0 + a_day * (day - day[-1]) + np.random.default_rng(seed).normal(0, noise_bpm, days)


def flattening(days=60, *, scale=25.0, noise_bpm=0.3, seed=2):
    """Return levels on every second day that near 100 by an exponential from 85."""
    day = 2.0 * np.arange(days)
    return (
        100.0 - 15.0 * np.exp(-day / scale) + np.random.default_rng(seed).normal(0, noise_bpm, days)
    )


def test_there_is_one_of_each_curve_the_likeliest_first():
    """Three curves, weights that sum to 1, falling."""
    found = dates_by_curve(played(rising()), tempo_bpm=103.0, time_s=60.0, last=LAST)
    assert {each.curve for each in found} == {"straight", "exponential", "power"}
    weights = [each.weight for each in found]
    assert sum(weights) == pytest.approx(1.0)
    assert weights == sorted(weights, reverse=True)


def test_a_straight_rise_reaches_its_target_on_the_day_of_the_line():
    """At 0.1 a day, 3 over today is some 30 days away."""
    straight = curves_of(played(rising()), tempo_bpm=103.0)["straight"]
    assert straight.asymptote_bpm is None
    assert (straight.reached - DAY).days == pytest.approx(30, abs=6)
    assert straight.level_bpm == pytest.approx(130.0, abs=3.0)


def test_a_curve_that_levels_off_is_likelier_and_never_gets_there():
    """Of planted levelling off the exponential outweighs the line, and 106 is out of its reach."""
    found = curves_of(played(flattening()), tempo_bpm=106.0)
    exponential = found["exponential"]
    assert exponential.weight > 10.0 * found["straight"].weight
    assert exponential.asymptote_bpm == pytest.approx(100.0, abs=1.5)
    assert exponential.reached is None
    assert found["straight"].reached is not None


def test_what_is_held_today_is_reached_today():
    """A target well under today's level is reached on the day told of by every curve."""
    for curve in curves_of(played(rising()), tempo_bpm=95.0).values():
        assert curve.reached == DAY


def test_a_longer_time_is_a_higher_target():
    """Four minutes at a tempo are reached as a minute is at the tempo the curve lies above it."""
    reach = played(rising(), curve=Curve("log-linear", 100.0, 2.0))
    higher = 2.0 * np.log(4.0)
    long = curves_of(reach, tempo_bpm=101.0, time_s=240.0)["straight"]
    short = curves_of(reach, tempo_bpm=101.0 + higher, time_s=60.0)["straight"]
    assert long.reached == short.reached
    assert long.reached > curves_of(reach, tempo_bpm=101.0)["straight"].reached


def test_after_the_last_day_nothing_is_reached():
    """A target 3 away at 0.1 a day is not reached in ten days."""
    soon = DAY + timedelta(days=10)
    assert curves_of(played(rising()), tempo_bpm=103.0, last=soon)["straight"].reached is None


def test_days_that_say_nothing_do_not_count():
    """A day whose own spread is 30 or more is no day; two that tell are too few."""
    levels = rising(5)
    with pytest.raises(NotIdentifiable, match="2 days tell of no practice curve: play on 3"):
        dates_by_curve(
            played(levels, sd_bpm=[0.5, 0.5, 30.0, 99.0, 31.0]),
            tempo_bpm=103.0,
            time_s=60.0,
            last=LAST,
        )
    wild = np.append(rising(), 150.0)
    told = curves_of(played(wild, sd_bpm=[0.5] * 60 + [40.0]), tempo_bpm=103.0)["straight"]
    plain = curves_of(played(rising()), tempo_bpm=103.0)["straight"]
    assert told.level_bpm == pytest.approx(plain.level_bpm, abs=0.5)


def test_times_that_cannot_be_are_refused():
    """A time out of range is refused as in the reach itself."""
    with pytest.raises(InputError, match="time_s = 0 cannot be"):
        dates_by_curve(played(rising()), tempo_bpm=103.0, time_s=0.0, last=LAST)
