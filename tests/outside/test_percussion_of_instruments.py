"""The sounds of our instruments against the percussion map of General MIDI."""

import pytest

from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.percussion import PERCUSSION


@pytest.mark.published(
    source="MIDI Manufacturers Association, General MIDI System Level 1 (RP-003)",
    locator="percussion key map, channel 10",
    kind="from-memory",
)
@pytest.mark.parametrize(
    ("name", "note", "sound"),
    [
        ("kick", 36, "Bass Drum 1"),
        ("cross-stick", 37, "Side Stick"),
        ("snare", 38, "Acoustic Snare"),
        ("hat", 42, "Closed Hi-Hat"),
        ("floor tom", 43, "High Floor Tom"),
        ("foot hat", 44, "Pedal Hi-Hat"),
        ("open hat", 46, "Open Hi-Hat"),
        ("mid tom", 47, "Low-Mid Tom"),
        ("crash", 49, "Crash Cymbal 1"),
        ("high tom", 50, "High Tom"),
        ("ride", 51, "Ride Cymbal 1"),
        ("china", 52, "Chinese Cymbal"),
        ("ride bell", 53, "Ride Bell"),
        ("splash", 55, "Splash Cymbal"),
        ("cowbell", 56, "Cowbell"),
    ],
)
def test_an_instrument_has_its_note_of_general_midi(name, note, sound):
    """The note number of the instrument names its sound in the percussion map."""
    assert INSTRUMENTS[name].midi_note == note
    assert PERCUSSION[note] == sound
