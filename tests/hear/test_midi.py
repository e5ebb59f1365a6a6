"""From MIDI notes to strokes."""

import numpy as np
import pytest

from loosehand.errors import InputError, UnsupportedMidi
from loosehand.hear.midi import midi_strokes, notes_assumed, velocity_to_level_db
from loosehand.hear.midi_file import MidiFile, NoteOn, TempoMap


def _midi(*notes):
    return MidiFile(
        file_format=0,
        tracks=1,
        tempo_map=TempoMap(480, None, ((0, 500_000),)),
        time_signatures=(),
        notes=tuple(NoteOn(tick, note, velocity, 9, 0) for tick, note, velocity in notes),
        end_tick=max((note[0] for note in notes), default=0),
        remarks=(),
    )


SIXTEENTHS = [(120 * n, 38, 100 if n % 4 == 0 else 50) for n in range(64)]


def test_notes_become_strokes():
    """Times are those of the ticks, exactly; levels are those of the velocities."""
    strokes = midi_strokes(_midi(*SIXTEENTHS), notes=None)
    assert strokes.time_s.tolist() == [n / 8 for n in range(64)]
    assert strokes.level_db[0] - strokes.level_db[1] == pytest.approx(40 * np.log10(2))
    assert strokes.confidence.tolist() == [1.0] * 64
    assert strokes.timbre_db.shape == (64, 0)


def test_only_chosen_notes_are_strokes():
    """A foot under the hand does not count as a stroke of it."""
    midi = _midi(*sorted([*SIXTEENTHS, *((480 * n + 7, 36, 120) for n in range(16))]))
    assert len(midi_strokes(midi, notes=None)) == 80
    assert len(midi_strokes(midi, notes=[38])) == 64
    assert len(midi_strokes(midi, notes={36})) == 16


def test_notes_at_one_time_are_one_stroke():
    """Of two pads struck on the same tick the louder stands; times increase strictly."""
    strokes = midi_strokes(
        _midi((0, 38, 60), (0, 42, 90), (120, 38, 80), (120, 36, 20)), notes=None
    )
    assert strokes.time_s.tolist() == [0.0, 0.125]
    assert strokes.level_db.tolist() == velocity_to_level_db([90, 80]).tolist()


def test_a_file_without_notes_is_refused():
    """A MIDI file with nothing but tempo holds no take."""
    for notes in (None, [38]):
        with pytest.raises(UnsupportedMidi, match="holds no notes"):
            midi_strokes(_midi(), notes=notes)


def test_notes_that_are_not_there_are_refused():
    """The sentence names what was chosen and what there is."""
    midi = _midi((0, 38, 60), (5, 42, 90), (9, 12, 3))
    with pytest.raises(
        InputError, match=r"chosen \(36, 40\); it holds 12, 38 \(Acoustic Snare\), 42"
    ):
        midi_strokes(midi, notes=[40, 36])


def test_taking_all_of_several_notes_is_said():
    """Where several notes were hit and none chosen, that is an assumption."""
    several = _midi((0, 38, 60), (5, 42, 90))
    assert notes_assumed(several, notes=None) == (
        "All notes were taken as strokes: 38 (Acoustic Snare), 42 (Closed Hi-Hat).",
    )
    assert notes_assumed(several, notes=[38]) == ()
    assert notes_assumed(_midi((0, 38, 60), (9, 38, 90)), notes=None) == ()


def test_level_falls_with_velocity():
    """Every step of velocity is a step of level, and the greatest is 0 dB."""
    level_db = velocity_to_level_db(np.arange(1, 128))
    assert np.all(np.diff(level_db) > 0)
    assert level_db[-1] == 0.0
