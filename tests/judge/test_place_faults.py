"""Checks of places that are off."""

import numpy as np
import pytest

from loosehand.judge.cycle_profile import cycle_of, cycle_profile
from loosehand.judge.place_faults import (
    FAULT_KINDS,
    HEARD_LEVEL_DB,
    heard_displacement_ms,
    place_faults,
)
from tests.judge.held_scenes import hand, shifted


def faults_of(held, *drives):
    """Find the faults of a hand whose drive is one of some; single strokes with none given."""
    cycle = cycle_of(held.places_per_count)
    return place_faults(
        cycle_profile(held, held.level_db, cycle=cycle),
        cycle_profile(held, 1e3 * held.asynchrony_s, cycle=cycle),
        places_per_count=held.places_per_count,
        place_ms=1e3 * held.place_s,
        drives=drives or ((1, 0),),
    )


def named(faults):
    """Place and kind of each."""
    return [(fault.place, fault.kind) for fault in faults]


@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"late_ms": 9.0}, "late"),
        ({"late_ms": -9.0}, "early"),
        ({"level_db": -2.5}, "soft"),
        ({"level_db": 2.5}, "loud"),
    ],
)
def test_one_place_off_is_the_one_fault(place, change, kind):
    """One place off by 9 ms or 2.5 dB is found, nothing else is, and its size is right."""
    (fault,) = faults_of(shifted(hand(spread_ms=6.0), place, **change))
    assert (fault.place, fault.kind) == (place, kind)
    planted = abs(next(iter(change.values())))
    assert fault.effect == pytest.approx(planted, rel=0.25)
    assert fault.low < fault.effect < fault.high
    assert fault.heard


def test_even_hands_have_no_fault():
    """Of 200 even hands at most 4 have any fault."""
    assert sum(bool(faults_of(hand(seed, strokes=240))) for seed in range(200)) <= 4


def test_the_taps_of_a_drive_are_no_fault():
    """Taps 9 dB below their accent, falling off from tap to tap, are what a drive sounds like."""
    held = hand(drive=4, contrast_db=9.0, decay_db=0.8)
    assert faults_of(held, (4, 0)) == ()
    assert faults_of(held, (1, 0)) != ()


@pytest.mark.parametrize("place", [1, 2, 3])
def test_a_soft_tap_of_a_drive_is_found(place):
    """A tap of a drive as long as the count, softer by 3 dB than the fall has it, is found."""
    held = shifted(hand(drive=4, decay_db=0.5), place, level_db=-3.0)
    assert named(faults_of(held, (4, 0))) == [(place, "soft")]


def test_the_stroke_after_the_accent_may_come_late():
    """5 ms after the one accent of a count is no fault, 12 ms is; without a drive 5 ms is one."""
    held = shifted(hand(drive=4, spread_ms=3.0), 1, late_ms=5.0)
    assert named(faults_of(held, (4, 0))) == []
    assert named(faults_of(held, (1, 0)))[0] == (1, "late")
    assert named(faults_of(shifted(held, 1, late_ms=12.0), (4, 0))) == [(1, "late")]


def test_two_late_places_are_both_found():
    """Two places late by 15 and 10 ms are both found, the worse first."""
    held = shifted(shifted(hand(spread_ms=5.0), 1, late_ms=15.0), 3, late_ms=10.0)
    assert named(faults_of(held)) == [(1, "late"), (3, "late")]


def test_of_two_places_the_late_or_soft_one_is_named():
    """With two places a count, the late one and the soft one are named, not their neighbours."""
    held = hand(places_per_count=2, spread_ms=5.0)
    assert named(faults_of(shifted(held, 0, late_ms=9.0))) == [(0, "late")]
    assert named(faults_of(shifted(held, 1, level_db=-2.5))) == [(1, "soft")]


def test_a_fault_must_be_one_with_every_drive_that_may_be_it():
    """Between singles and twos, softer odd strokes are no fault, one still softer of them is."""
    held = hand(drive=2, contrast_db=2.5)
    assert named(faults_of(held, (1, 0))) != []
    assert faults_of(held, (1, 0), (2, 0)) == ()
    softer = shifted(held, 3, level_db=-2.5)
    (fault,) = faults_of(softer, (1, 0), (2, 0))
    assert (fault.place, fault.kind) == (3, "soft")
    assert fault.effect == min(
        one.effect
        for drive in ((1, 0), (2, 0))
        for one in faults_of(softer, drive)
        if one.place == 3
    )


def test_a_listed_fault_may_lie_below_what_is_heard():
    """A fault of 5 ms is listed as one that is not heard."""
    faults = faults_of(shifted(hand(spread_ms=2.0), 3, late_ms=5.0))
    assert named(faults) == [(3, "late")]
    assert not faults[0].heard


def test_one_place_a_count_has_nothing_to_be_off_against():
    """With one place a count there is no fault."""
    assert faults_of(hand(places_per_count=1)) == ()


def test_thresholds_and_kinds():
    """The kinds are four, the threshold of level is positive, that of timing 6 ms and more."""
    assert len(FAULT_KINDS) == 4
    assert HEARD_LEVEL_DB > 0.0
    heard = [heard_displacement_ms(interval) for interval in np.arange(100.0, 1001.0, 25.0)]
    assert heard == sorted(heard)
    assert heard[0] == 6.0


@pytest.mark.parametrize("interval_ms", [50.0, 75.0, 99.0])
def test_below_the_intervals_that_were_tried_the_threshold_is_ours(interval_ms):
    """Nobody's figure: below 100 ms, where the source has none, we keep its 6 ms."""
    assert heard_displacement_ms(interval_ms) == 6.0
