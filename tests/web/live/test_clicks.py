"""Checks of which clicks the page plays, and how they stand in the sound that comes back."""

import json
from dataclasses import replace

import numpy as np
import pytest

from loosehand.click.sound import TIMBRES, click_waveform
from loosehand.hear.sound_check import ClickPath, SoundCheck
from loosehand.rounds.workout import PlannedRound
from loosehand.web.live.clicks import (
    CHECK_LENGTH_S,
    CHECK_STROKES_FROM_S,
    check_clicks,
    check_order,
    click_order,
    click_sounds,
    round_acoustics,
    round_track,
)
from tests.web.live.conftest import setting_of

RATE_HZ = 48_000
PLANNED = PlannedRound("round", "left", 96.0, 4, 12.0)


def roles_of(**changes):
    """Roles of the clicks that the page is told, from the count-in on."""
    return [click["role"] for click in click_order(PLANNED, setting_of(**changes))]


def test_the_clicks_of_a_round():
    """Four of count-in, then one a count, evenly from the first: as many as the round has."""
    clicks = click_order(PLANNED, setting_of())
    assert PLANNED.counts == 19
    assert [click["count"] for click in clicks] == list(range(-3, 20))
    assert [click["at_s"] for click in clicks] == pytest.approx(0.625 * np.arange(23), abs=1e-12)
    assert roles_of()[:10] == [
        *(["count-in"] * 4),
        *("downbeat", "count", "count", "count"),
        *("downbeat", "count"),
    ]


def test_without_an_accent_every_count_sounds_the_same():
    """Where no accent is wanted there is no downbeat."""
    assert roles_of(accent=False) == ["count-in"] * 4 + ["count"] * 19


def test_bars_of_three():
    """The accent follows the counts of a bar; a count-in is as long as asked."""
    roles = roles_of(counts_per_bar=3, count_in_counts=2)
    assert roles[:9] == ["count-in"] * 2 + ["downbeat", "count", "count"] * 2 + ["downbeat"]
    assert len(roles) == 2 + 19


@pytest.mark.parametrize("accent", [True, False])
def test_every_fourth_bar_is_silent(accent):
    """In bars 4, 8 and so on no click sounds; its count is there all the same."""
    roles = roles_of(counts_per_bar=2, silent_bars=True, accent=accent)[4:]
    silent = [number for number, role in enumerate(roles) if role is None]
    assert silent == [6, 7, 14, 15]
    times_s = [click["at_s"] for click in click_order(PLANNED, setting_of(silent_bars=True))]
    assert times_s == pytest.approx(0.625 * np.arange(23))


def test_the_page_is_told_what_the_track_is():
    """Times, counts and silence are those of the click track."""
    setting = setting_of(silent_bars=True)
    track = round_track(PLANNED, setting)
    told = click_order(PLANNED, setting)
    assert [float(click.at_s - track[0].at_s) for click in track] == [each["at_s"] for each in told]
    assert [click.audible for click in track] == [each["role"] is not None for each in told]
    assert json.loads(json.dumps(told)) == told


@pytest.mark.parametrize("timbre", TIMBRES)
def test_the_sounds_that_a_page_plays(timbre):
    """A page is given the waveform of every role that it may be told to play."""
    sounds = json.loads(json.dumps(click_sounds(timbre, sample_rate_hz=RATE_HZ)))
    played = {click["role"] for click in [*click_order(PLANNED, setting_of()), *check_order()]}
    assert set(sounds) == played
    for role, wave in sounds.items():
        sent = click_waveform(timbre, role, sample_rate_hz=RATE_HZ, late_samples=0.0)
        assert np.abs(np.array(wave) - sent).max() <= 5e-8
        assert np.abs(wave).max() <= 1.0


def test_the_clicks_of_the_check_are_over_before_the_strokes():
    """In the check clicks come alone first, every role, then the player strikes."""
    clicks = check_order()
    times_s = np.array([click["at_s"] for click in clicks])
    assert np.diff(times_s) == pytest.approx(0.5)
    assert {click["role"] for click in clicks} == {"count-in", "downbeat", "count"}
    # The longest way back, and the click's own length.
    assert times_s[-1] + 0.55 + 0.06 < CHECK_STROKES_FROM_S + 0.25
    assert CHECK_STROKES_FROM_S + 2.0 < CHECK_LENGTH_S


def test_the_check_looks_for_what_the_page_plays():
    """Times, roles and waveforms that are looked for are those that were sent."""
    clicks = check_clicks("pip", first_s=0.35, sample_rate_hz=RATE_HZ)
    told = check_order()
    assert clicks.time_s == pytest.approx([0.35 + each["at_s"] for each in told])
    assert list(clicks.roles) == [each["role"] for each in told]
    sounds = click_sounds("pip", sample_rate_hz=RATE_HZ)
    assert {role: wave.tolist() for role, wave in clicks.waves.items()} == sounds


def check_of(path):
    """A sound check."""
    return SoundCheck(np.full(11, 1e-9, dtype=np.float32), -80.0, path, 4, -20.0, None, 0.0)


PATH = ClickPath(
    0.043,
    1e-5,
    0.0,
    -30.0,
    {
        role: np.full(100, level, dtype=np.float32)
        for role, level in (("count-in", 0.1), ("downbeat", 0.2), ("count", 0.3))
    },
    40,
)


@pytest.mark.parametrize("accent", [True, False])
def test_the_ear_is_told_the_clicks_that_were_played(accent):
    """The ear knows first click, period, roles and silence of the round, as the page played it."""
    setting = setting_of(silent_bars=True, accent=accent)
    known = round_acoustics(
        check_of(PATH), PLANNED, setting, first_click_s=0.293, sample_rate_hz=RATE_HZ
    )
    assert known.sample_rate_hz == RATE_HZ
    assert known.clicks is not None
    assert (known.clicks.first_s, known.clicks.period_s) == (0.293, pytest.approx(0.625))
    told = click_order(PLANNED, setting)
    assert list(known.clicks.roles) == [each["role"] for each in told]
    assert known.clicks.waves == PATH.waves
    assert known.clicks.lead_samples == 40
    period_s = known.clicks.period_s
    assert [each["at_s"] for each in told] == pytest.approx(period_s * np.arange(len(told)))


def test_a_click_that_is_not_in_the_sound_is_not_taken_out():
    """With headphones the ear is told of no click."""
    known = round_acoustics(
        check_of(None), PLANNED, setting_of(), first_click_s=0.293, sample_rate_hz=RATE_HZ
    )
    assert known.clicks is None
    assert np.array_equal(known.floor, check_of(None).floor)


@pytest.mark.parametrize("tempo_bpm", [72.5, 104.0, 133.333, 61.7])
def test_a_long_round_keeps_its_time(tempo_bpm):
    """After ten minutes the clicks still lie where the ear looks for them, within 0.1 ms."""
    planned = replace(PLANNED, tempo_bpm=tempo_bpm, round_s=600.0)
    last = click_order(planned, setting_of())[-1]
    assert last["at_s"] == pytest.approx((planned.counts + 3) * 60.0 / tempo_bpm, abs=1e-4)
