"""Clicks as others make them."""

import numpy as np
import pytest

from loosehand.players.bleed import CLICK_KINDS, click_sound, draw_click


def drawn(kind):
    """Draw clicks until one is of a kind."""
    rng = np.random.default_rng(1)
    while True:
        voice = draw_click(rng)
        if voice.kind == kind:
            return voice


@pytest.mark.parametrize("kind", CLICK_KINDS)
def test_a_click_has_the_energy_of_a_stroke(kind):
    """A plain count has the energy of a stroke at 0 dB, and begins at its first samples."""
    wave = click_sound(drawn(kind), "count").astype(float)
    assert np.sum(wave**2) == pytest.approx(0.01 * 1440, rel=1e-3)
    assert np.flatnonzero(np.abs(wave) > 0.1 * np.abs(wave).max())[0] < 48


@pytest.mark.parametrize("kind", CLICK_KINDS)
def test_a_click_is_the_same_each_time(kind):
    """Two clicks of a role are equal."""
    voice = drawn(kind)
    assert np.array_equal(click_sound(voice, "count"), click_sound(voice, "count"))


def test_clicks_are_drawn_from_the_whole_range():
    """Every kind comes up, from 0.8 to 4 kHz and from 5 to 60 ms, with and without accent."""
    rng = np.random.default_rng(2)
    voices = [draw_click(rng) for _ in range(200)]
    assert {voice.kind for voice in voices} == set(CLICK_KINDS)
    assert 800 <= min(v.pitch_hz for v in voices) < 1000
    assert 3500 < max(v.pitch_hz for v in voices) <= 4000
    assert min(v.length_s for v in voices) < 0.007
    assert max(v.length_s for v in voices) > 0.050
    assert {v.downbeat_pitch == 1.0 for v in voices} == {True, False}
