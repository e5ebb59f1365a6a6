"""Modelled drums: level, onset, and what changes with softness."""

import numpy as np
import pytest

from loosehand.players.drums import DRUM_KINDS, WORK_RATE_HZ, draw_drum, shaded


def early_db(wave):
    """Level of the first 30 ms."""
    return 10 * np.log10(np.mean(wave[:1440].astype(float) ** 2))


def centroid_hz(wave):
    """Middle of the spectrum."""
    power = np.abs(np.fft.rfft(wave.astype(float))) ** 2
    return np.sum(power * np.fft.rfftfreq(wave.size, 1 / WORK_RATE_HZ)) / np.sum(power)


@pytest.mark.parametrize("kind", DRUM_KINDS)
def test_level_is_what_was_asked(kind):
    """A stroke at -7 dB has the energy of -7 dB."""
    rng = np.random.default_rng(1)
    wave, onset_offset_s = draw_drum(kind, rng).render(-7.0, rng)
    assert onset_offset_s == 0.0
    assert early_db(wave) == pytest.approx(-27.0, abs=0.05)


@pytest.mark.parametrize("kind", DRUM_KINDS)
def test_a_stroke_begins_with_its_samples(kind):
    """Something is heard within 3 ms of the onset, and it dies away."""
    rng = np.random.default_rng(2)
    wave, _ = draw_drum(kind, rng).render(0.0, rng)
    top = np.abs(wave).max()
    assert np.flatnonzero(np.abs(wave) > 0.1 * top)[0] < 0.003 * WORK_RATE_HZ
    assert np.abs(wave[-200:]).max() < 0.1 * top


@pytest.mark.parametrize("kind", DRUM_KINDS)
def test_softer_is_duller(kind):
    """The mean spectrum of soft strokes lies lower than that of loud ones."""
    drum = draw_drum(kind, np.random.default_rng(3))
    loud = np.mean([centroid_hz(wave) for wave in drum.bank[0]])
    soft = np.mean([centroid_hz(wave) for wave in drum.bank[-1]])
    assert soft < loud


def test_no_two_strokes_are_the_same():
    """Strokes of one level differ."""
    rng = np.random.default_rng(4)
    drum = draw_drum("pad", rng)
    waves = [drum.render(0.0, rng)[0] for _ in range(4)]
    assert any(not np.array_equal(waves[0], wave) for wave in waves[1:])


def test_another_spot_is_brighter():
    """The same drum with a tilt of +2 dB an octave has a higher spectrum."""
    plain, bright = shaded("snare", 9, tilt_db=0.0), shaded("snare", 9, tilt_db=2.0)
    assert centroid_hz(bright.bank[0, 0]) > centroid_hz(plain.bank[0, 0])
