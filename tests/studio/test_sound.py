"""The sound of takes, kept by what is in it."""

import hashlib
import os
from datetime import UTC, datetime

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from loosehand.errors import StoreError
from loosehand.studio.database import open_studio
from loosehand.studio.sound import (
    content_sha256_of_flac,
    delete_content,
    incoming_midi,
    incoming_sound,
    keep,
    path_of_content,
    stored_names,
    sweep,
)

RATE_HZ = 44100


@pytest.fixture
def noise():
    """Return a second of noise, seed 7."""
    return np.random.default_rng(7).normal(scale=0.1, size=RATE_HZ).astype(np.float32)


def _stored(studio, samples):
    """Keep samples and return their content and file."""
    with incoming_sound(studio.folder, [samples], sample_rate_hz=RATE_HZ) as incoming:
        return incoming.content_sha256, keep(studio.folder, incoming)


def test_a_sound_is_kept_within_a_24_bit_step(studio, noise):
    """What is kept is what was given, to a 24-bit step."""
    _, path = _stored(studio, noise)
    kept, rate_hz = soundfile.read(path, dtype="float64")
    assert rate_hz == RATE_HZ
    assert np.max(np.abs(kept - noise)) <= 2.0**-23


def test_a_16_bit_sound_is_kept_exactly_and_takes_no_more_room(studio, noise):
    """Whole 16-bit numbers stay what they are, and 24 bits cost nothing."""
    whole = (np.rint(noise * 32768) / 32768).astype(np.float32)
    _, path = _stored(studio, whole)
    soundfile.write(studio.folder / "plain.flac", whole, RATE_HZ, subtype="PCM_16")
    assert np.array_equal(soundfile.read(path, dtype="float32")[0], whole)
    assert path.stat().st_size < 1.02 * (studio.folder / "plain.flac").stat().st_size


def test_a_sound_in_blocks_is_the_same_sound(studio, noise):
    """How the samples came does not matter."""
    whole, _ = _stored(studio, noise)
    blocks = np.split(noise, [100, 5000, 5001])
    with incoming_sound(studio.folder, blocks, sample_rate_hz=RATE_HZ) as incoming:
        assert incoming.content_sha256 == whole


def test_the_content_is_as_documented(studio, noise):
    """The name is the checksum of rate, channels, bits and samples, by the book."""
    content, path = _stored(studio, noise)
    samples, _ = soundfile.read(path, dtype="int32")
    by_hand = hashlib.sha256(b"44100/1/24\n" + samples.astype("<i4").tobytes()).hexdigest()
    assert content == by_hand == path.stem
    assert path == path_of_content(studio.folder, kind="sound", content_sha256=content)


def test_the_same_sound_is_kept_once(studio, noise):
    """A sound filed twice is one file, also when read back from the studio's own."""
    content, path = _stored(studio, noise)
    again, _ = _stored(studio, soundfile.read(path, dtype="float32")[0])
    assert again == content
    assert stored_names(studio.folder) == {("sound", content)}
    assert list((studio.folder / "incoming").iterdir()) == []


@settings(max_examples=30, deadline=None)
@given(
    arrays(
        np.float32,
        st.integers(1, 300),
        elements=st.floats(-2, 2, width=32),
    )
)
def test_any_samples_keep_their_name(tmp_path_factory, samples):
    """Whatever the samples, beyond full scale too, the kept file has the name it says."""
    folder = tmp_path_factory.mktemp("sounds")
    with incoming_sound(folder, [samples], sample_rate_hz=8000) as incoming:
        kept = soundfile.read(incoming.path, dtype="float64")[0]
        assert kept.shape == samples.shape
        assert np.max(np.abs(kept - np.clip(samples, -1, 1))) <= 2.0**-22
        assert content_sha256_of_flac(incoming.path) == incoming.content_sha256


def test_a_sound_that_is_not_kept_leaves_nothing(studio, noise):
    """A passing file is gone when its act did not come."""
    with (
        pytest.raises(RuntimeError),
        incoming_sound(studio.folder, [noise], sample_rate_hz=RATE_HZ),
    ):
        raise RuntimeError
    assert list((studio.folder / "incoming").iterdir()) == []
    assert stored_names(studio.folder) == set()


def test_a_midi_file_is_kept_as_it_is(studio):
    """A MIDI file's bytes are not touched."""
    with incoming_midi(studio.folder, b"MThd and so on") as incoming:
        path = keep(studio.folder, incoming)
    assert path.read_bytes() == b"MThd and so on"
    assert path.name == hashlib.sha256(b"MThd and so on").hexdigest() + ".mid"


def test_the_sweep_takes_what_no_row_needs(studio, noise, now):
    """Files without a row and old passing files go; the others stay."""
    needed, _ = _stored(studio, noise)
    orphan, _ = _stored(studio, noise / 2)
    old, new = studio.folder / "incoming" / "old.flac", studio.folder / "incoming" / "new.flac"
    for path, day in ((old, 27), (new, 28)):
        path.write_bytes(b"")
        moment = datetime(2027, 2, day, 19, tzinfo=UTC).timestamp()
        os.utime(path, (moment, moment))
    assert sweep(studio.folder, needed={("sound", needed)}, now=now) == 2
    assert stored_names(studio.folder) == {("sound", needed)}
    assert orphan != needed
    assert [path.name for path in (studio.folder / "incoming").iterdir()] == ["new.flac"]


def test_deleting_twice_is_no_error(studio, noise):
    """What is gone already may be deleted again."""
    content, path = _stored(studio, noise)
    for _ in range(2):
        delete_content(studio.folder, kind="sound", content_sha256=content)
    assert not path.exists()


def test_a_damaged_sound_says_so(tmp_path):
    """A stored file that is no FLAC any more is one sentence."""
    open_studio(tmp_path, create=True, busy_timeout_s=0.2).close()
    (tmp_path / "broken.flac").write_bytes(b"fLaC then nothing")
    with pytest.raises(StoreError, match=r"broken\.flac cannot be read"):
        content_sha256_of_flac(tmp_path / "broken.flac")
