"""Checks of the survey of a take."""

import numpy as np
import pytest

from loosehand.hear.acoustics import above_floor, background, band_floor, survey
from loosehand.hear.bands import BandAnalysis
from tests.hear.scenes import RATE_HZ, jittered, sound_of


def surveyed(sound, period_s):
    """Survey a sound."""
    analysis = BandAnalysis(RATE_HZ)
    return survey(sound, analysis.whole(sound), analysis, period_s=period_s)


def test_floor_is_the_quiet():
    """Bands whose quiet is within 45 dB of their loud moments have it as their floor."""
    power = np.full((1000, 2), 1e-4, dtype=np.float32)
    power[::10] = 1.0
    power[3::10] = 1e-4
    assert band_floor(power) == pytest.approx([1e-4, 1e-4], rel=0.01)


def test_floor_is_no_more_than_45_db_down():
    """Digital silence between strokes does not push the floor to nothing."""
    power = np.zeros((1000, 1), dtype=np.float32)
    power[::10] = 1.0
    assert float(band_floor(power)[0]) == pytest.approx(10**-4.5, rel=0.05)


def test_level_above_floor():
    """Levels are in tens of decibels and never negative."""
    level = above_floor(np.array([[0.0], [99.0]], np.float32), np.ones(1, np.float32))
    assert level[:, 0] == pytest.approx([0.0, 2.0])


def test_survey_finds_the_click():
    """The click is found to a few milliseconds of where it lies, with its waveform."""
    stroke_s = jittered(2.7, 0.15, 80, sd_s=0.008)
    found = surveyed(sound_of(stroke_s, 0.3 + 0.6 * np.arange(24), duration_s=15.0), 0.6)
    assert found.bleed is not None
    late_s = (found.bleed.phase_s - 0.3 + 0.3) % 0.6 - 0.3
    assert abs(late_s) < 8e-3
    assert found.bleed.gain.size == found.bleed.heard.size


def test_survey_of_silence():
    """Silence has a floor and no click."""
    found = surveyed(np.zeros(5 * RATE_HZ, np.float32), 0.6)
    assert found.bleed is None
    assert found.phase is None
    assert np.all(found.floor > 0)


def test_background_is_what_sounds_between():
    """Short knocks leave the background where it is; a steady tone raises its own band."""
    quiet = sound_of([0.5, 0.8, 1.1], [], duration_s=2.0)
    analysis = BandAnalysis(RATE_HZ)
    tone = 0.1 * np.sin(2 * np.pi * 1200 * np.arange(quiet.size) / RATE_HZ).astype(np.float32)
    low = background(analysis.whole(quiet), analysis)
    high = background(analysis.whole(quiet + tone), analysis)
    at_s = np.array([0.3, 0.5, 1.5])
    raised = high.at(at_s) - low.at(at_s)
    assert np.all(raised[:, 3] > 30)
    assert np.all(np.abs(raised[:, 8]) < 12)
    assert abs(low.at(np.array([0.5]))[0, 3] - low.at(np.array([1.5]))[0, 3]) < 15
