"""Checks of band levels."""

import numpy as np
import pytest

from loosehand.errors import UnreadableAudio
from loosehand.hear.bands import BAND_EDGES_HZ, FRAMES_PER_BLOCK, BandAnalysis, power_to_db


@pytest.mark.parametrize("rate_hz", [22050, 44100, 48000, 96000])
def test_a_tone_lies_in_its_band(rate_hz):
    """A tone in the middle of a band is loudest there."""
    analysis = BandAnalysis(rate_hz)
    time_s = np.arange(rate_hz) / rate_hz
    for band in range(2, 8):
        middle_hz = 0.5 * (BAND_EDGES_HZ[band] + BAND_EDGES_HZ[band + 1])
        tone = np.sin(2 * np.pi * middle_hz * time_s).astype(np.float32)
        assert int(np.argmax(analysis.whole(tone)[100:800].mean(axis=0))) == band


@pytest.mark.parametrize("rate_hz", [8000, 44100, 48000])
def test_frames_come_every_millisecond(rate_hz):
    """Frames are about a millisecond apart, and as many as the sound is long."""
    analysis = BandAnalysis(rate_hz)
    assert analysis.hop_s == pytest.approx(0.001, rel=0.03)
    assert analysis.whole(np.zeros(rate_hz, np.float32)).shape == (
        rate_hz // analysis.hop,
        len(BAND_EDGES_HZ) - 1,
    )


def test_whole_is_its_blocks():
    """A whole take gives what its blocks give one by one, to the last bit."""
    analysis = BandAnalysis(44100)
    sound = np.random.default_rng(3).normal(0, 0.1, 44100).astype(np.float32)
    whole = analysis.whole(sound)
    for block in range(3):
        first = block * analysis.block_samples
        own = analysis.band_power(sound[first : first + analysis.block_span])
        rows = slice(block * FRAMES_PER_BLOCK, (block + 1) * FRAMES_PER_BLOCK)
        assert np.array_equal(whole[rows], own)


def test_a_short_sound_has_one_frame():
    """Next to no sound still gives a frame."""
    assert BandAnalysis(44100).whole(np.zeros(3, np.float32)).shape[0] == 1


@pytest.mark.parametrize("rate_hz", [0, 3999, 400_001])
def test_odd_rates_are_refused(rate_hz):
    """Rates at which nothing can be told are refused in a sentence."""
    with pytest.raises(UnreadableAudio, match="sample_rate_hz"):
        BandAnalysis(rate_hz)


def test_decibels():
    """Power becomes decibels, with a floor."""
    assert power_to_db(np.array([1.0, 0.1, 0.0])) == pytest.approx([0.0, -10.0, -120.0])
