"""Rounds made for the tests of the ear: strokes of known time, with a click or without."""

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.acoustics import band_floor, rise_peaks
from loosehand.hear.bands import BandAnalysis
from loosehand.hear.heard import ListenRequest

RATE_HZ = 44100

FloatArray = NDArray[np.float64]
Samples = NDArray[np.float32]


def request(tempo_bpm=100.0, *, places=4, hand="right", planned=None, first_s=None):
    """What is told of a round."""
    return ListenRequest(tempo_bpm, places, hand, planned, first_s)


def jittered(first_s, place_s, strokes, *, sd_s, seed=1):
    """Times of strokes at steady places, each off by chance, shape (strokes,)."""
    off_s = np.random.default_rng(seed).normal(0.0, sd_s, strokes)
    return first_s + np.arange(strokes) * place_s + off_s


def sound_of(stroke_s, click_s, *, duration_s, click_level=0.15, seed=2) -> Samples:
    """Pad strokes (short noise, each its own) and clicks (all the same) over faint noise."""
    rng = np.random.default_rng(seed)
    sound = rng.normal(0.0, 1e-4, round(duration_s * RATE_HZ))
    since_s = np.arange(round(0.08 * RATE_HZ)) / RATE_HZ
    for at_s in stroke_s:
        knock = rng.normal(0.0, 0.1, since_s.size) * np.exp(-since_s / 0.006)
        thump = 0.2 * np.sin(2 * np.pi * 320.0 * since_s) * np.exp(-since_s / 0.015)
        _add(sound, knock + thump, at_s)
    for at_s in click_s:
        late_s = np.ceil(at_s * RATE_HZ) / RATE_HZ - at_s
        ring = np.sin(2 * np.pi * 2400.0 * (since_s + late_s))
        _add(sound, click_level * ring * np.exp(-since_s / 0.008), at_s)
    return sound.astype(np.float32)


def _add(sound, extra, at_s):
    start = int(np.ceil(at_s * RATE_HZ))
    room = sound[start : start + extra.size]
    room += extra[: room.size]


def peaks_of(sound):
    """Peaks of the bands of a sound, as the search for a click wants them."""
    analysis = BandAnalysis(RATE_HZ)
    power = analysis.whole(sound)
    return rise_peaks(power, band_floor(power), analysis)
