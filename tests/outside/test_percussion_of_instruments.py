"""The sounds of our instruments against the percussion map of General MIDI."""

import re
from inspect import getsource

import pytest
from music21.midi.percussion import PercussionMapper

from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.percussion import PERCUSSION


@pytest.mark.published(
    source="MIDI Manufacturers Association, General MIDI System Level 1 (RP-003)",
    locator="percussion key map, channel 10, as in the documentation of Rust package midi-msg",
    kind="printed",
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


@pytest.mark.published(
    source="Python package music21 10.5.1, PercussionMapper, after General MIDI Level 1",
    locator="instrument of each percussion note that the package has a class for",
    kind="reference-run",
)
@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("kick", "BassDrum"),
        ("cross-stick", "SnareDrum"),
        ("snare", "SnareDrum"),
        ("hat", "HiHatCymbal"),
        ("floor tom", "TomTom"),
        ("foot hat", "HiHatCymbal"),
        ("open hat", "HiHatCymbal"),
        ("mid tom", "TomTom"),
        ("crash", "CrashCymbals"),
        ("high tom", "TomTom"),
        ("cowbell", "Cowbell"),
    ],
)
def test_another_library_hears_the_same_instrument(name, kind):
    """The note of our instrument is one of the same kind in the other library."""
    found = PercussionMapper().midiPitchToInstrument(INSTRUMENTS[name].midi_note)
    assert type(found).__name__ == kind


@pytest.mark.published(
    source="Python package music21 10.5.1, PercussionMapper, after General MIDI Level 1",
    locator="names beside the notes in its source: all 47 sounds, 35 to 81",
    kind="reference-run",
)
def test_another_library_names_the_same_sounds():
    """Every name is ours, but for hyphens, spaces and 'hi' for 'high'."""
    row = re.compile(r"(\d\d): i\.(\w[\w .-]*),(?: +# ([\w -]+))?")
    rows = row.findall(getsource(PercussionMapper))
    theirs = {int(note): _plain(told or word) for note, word, told in rows}
    assert theirs == {note: _plain(sound) for note, sound in PERCUSSION.items()}


def _plain(name):
    """A name without hyphens and spaces, 'hi' written out, a class name as words."""
    words = name.lower().replace("-", " ").split()
    return "".join("high" if word == "hi" else word for word in words)
