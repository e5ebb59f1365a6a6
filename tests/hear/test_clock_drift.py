"""Checks of the clocks' difference, told from a round's own clicks."""

import numpy as np
import pytest

from loosehand.click.sound import click_waveform
from loosehand.hear.clock_drift import clock_drift_ppm
from loosehand.hear.scheduled import RoundAcoustics, ScheduledClicks

RATE_HZ = 48_000
FIRST_S = 0.5
PERIOD_S = 0.55


def known(clicks, *, heard=True):
    """What the ear of such a round is told."""
    wave = click_waveform("low wood", "count", sample_rate_hz=RATE_HZ, late_samples=0.0)
    floor = np.full(11, 1e-9, dtype=np.float32)
    told = ScheduledClicks(
        FIRST_S, PERIOD_S, ("count",) * clicks, {"count": wave.astype(np.float32)}, 0
    )
    return RoundAcoustics(RATE_HZ, floor, told if heard else None)


def round_of(clicks, *, drift_ppm, strokes, noise=1e-4, seed=1):
    """Clicks that run away, and strokes four to a count that hide many of them."""
    rng = np.random.default_rng(seed)
    sound = rng.normal(0.0, noise, int((clicks + 3) * PERIOD_S * RATE_HZ))
    for k in range(clicks):
        at = (FIRST_S + PERIOD_S * k * (1 + 1e-6 * drift_ppm)) * RATE_HZ
        wave = click_waveform("low wood", "count", sample_rate_hz=RATE_HZ, late_samples=at % 1)
        add(sound, 0.2 * wave, int(at))
        for place in range(4 if strokes else 0):
            stroke_s = FIRST_S + PERIOD_S * (k + place / 4) + rng.normal(0.0, 0.012)
            burst = rng.normal(0.0, 0.15, 2400) * np.exp(-np.arange(2400) / 250)
            add(sound, burst, int(stroke_s * RATE_HZ))
    return sound.astype(np.float32)


def add(sound, wave, first):
    """Add a wave to a sound."""
    room = sound[first : first + wave.size]
    room += wave[: room.size]


@pytest.mark.parametrize("drift_ppm", [-80.0, 0.0, 12.0, 50.0])
@pytest.mark.parametrize("strokes", [False, True])
def test_drift_is_found(drift_ppm, strokes):
    """A planted drift is found within 3 millionths in a minute, strokes or none."""
    sound = round_of(100, drift_ppm=drift_ppm, strokes=strokes)
    assert clock_drift_ppm(sound, known(100)) == pytest.approx(drift_ppm, abs=3.0)


def test_no_click_no_drift():
    """Where the click is not in the sound, nothing is said."""
    noise = np.random.default_rng(2).normal(0.0, 0.01, 60 * RATE_HZ).astype(np.float32)
    assert clock_drift_ppm(noise, known(100)) is None
    assert clock_drift_ppm(noise, known(100, heard=False)) is None


def test_too_short_a_round_says_nothing():
    """A few counts are too little."""
    sound = round_of(9, drift_ppm=50.0, strokes=False)
    assert clock_drift_ppm(sound, known(9)) is None
