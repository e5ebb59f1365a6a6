"""Checks of technique as a whole."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import BadTimes
from loosehand.judge.technique import hear_technique
from tests.judge.held_scenes import hand, shifted, some


def test_a_drive_of_four_with_a_late_place():
    """A minute of fours with its last place late is told with drive, contrast and main fault."""
    heard = hear_technique(shifted(hand(drive=4, spread_ms=6.0), 3, late_ms=10.0))
    assert heard.drive.strokes == 4
    assert heard.shape.contrast_db.told == pytest.approx(8.0, abs=0.4)
    assert (heard.main_fault.place, heard.main_fault.kind) == (3, "late")
    assert "accents of the count" in heard.notes[0]


def test_taps_that_swell_over_the_minute_are_the_main_fault():
    """4 dB of swell in a minute of 400 strokes are named with their size over what was held."""
    held = hand(drive=4)
    share = held.place_index / held.place_index[-1]
    louder = held.level_db + 4.0 * share * (held.place_index % 4 > 0)
    heard = hear_technique(replace(held, level_db=louder))
    assert (heard.main_fault.kind, heard.main_fault.place) == ("taps swell", None)
    assert heard.main_fault.effect == pytest.approx(4.0, abs=0.8)
    assert heard.doubtful_fault is None
    half = held.place_index < 200
    shorter = hear_technique(some(replace(held, level_db=louder), half))
    slope = shorter.shape.tap_trend_db_per_minute.told
    named = shorter.main_fault or shorter.doubtful_fault
    assert named.effect == pytest.approx(0.5 * slope, rel=0.01)


def test_single_strokes_have_no_shape():
    """Of single strokes no contrast is told, and a note says what else would sound like them."""
    heard = hear_technique(hand())
    assert heard.drive.strokes == 1
    assert heard.shape.contrast_db.told is None
    assert "played without accents" in heard.notes[0]


def test_threes_at_four_places_need_no_note():
    """A drive that wanders through the count is told without a note."""
    assert hear_technique(hand(drive=3)).notes == ()


def test_a_short_hold_says_why():
    """35 strokes are too few, and the note says how many there were."""
    heard = hear_technique(hand(strokes=35))
    assert (heard.drive, heard.push_pull, heard.main_fault) == (None, None, None)
    assert "got 35 strokes" in heard.notes[0]


def test_what_cannot_be_told_names_both_that_fit():
    """Between singles and twos the note names the two, and no shape is told."""
    heard = hear_technique(hand(drive=2, contrast_db=2.75, spread_db=0.5))
    assert heard.drive.strokes is None
    assert heard.notes[0].startswith("How many strokes come on a drive cannot be told: ")
    assert heard.shape.contrast_db.told is None
    assert heard.faults == ()


def test_strokes_that_are_no_row_are_refused():
    """Levels that are not finite are refused."""
    held = hand()
    held.level_db[3] = np.nan
    with pytest.raises(BadTimes, match="level_db"):
        hear_technique(held)


@pytest.mark.parametrize("places_per_count", [1, 2, 3, 5, 8])
def test_other_grids_are_told_too(places_per_count):
    """Threes are told on grids of one, two, three, five and eight places."""
    heard = hear_technique(hand(drive=3, strokes=600, places_per_count=places_per_count))
    assert heard.drive.strokes == 3


def test_no_strokes_at_all():
    """No stroke is too few, and no error."""
    assert hear_technique(some(hand(), np.zeros(400, dtype=bool))).drive is None


@pytest.mark.parametrize("accents", [(0,), (0, 8), (2, 6, 10, 14), (0, 3, 6, 10, 12)])
@pytest.mark.parametrize("seed", range(3))
def test_what_a_part_asks_in_level_is_no_fault(accents, seed):
    """Accents of 9 dB are named loud or uneven without the part, and nothing with it."""
    plain = hand(seed)
    asked_db = 9.0 * np.isin(plain.place_index % 16, accents)
    held = replace(plain, level_db=plain.level_db + asked_db)
    heard = hear_technique(held, asked_db=asked_db - asked_db.mean())
    blind = hear_technique(held)
    assert heard.main_fault is None
    assert [fault for fault in heard.faults if fault.kind in ("loud", "soft")] == []
    assert not heard.push_pull.level_uneven
    assert (heard.drive, heard.shape, heard.notes) == (blind.drive, blind.shape, blind.notes)
    if accents == (0,) and seed > 0:
        assert blind.main_fault.kind == "loud"


def test_a_soft_place_is_found_beneath_what_a_part_asks():
    """Two decibels and a half under accents of nine."""
    plain = hand(2)
    asked_db = 9.0 * np.isin(plain.place_index % 16, (0, 3, 6, 10, 12))
    held = shifted(replace(plain, level_db=plain.level_db + asked_db), 1, level_db=-2.5)
    heard = hear_technique(held, asked_db=asked_db - asked_db.mean())
    assert (heard.main_fault.kind, heard.main_fault.place) == ("soft", 1)
    assert heard.main_fault.effect == pytest.approx(2.5, abs=0.6)
