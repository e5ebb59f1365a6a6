"""Checks of a WAV that is made as it is sent."""

import io

import numpy as np
import pytest
import soundfile

from loosehand.studio.sound import incoming_sound, keep
from loosehand.studio.take_sound import as_recorded
from loosehand.web.wav_answer import byte_range, wav_bytes, wav_head

FRAMES = 5000


@pytest.fixture
def sound(tmp_path):
    """A short stored sound."""
    samples = (0.5 * np.sin(np.arange(FRAMES) * 0.1)).astype(np.float32)
    with incoming_sound(tmp_path, [samples], sample_rate_hz=44100) as incoming:
        yield as_recorded(keep(tmp_path, incoming))


def test_it_is_a_wav(sound):
    """The bytes are a WAV that another reader reads, to half a step of 16 bits."""
    data = b"".join(wav_bytes(sound, 0, 44 + 2 * FRAMES))
    samples, rate = soundfile.read(io.BytesIO(data), dtype="float32")
    assert rate == 44100
    assert np.max(np.abs(samples - 0.5 * np.sin(np.arange(FRAMES) * 0.1))) < 1 / 32768


@pytest.mark.parametrize(
    ("first", "end"), [(0, 10), (0, 44), (20, 47), (44, 45), (45, 46), (45, 1001), (9000, 10044)]
)
def test_any_range_is_a_part_of_the_whole(sound, first, end):
    """Any range of bytes, odd ones too, is that part of the whole."""
    data = b"".join(wav_bytes(sound, 0, 44 + 2 * FRAMES))
    assert b"".join(wav_bytes(sound, first, end)) == data[first:end]


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("bytes=0-", (0, 100)),
        ("bytes=0-0", (0, 1)),
        ("bytes=90-200", (90, 100)),
        ("bytes=-200", (0, 100)),
        ("bytes=-0", (100, 100)),
        ("bytes=100-", (100, 100)),
        ("bytes=-", None),
        ("bytes=9-3", None),
        ("bytes=0-1,5-6", None),
        ("lines=0-1", None),
        ("", None),
    ],
)
def test_ranges(asked, found):
    """One plain range is understood, anything else passed over."""
    assert byte_range(asked, 100) == found


def test_a_sound_too_long_for_a_wav_has_a_head_that_can_be_written():
    """The head of a sound beyond the 4 GB of a WAV says as much as it can."""
    assert len(wav_head(sample_rate_hz=48000, frames=2**40)) == 44
