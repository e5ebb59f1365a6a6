"""Counting aloud."""

import numpy as np
import pytest

from loosehand.players.speech import draw_voice, spoken_word


def test_a_word_is_as_loud_as_asked():
    """The loudest 30 ms of a word lie at the level of the voice."""
    rng = np.random.default_rng(1)
    wave = spoken_word(draw_voice(-6.0, rng), 1, rng).astype(float)
    power = np.convolve(wave**2, np.ones(1440) / 1440, mode="valid")
    assert 10 * np.log10(power.max()) == pytest.approx(-26.0, abs=0.1)


@pytest.mark.parametrize("number", range(4))
def test_a_word_has_the_pitch_of_its_voice(number):
    """The strongest repeat of a word lies near the period of its voice."""
    rng = np.random.default_rng(2)
    voice = draw_voice(0.0, rng)
    wave = spoken_word(voice, number, rng).astype(float)[-int(0.8 * voice.word_s * 48000) :]
    spectrum = np.abs(np.fft.rfft(wave, 1 << 16)) ** 2
    repeat = np.fft.irfft(spectrum)[: 48000 // 70]
    low = int(48000 / (voice.pitch_hz * 1.4))
    found_hz = 48000 / (low + np.argmax(repeat[low:]))
    ratio = found_hz / voice.pitch_hz
    assert min(abs(ratio - whole) for whole in (1.0, 0.5)) < 0.15


def test_voices_differ():
    """Low and high voices are drawn."""
    voices = [draw_voice(0.0, np.random.default_rng(seed)) for seed in range(60)]
    assert min(voice.pitch_hz for voice in voices) < 110
    assert max(voice.pitch_hz for voice in voices) > 220
