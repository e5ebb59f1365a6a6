"""Checks of whether a click drowns every place."""

import numpy as np
import pytest

from loosehand.hear.bleed import ClickPhase, learn_bleed
from loosehand.hear.click_share import least_click_share
from tests.hear.scenes import RATE_HZ, jittered, sound_of

COUNT_S = 0.6
PLACE_S = COUNT_S / 4
COUNTS = 14
DURATION_S = COUNTS * COUNT_S + 0.5
STROKE_S = jittered(0.3, PLACE_S, 4 * COUNTS - 4, sd_s=0.008)


def share_of(stroke_s, click_s, *, hum=0.0, click_gain=1.0):
    """Least share of the click in a scene."""
    sound = sound_of(stroke_s, [], duration_s=DURATION_S)
    click = click_gain * sound_of([], click_s, duration_s=DURATION_S)
    time_s = np.arange(sound.size) / RATE_HZ
    sound = (sound + click + hum * np.sin(2 * np.pi * 20 / COUNT_S * time_s)).astype(np.float32)
    bleed = learn_bleed(sound, ClickPhase(0.3, COUNT_S, 20.0), sample_rate_hz=RATE_HZ)
    return least_click_share(sound, bleed, places_per_count=4, sample_rate_hz=RATE_HZ)


def test_a_loud_click_on_every_place_drowns_all():
    """A click far above the strokes on every place: nearly all is click."""
    clicks = 0.3 + PLACE_S * np.arange(4 * COUNTS - 4)
    assert share_of(STROKE_S, clicks, click_gain=30.0) > 0.8


@pytest.mark.parametrize("gain", [1.0, 30.0])
def test_a_click_on_the_count_leaves_the_other_places(gain):
    """However loud, a click on the count alone drowns no other place."""
    clicks = 0.3 + COUNT_S * np.arange(COUNTS)
    assert share_of(STROKE_S, clicks, click_gain=gain) < 0.3


def test_a_faint_click_on_every_place_is_borne():
    """A click on every place, far under the strokes, drowns nothing."""
    clicks = 0.3 + PLACE_S * np.arange(4 * COUNTS - 4)
    assert share_of(STROKE_S, clicks, click_gain=0.1) < 0.3


def test_hum_in_step_with_the_places_is_no_click():
    """A hum whose waves fall on every place alike is not taken for a click."""
    clicks = 0.3 + COUNT_S * np.arange(COUNTS)
    assert share_of(STROKE_S, clicks, hum=0.05) < 0.3


def test_too_few_counts_say_nothing():
    """From fewer than eight counts nothing is said."""
    sound = sound_of(STROKE_S[:10], [0.3, 0.9, 1.5], duration_s=3.0)
    bleed = learn_bleed(sound, ClickPhase(0.3, COUNT_S, 20.0), sample_rate_hz=RATE_HZ)
    share = least_click_share(sound, bleed, places_per_count=4, sample_rate_hz=RATE_HZ)
    assert share == 0.0
