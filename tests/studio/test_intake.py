"""Takes brought in, heard as they are kept, filed."""

from dataclasses import replace

import mido
import numpy as np
import pytest
import soundfile

from loosehand.errors import InputError, MediaError
from loosehand.studio.chart import chart_rounds
from loosehand.studio.intake import bring_take, check_can_be_read, hear_and_file
from loosehand.studio.sound import stored_names
from tests.blank_studio import new_studio

RATE_HZ = 22050


@pytest.fixture
def wav(tmp_path):
    """Write a second of noise in two channels, seed 11."""
    noise = np.random.default_rng(11).normal(scale=0.1, size=(RATE_HZ, 2))
    soundfile.write(tmp_path / "take.wav", noise, RATE_HZ)
    return tmp_path / "take.wav"


@pytest.fixture
def midi(tmp_path):
    """Write a MIDI file of one stroke."""
    track = mido.MidiTrack([mido.Message("note_on", note=38, velocity=90, time=0)])
    mido.MidiFile(tracks=[track]).save(tmp_path / "take.mid")
    return tmp_path / "take.mid"


def _hearing(judged, heard):
    """Return an ear that notes what it was given."""

    def hear(path, told):
        heard.append((path.suffix, path.read_bytes(), told))
        return judged

    return hear


def _played(judged):
    """Return a reading in which somebody plays."""
    return replace(judged, body={**judged.body, "strokes": [{}]})


def test_what_is_heard_is_what_is_kept(studio, row, told, judged, now, wav):
    """The number on the chart is read from the stored sound, to the byte."""
    heard = []
    bare = replace(row, count_held=None, ended=None)
    hearing = _hearing(_played(judged), heard)
    place, body = hear_and_file(studio, wav, bare, told, hearing=hearing, now=now)
    ((kind, content),) = stored_names(studio.folder)
    (path,) = (studio.folder / "sound").glob("??/*")
    assert (kind, path.stem) == ("sound", content)
    assert heard[0][:2] == (".flac", path.read_bytes())
    assert body["count_held"] == 37
    with studio.look() as session:
        (found,) = chart_rounds(session, player="Ines")
    assert (found.row.order, found.row.count_held) == (place.order, 37)


def test_a_midi_file_is_heard_and_kept_as_it_is(studio, row, told, judged, now, midi):
    """A MIDI file is not turned into anything else."""
    heard = []
    bare = replace(row, count_held=None, ended=None)
    hear_and_file(studio, midi, bare, told, hearing=_hearing(_played(judged), heard), now=now)
    assert heard[0][1] == midi.read_bytes()
    assert {kind for kind, _ in stored_names(studio.folder)} == {"midi"}


def test_a_take_in_which_nobody_plays_is_not_filed(studio, row, told, judged, now, wav):
    """An empty recording leaves nothing behind."""
    silent = replace(judged, body={**judged.body, "count_held": 0, "strokes": []})
    place, body = hear_and_file(studio, wav, row, told, hearing=lambda *_: silent, now=now)
    assert place is None
    assert body["count_held"] == 0
    assert stored_names(studio.folder) == set()
    with studio.look() as session:
        assert chart_rounds(session, player=None) == []


def test_a_failing_ear_leaves_nothing(studio, row, told, now, wav):
    """Where hearing fails, nothing is half filed."""

    def fail(path, told):
        raise MediaError("not sound after all")

    with pytest.raises(MediaError):
        hear_and_file(studio, wav, row, told, hearing=fail, now=now)
    assert stored_names(studio.folder) == set()
    assert list((studio.folder / "incoming").iterdir()) == []


def test_what_was_seen_of_the_file_is_told(studio, told, wav):
    """A recording that was cut off says so, though its stored sound is whole."""
    whole = wav.read_bytes()
    wav.write_bytes(whole[: len(whole) // 2])
    with bring_take(studio.folder, wav, told) as (incoming, seen):
        assert incoming.kind == "sound"
        assert any("cut off" in note for note in seen.more_notes)


@pytest.mark.parametrize("content", [b"", b"this is text, not sound", b"RIFF\x00\x00", b"MThd\x00"])
def test_what_is_no_take_is_refused_before_a_studio_is_made(tmp_path, content):
    """A file that is neither sound nor MIDI is refused by itself."""
    (tmp_path / "take.wav").write_bytes(content)
    with pytest.raises(MediaError):
        check_can_be_read(tmp_path / "take.wav")


def test_what_is_not_there_is_refused(tmp_path):
    """A file that is missing, or a folder, is refused."""
    for path in (tmp_path / "none.wav", tmp_path):
        with pytest.raises(InputError):
            check_can_be_read(path)


def test_a_long_recording_is_brought_in_block_by_block(tmp_path, told):
    """Ten minutes of sound pass through in blocks, and keep their length."""
    noise = np.random.default_rng(2).integers(-3000, 3000, 8000 * 600).astype(np.int16)
    soundfile.write(tmp_path / "long.flac", noise, 8000)
    opened = new_studio(tmp_path / "studio", busy_timeout_s=0.2)
    with bring_take(opened.folder, tmp_path / "long.flac", told) as (incoming, _):
        assert soundfile.info(incoming.path).frames == noise.size
        assert np.array_equal(soundfile.read(incoming.path, dtype="int16")[0], noise)
    opened.close()
