"""Checks of the network: its shapes, its sameness, and that it hears a burst."""

import numpy as np
import pytest

from loosehand.hear.acoustics import above_floor, band_floor
from loosehand.hear.bands import BAND_EDGES_HZ, BandAnalysis
from loosehand.hear.stroke_net import FRAMES_PER_OUTPUT, OUTPUT_OFFSET, SPAN, load_stroke_net
from tests.hear.scenes import RATE_HZ, sound_of

CHANNELS = 2 * (len(BAND_EDGES_HZ) - 1)


@pytest.mark.parametrize("frames", [SPAN, SPAN + 1, SPAN + 2, 400])
def test_shape(frames):
    """An output every two frames, as far as the span fits."""
    told = load_stroke_net()(np.zeros((frames, CHANNELS), np.float32))
    assert told.shape == ((frames - SPAN) // FRAMES_PER_OUTPUT + 1, 2)
    assert told.dtype == np.float32


def test_same_again():
    """The same levels give the same odds, and the network is loaded once."""
    levels = np.random.default_rng(6).random((500, CHANNELS), dtype=np.float32)
    assert load_stroke_net() is load_stroke_net()
    assert np.array_equal(load_stroke_net()(levels), load_stroke_net()(levels.copy()))


def test_silence_is_no_stroke():
    """Where nothing stands above the floor no stroke is likely."""
    told = load_stroke_net()(np.zeros((1000, CHANNELS), np.float32))
    assert float(told[:, 0].max()) < 0


def test_a_burst_is_heard():
    """A stroke gives odds above even near its onset, and only there."""
    sound = sound_of([0.5, 0.8], [], duration_s=1.2)
    analysis = BandAnalysis(RATE_HZ)
    power = analysis.whole(sound)
    level = above_floor(power, band_floor(power))
    told = load_stroke_net()(np.concatenate((level, np.zeros_like(level)), axis=1))
    frame = FRAMES_PER_OUTPUT * np.arange(told.shape[0]) + OUTPUT_OFFSET
    time_s = analysis.middle_s + frame * analysis.hop_s
    for onset_s in (0.5, 0.8):
        assert float(told[np.abs(time_s - onset_s) < 0.010, 0].max()) > 0
    between = (time_s > 0.6) & (time_s < 0.75)
    assert float(told[between, 0].max()) < 0
