"""Checks of how many strokes come on a drive."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.judge.cycle_profile import cycle_of, cycle_profile
from loosehand.judge.drive_length import PERIODS, PLAUSIBLE, SURE, drive_length
from tests.judge.held_scenes import hand


def told(held):
    """Return the drive length of a hand."""
    cycle = cycle_of(held.places_per_count)
    level = cycle_profile(held, held.level_db, cycle=cycle)
    timing = cycle_profile(held, 1e3 * held.asynchrony_s, cycle=cycle)
    return drive_length(level, timing, places_per_count=held.places_per_count)


@pytest.mark.parametrize("places_per_count", [3, 4, 6])
@pytest.mark.parametrize(
    ("drive", "phase"), [(2, 0), (2, 1), (3, 0), (3, 2), (4, 0), (4, 1), (4, 3)]
)
def test_drives_are_told_with_their_phase(drive, phase, places_per_count):
    """Drives of two, three and four are told on every phase and grid."""
    found = told(hand(drive=drive, phase=phase, places_per_count=places_per_count))
    assert (found.strokes, found.phase) == (drive, phase)
    assert found.with_the_count == (places_per_count % drive == 0)


def test_single_strokes_are_told():
    """Even strokes are single ones, with no phase."""
    found = told(hand())
    assert (found.strokes, found.phase, found.with_the_count) == (1, None, False)


def test_a_small_difference_is_no_drive():
    """Every second stroke 1 dB softer is no drive of two."""
    assert told(hand(drive=2, contrast_db=1.0, spread_db=0.5)).strokes != 2


def test_between_singles_and_twos_it_cannot_tell():
    """A contrast that even players and drives of two both show is not told, at some size."""
    sizes = np.arange(1.0, 6.0, 0.25)
    answers = [told(hand(drive=2, contrast_db=size, spread_db=0.5)).strokes for size in sizes]
    assert None in answers
    assert answers[-1] == 2
    assert answers == sorted(answers, key=lambda one: (1, None, 2).index(one))


def test_chances_are_those_of_all_periods():
    """Chances sum to one, and the confidence is the largest."""
    for drive in PERIODS:
        found = told(hand(drive=drive))
        assert sum(found.chances) == pytest.approx(1.0)
        assert found.confidence == max(found.chances)
        assert (found.strokes is None) == (found.confidence < SURE)
        assert found.plausible[0][0] == 1 + int(np.argmax(found.chances))


def test_what_is_plausible_is_kept():
    """Where one drive is told it stands alone; where none is, both that fit stand there."""
    assert told(hand(drive=3, phase=1)).plausible == ((3, 1),)
    open_ones = told(hand(drive=2, contrast_db=2.75, spread_db=0.5)).plausible
    assert sorted(open_ones) == [(1, 0), (2, 0)]
    assert PLAUSIBLE < SURE


def test_the_answer_does_not_hang_on_how_loud_the_take_is():
    """Forty decibels more change nothing."""
    held = hand(drive=3)
    louder = replace(held, level_db=held.level_db + 40.0)
    assert told(louder).chances == pytest.approx(told(held).chances, abs=1e-6)
