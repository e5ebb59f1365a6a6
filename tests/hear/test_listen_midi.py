"""Checks of hearing a MIDI take."""

import pytest

from loosehand.errors import InputError
from loosehand.hear.decode import read_midi
from loosehand.hear.listen_midi import listen_midi
from tests.hear.midi_takes import write_midi
from tests.hear.scenes import jittered, request


def midi_of(tmp_path, stroke_s, **options):
    """A MIDI take of such strokes."""
    return read_midi(write_midi(tmp_path / "take.mid", stroke_s, **options))


def test_strokes_on_the_files_beats(tmp_path):
    """Where the strokes keep to the file's tempo the counts lie on its beats."""
    stroke_s = jittered(2.4, 0.15, 80, sd_s=0.005)
    heard = listen_midi(midi_of(tmp_path, stroke_s), request(), notes=None)
    assert heard.strokes.time_s == pytest.approx(stroke_s, abs=0.001)
    assert heard.grid is not None
    assert heard.grid.source == "click"
    assert heard.grid.first_count_s == pytest.approx(2.4)
    assert heard.grid.counts_offered == 20


def test_strokes_off_the_files_beats(tmp_path):
    """Where the strokes lie between the file's places the counts come from the strokes."""
    stroke_s = jittered(2.4 + 0.07, 0.15, 80, sd_s=0.003)
    heard = listen_midi(midi_of(tmp_path, stroke_s), request(), notes=None)
    assert heard.grid is not None
    assert heard.grid.source == "strokes"
    assert heard.grid.first_count_s == pytest.approx(2.47, abs=0.005)


@pytest.mark.parametrize("file_bpm", [100.0, 120.0])
def test_tempo_from_the_strokes(tmp_path, file_bpm):
    """The tempo is found by the strokes, whatever the file's own tempo."""
    midi = midi_of(tmp_path, jittered(2.4, 0.15, 200, sd_s=0.003), tempo_bpm=file_bpm)
    heard = listen_midi(midi, request(None), notes=None)
    assert heard.grid is not None
    assert heard.grid.tempo_bpm == pytest.approx(100.0, rel=1e-3)


def test_no_such_note(tmp_path):
    """Notes that are not in the file are asked for in vain, in a sentence."""
    with pytest.raises(InputError):
        listen_midi(midi_of(tmp_path, [1.0, 1.2]), request(), notes=frozenset({51}))
