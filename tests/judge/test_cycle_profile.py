"""Checks of the profile over a cycle and of its noise."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.judge.cycle_profile import cycle_of, cycle_profile, straight_part
from tests.judge.held_scenes import correlated, hand, some

PLANTED = np.array([4.0, -1.0, 0.0, -3.0, 2.0, 1.0, 0.5, -0.5, -2.0, 3.0, -3.5, -0.5])


@pytest.mark.parametrize("places_per_count", range(1, 13))
def test_a_cycle_holds_counts_and_drives_whole(places_per_count):
    """Counts and drives of 1 to 4 strokes go into a cycle without rest."""
    cycle = cycle_of(places_per_count)
    assert [cycle % part for part in (places_per_count, 1, 2, 3, 4)] == [0] * 5


def test_planted_means_come_back():
    """Twelve planted means come back within four of their errors, over a slow bend."""
    held = hand(strokes=480)
    bend = 3.0 * np.sin(np.arange(480) / 90.0)
    series = PLANTED[held.place_index % 12] + bend + correlated(np.random.default_rng(2), 480)
    profile = cycle_profile(held, series, cycle=12)
    error = np.sqrt(np.diag(profile.covariance))
    assert np.all(np.abs(profile.mean - (PLANTED - PLANTED.mean())) < 4.0 * error)
    assert profile.cycles == 40.0


@pytest.mark.parametrize("lag1", [0.0, 0.5, 0.8])
def test_errors_are_as_large_as_chance(lag1):
    """Odd against even, and place against place, miss by one stated error on average."""
    rows = np.zeros((2, 12))
    rows[0, ::2], rows[0, 1::2] = 1 / 6, -1 / 6
    rows[1, :] = np.where(np.arange(12) % 4 == 1, 1 / 3, -1 / 9)
    held, missed = hand(strokes=360), []
    for seed in range(200):
        series = correlated(np.random.default_rng(seed), 360, lag1=lag1)
        sums, errors = straight_part(cycle_profile(held, series, cycle=12), rows)
        missed.append(sums / errors)
    assert np.std(missed, axis=0) == pytest.approx([1.0, 1.0], abs=0.16)


def test_a_wild_stroke_is_drawn_in():
    """One stroke 40 dB off moves no mean by half a decibel."""
    held = hand(strokes=360)
    wild = held.level_db.copy()
    wild[100] -= 40.0
    calm, shaken = (cycle_profile(held, level, cycle=12) for level in (held.level_db, wild))
    assert np.max(np.abs(calm.mean - shaken.mean)) < 0.5


def test_gaps_are_no_hindrance():
    """With every ninth stroke left out the means stay within their errors."""
    held = hand(strokes=480)
    series = PLANTED[held.place_index % 12] + np.random.default_rng(5).normal(size=480)
    kept = np.random.default_rng(4).random(480) > 0.11
    profile = cycle_profile(some(held, kept), series[kept], cycle=12)
    error = np.sqrt(np.diag(profile.covariance))
    assert np.all(np.abs(profile.mean - (PLANTED - PLANTED.mean())) < 4.0 * error)


def test_too_few_strokes_have_no_profile():
    """A place played twice, or no stroke at all, gives None."""
    held = hand(strokes=35)
    assert cycle_profile(held, held.level_db, cycle=12) is None
    nothing = some(held, np.zeros(35, dtype=bool))
    assert cycle_profile(nothing, nothing.level_db, cycle=12) is None
    assert cycle_profile(hand(strokes=36), hand(strokes=36).level_db, cycle=12) is not None


def test_silent_spread_is_no_fault():
    """Strokes without any spread give a finite profile."""
    held = replace(hand(strokes=120), level_db=np.zeros(120))
    profile = cycle_profile(held, held.level_db, cycle=12)
    assert np.all(np.isfinite(profile.covariance))
    assert np.allclose(profile.mean, 0.0)
