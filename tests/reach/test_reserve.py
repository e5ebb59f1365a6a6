"""How the reserve runs down and comes back."""

import math

import numpy as np
import pytest

from loosehand.reach.reserve import RECOVERY_S, RECOVERY_SHARES, recovered, reserve_after


def test_above_the_critical_rate_the_reserve_runs_down_in_a_line():
    """Ten over the critical rate for 30 s cost 300; twice the time costs twice that."""
    spent = [
        1000.0
        - reserve_after(1000.0, rate=100, critical_rate=90, capacity=2000.0, duration_s=duration_s)
        for duration_s in (30.0, 60.0)
    ]
    assert spent == [300.0, 600.0]


def test_at_the_critical_rate_the_reserve_stays():
    """A rate that is just sustainable neither costs nor gives back."""
    left = reserve_after(700.0, rate=90, critical_rate=90, capacity=1000.0, duration_s=600.0)
    assert left == 700.0


def test_under_the_critical_rate_it_comes_back_as_the_differential_form_says():
    """Small steps of d left = spare * (1 - left/capacity) dt end where the closed form does."""
    capacity, spare, left, steps = 1000.0, 30.0, 200.0, 20000
    for _ in range(steps):
        left += spare * (1.0 - left / capacity) * 45.0 / steps
    closed = reserve_after(200.0, rate=60, critical_rate=90, capacity=capacity, duration_s=45.0)
    assert closed == pytest.approx(left, abs=0.05)


def test_a_rest_is_playing_at_no_rate():
    """Recovery at rest is the closed form at rate 0, with capacity / critical rate as its time."""
    share = recovered(np.array([0.2]), rest_s=np.array([25.0]), recovery_s=1000.0 / 90.0)
    whole = reserve_after(200.0, rate=0, critical_rate=90, capacity=1000.0, duration_s=25.0)
    assert share[0] == pytest.approx(whole / 1000.0)


def test_a_time_constant_gives_back_all_but_one_e_th():
    """After one time constant 1/e of what was spent is still missing; after no rest all of it."""
    rest_s = np.array([0.0, 30.0, 60.0, 3000.0])
    share = recovered(np.full(4, 0.4), rest_s=rest_s, recovery_s=30.0)
    missing = 0.6 * np.array([1.0, math.exp(-1.0), math.exp(-2.0), 0.0])
    assert share == pytest.approx(1.0 - missing)


def test_two_rests_are_one_long_one():
    """Resting 20 s and then 40 s gives back what resting for a minute does."""
    start = np.array([0.1])
    first = recovered(start, rest_s=np.array([20.0]), recovery_s=35.0)
    both = recovered(first, rest_s=np.array([40.0]), recovery_s=35.0)
    assert both[0] == pytest.approx(recovered(start, rest_s=np.array([60.0]), recovery_s=35.0)[0])


def test_the_recoveries_stand_about_the_usual_one():
    """The usual one has the greatest share; one is about as many times longer as one is shorter."""
    usual_s, short_s, long_s = RECOVERY_S
    assert sum(RECOVERY_SHARES) == pytest.approx(1.0)
    assert RECOVERY_SHARES[0] > max(RECOVERY_SHARES[1:])
    assert short_s < usual_s < long_s
    assert math.log(long_s / usual_s) == pytest.approx(math.log(usual_s / short_s), abs=0.1)
