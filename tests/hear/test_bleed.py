"""Checks of finding and taking out the click."""

import numpy as np
import pytest

from loosehand.hear.bands import BandAnalysis
from loosehand.hear.bleed import ClickPhase, ClickSound, band_peaks, find_click_phase, learn_bleed
from tests.hear.scenes import RATE_HZ, jittered, peaks_of, sound_of

PERIOD_S = 0.6


def round_with_click(phase_s=0.35, *, ppm=0.0, duration_s=30.0, seed=1):
    """A round on sixteenths against a click, and the click's times."""
    period_s = PERIOD_S * (1 + ppm * 1e-6)
    click_s = phase_s + period_s * np.arange(int((duration_s - phase_s) / period_s))
    strokes = int((duration_s - 4.0) / (period_s / 4))
    stroke_s = jittered(phase_s + 4 * period_s, period_s / 4, strokes, sd_s=0.009, seed=seed)
    return sound_of(stroke_s, click_s, duration_s=duration_s, seed=seed), click_s


def phase_of(sound, duration_s=30.0):
    """The click that is found in a sound."""
    return find_click_phase(peaks_of(sound), period_s=PERIOD_S, duration_s=duration_s)


def test_phase_up_to_a_constant():
    """Moving the click moves its phase by as much, to 1.5 ms."""
    lag_s = []
    for seed, phase_s in enumerate((0.05, 0.21, 0.35, 0.52)):
        found = phase_of(round_with_click(phase_s, seed=seed)[0])
        assert found is not None
        lag_s.append((found.phase_s - phase_s + 0.5 * PERIOD_S) % PERIOD_S - 0.5 * PERIOD_S)
    assert np.ptp(lag_s) < 1.5e-3
    assert np.max(np.abs(lag_s)) < 0.008


@pytest.mark.parametrize("ppm", [-50.0, 0.0, 50.0])
def test_clock_difference(ppm):
    """A difference of clocks is found to 5 ppm in a minute."""
    found = phase_of(round_with_click(ppm=ppm, duration_s=60.0)[0], 60.0)
    assert found is not None
    assert (found.period_s / PERIOD_S - 1) * 1e6 == pytest.approx(ppm, abs=5.0)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_strokes_are_no_click(seed):
    """Strokes alone, as uneven as a good hand's, are not taken for a click."""
    stroke_s = jittered(0.5, PERIOD_S / 4, 190, sd_s=0.008, seed=seed)
    assert phase_of(sound_of(stroke_s, [], duration_s=30.0, seed=seed)) is None


def test_no_peaks_are_no_click():
    """Bands without a peak hold no click."""
    empty = np.zeros(0)
    assert find_click_phase([(empty, empty)] * 11, period_s=0.6, duration_s=30.0) is None


def test_peaks_between_frames():
    """A peak is placed between frames by the parabola through it."""
    frame = np.arange(40.0)
    rise = np.maximum(1.0 - 0.01 * (frame - 20.3) ** 2, 0)[:, None].astype(np.float32)
    ((at_s, height),) = band_peaks(rise, hop_s=0.001)
    assert at_s == pytest.approx([0.0203], abs=1e-5)
    assert height == pytest.approx([1.0], abs=0.01)


def test_click_is_taken_out():
    """Taking out the learned click lowers its energy by more than 10 dB."""
    sound, click_s = round_with_click(duration_s=20.0)
    bleed = learn_bleed(sound, ClickPhase(0.3505, PERIOD_S, 20.0), sample_rate_hz=RATE_HZ)
    clicks = ClickSound(bleed, BandAnalysis(RATE_HZ))
    left = sound - clicks.samples(0, sound.size)
    # In the count-in nothing sounds beside the click.
    rows = [slice(int(at * RATE_HZ), int((at + 0.04) * RATE_HZ)) for at in click_s[:3]]
    before = sum(float(np.square(sound[row]).sum()) for row in rows)
    after = sum(float(np.square(left[row]).sum()) for row in rows)
    assert 10 * np.log10(before / after) > 10.0


def test_click_sound_is_the_same_in_pieces():
    """The click's sound and power do not depend on where a stretch begins."""
    sound, _ = round_with_click(duration_s=12.0)
    bleed = learn_bleed(sound, ClickPhase(0.35, PERIOD_S, 20.0), sample_rate_hz=RATE_HZ)
    analysis = BandAnalysis(RATE_HZ)
    whole = ClickSound(bleed, analysis)
    pieces = ClickSound(bleed, analysis)
    joined = np.concatenate([pieces.samples(first, 7000) for first in range(0, 70000, 7000)])
    assert np.array_equal(whole.samples(0, 70000), joined)
    power = np.concatenate([pieces.power(first, 250) for first in range(0, 2000, 250)])
    assert np.array_equal(whole.power(0, 2000), power)
    assert float(power.max()) > 0
