"""Checks of the network: its shapes, its sameness, and that it hears a burst."""

import numpy as np
import pytest

from loosehand.hear.acoustics import above_floor, band_floor
from loosehand.hear.bands import BAND_EDGES_HZ, BandAnalysis
from loosehand.hear.stroke_net import (
    FRAMES_AHEAD,
    FRAMES_PER_OUTPUT,
    OUTPUT_OFFSET,
    SPAN,
    load_stroke_net,
)
from tests.hear.scenes import RATE_HZ, sound_of

CHANNELS = 2 * (len(BAND_EDGES_HZ) - 1)


def told_of(levels):
    """What the network tells of levels that come in one piece."""
    return load_stroke_net().stream().push(levels)


def time_of(told, analysis):
    """Times that its outputs speak of."""
    frame = FRAMES_PER_OUTPUT * np.arange(told.shape[0]) + OUTPUT_OFFSET
    return analysis.middle_s + frame * analysis.hop_s


@pytest.mark.parametrize("frames", [0, 1, FRAMES_AHEAD + 3, SPAN, SPAN + 1, 400])
def test_shape(frames):
    """An output every two frames, those that are ahead of it left out."""
    told = told_of(np.zeros((frames, CHANNELS), np.float32))
    assert told.shape == (max((frames - FRAMES_AHEAD - 1) // FRAMES_PER_OUTPUT, 0), 2)
    assert told.dtype == np.float32


def test_same_again():
    """The same levels give the same odds, and the network is loaded once."""
    levels = np.random.default_rng(6).random((500, CHANNELS), dtype=np.float32)
    assert load_stroke_net() is load_stroke_net()
    assert np.array_equal(told_of(levels), told_of(levels.copy()))


@pytest.mark.parametrize("piece", [1, 2, 7, 64, 255])
def test_pieces_join(piece):
    """Levels that come in pieces tell the same, but for the last bits of the sums."""
    levels = np.random.default_rng(7).random((600, CHANNELS), dtype=np.float32)
    stream = load_stroke_net().stream()
    told = [stream.push(levels[first : first + piece]) for first in range(0, 600, piece)]
    assert np.allclose(np.concatenate(told), told_of(levels), atol=1e-3)


def test_silence_is_no_stroke():
    """Where nothing stands above the floor no stroke is likely."""
    told = told_of(np.zeros((1000, CHANNELS), np.float32))
    assert float(told[:, 0].max()) < 0


def test_a_burst_is_heard():
    """A stroke gives odds above even near its onset, and only there."""
    sound = sound_of([0.5, 0.8], [], duration_s=1.2)
    analysis = BandAnalysis(RATE_HZ)
    power = analysis.whole(sound)
    level = above_floor(power, band_floor(power))
    told = told_of(np.concatenate((level, np.zeros_like(level)), axis=1))
    time_s = time_of(told, analysis)
    for onset_s in (0.5, 0.8):
        assert float(told[np.abs(time_s - onset_s) < 0.010, 0].max()) > 0
    between = (time_s > 0.6) & (time_s < 0.75)
    assert float(told[between, 0].max()) < 0
