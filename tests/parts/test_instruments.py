"""The table of instruments."""

import pytest

from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.percussion import PERCUSSION


def test_each_instrument_stands_under_its_own_name():
    """The key of the table is the name."""
    assert all(name == instrument.name for name, instrument in INSTRUMENTS.items())


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_each_instrument_has_a_sound_of_general_midi(name):
    """The note number is one of the percussion key map."""
    assert INSTRUMENTS[name].midi_note in PERCUSSION


def test_only_the_hats_held_by_the_foot_share_a_note():
    """No two instruments share a note number, but for the open and the half-open hat."""
    notes = [instrument.midi_note for instrument in INSTRUMENTS.values()]
    shared = {name for name, of in INSTRUMENTS.items() if notes.count(of.midi_note) > 1}
    assert shared == {"open hat", "half-open hat"}


def test_feet_play_kick_and_foot_hat_alone():
    """Two instruments belong to the feet."""
    assert {name for name, of in INSTRUMENTS.items() if of.by_foot} == {"kick", "foot hat"}


def test_instruments_on_one_line_differ_in_sound_and_never_cross_hands_and_feet():
    """What shares a place on the staff is played by the same kind of limb."""
    by_place = {}
    for instrument in INSTRUMENTS.values():
        place = (instrument.display_step, instrument.display_octave)
        by_place.setdefault(place, set()).add(instrument.by_foot)
    assert all(len(kinds) == 1 for kinds in by_place.values())
