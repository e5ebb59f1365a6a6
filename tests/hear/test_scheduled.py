"""Checks of a round whose clicks were played by us."""

import json
from dataclasses import replace

import numpy as np
import pytest

from loosehand.click.sound import click_waveform
from loosehand.hear.bands import BAND_EDGES_HZ, BandAnalysis
from loosehand.hear.bleed import ClickSound
from loosehand.hear.engine import Engine, join
from loosehand.hear.scheduled import (
    RoundAcoustics,
    ScheduledClicks,
    acoustics_of,
    round_acoustics_from_json,
)
from tests.hear.scenes import RATE_HZ, jittered, sound_of

FIRST_S = 0.2931
PERIOD_S = 0.6
LEAD = 176
LENGTH = int(0.15 * RATE_HZ)
BANDS = len(BAND_EDGES_HZ) - 1
ROLES = ("count-in", "count-in", "downbeat", "count", None, None, "downbeat", "count")


def wave_of(role):
    """The click of a role as it is heard, its time after a few milliseconds of quiet."""
    sent = click_waveform("low wood", role, sample_rate_hz=RATE_HZ, late_samples=0.0)
    wave = np.zeros(LENGTH, dtype=np.float32)
    wave[LEAD : LEAD + sent.size] = 0.2 * sent
    return wave


def known_of(roles=ROLES, **changes):
    """What the ear is told of a round."""
    clicks = ScheduledClicks(
        FIRST_S, PERIOD_S, tuple(roles), {role: wave_of(role) for role in set(roles) - {None}}, LEAD
    )
    floor = (1e-9 * np.arange(1, BANDS + 1) / 3.0).astype(np.float32)
    return RoundAcoustics(RATE_HZ, floor, replace(clicks, **changes))


def taken_out(known, duration_s):
    """The sound that is taken out of a recording of a length."""
    acoustics = acoustics_of(known)
    return ClickSound(acoustics.bleed, BandAnalysis(RATE_HZ)).samples(0, int(duration_s * RATE_HZ))


def clicks_at(numbers, *, roles=ROLES, duration_s=6.0):
    """Sound of the clicks of some numbers, each computed at its exact time."""
    sound = np.zeros(int(duration_s * RATE_HZ))
    for number in numbers:
        at = (FIRST_S + number * PERIOD_S) * RATE_HZ
        first = int(np.floor(at))
        wave = 0.2 * click_waveform(
            "low wood", roles[number], sample_rate_hz=RATE_HZ, late_samples=at - first
        )
        sound[first : first + wave.size] += wave
    return sound


@pytest.mark.parametrize("roles", [ROLES, None])
def test_what_is_known_comes_back_to_the_last_bit(roles):
    """What is stored of room and click as JSON is the same again, with a click or without."""
    known = known_of() if roles else RoundAcoustics(RATE_HZ, known_of().floor, None)
    again = round_acoustics_from_json(json.loads(json.dumps(known.to_json())))
    assert again.sample_rate_hz == known.sample_rate_hz
    assert again.floor.tobytes() == known.floor.tobytes()
    assert again.to_json() == known.to_json()
    if known.clicks is None:
        assert again.clicks is None
        return
    assert again.clicks is not None
    assert (again.clicks.first_s, again.clicks.period_s) == (FIRST_S, PERIOD_S)
    assert (again.clicks.roles, again.clicks.lead_samples) == (ROLES, LEAD)
    for role, wave in known.clicks.waves.items():
        assert again.clicks.waves[role].tobytes() == wave.tobytes()


def test_the_click_that_is_taken_out_is_the_one_that_was_played():
    """Clicks of every role are taken out at their times, to a fraction of a sample."""
    played = clicks_at([0, 1, 2, 3, 6, 7])
    left = played - taken_out(known_of(), 6.0)
    assert np.sqrt(np.mean(left**2)) < 0.02 * np.sqrt(np.mean(played**2))


def test_silent_bars_take_nothing_out():
    """Where a click was silent nothing is taken out, to the last bit."""
    sound = taken_out(known_of(), 6.0)
    first, end = (int((FIRST_S + k * PERIOD_S) * RATE_HZ) for k in (4, 6))
    assert np.all(sound[first : end - LEAD - 2] == 0)
    assert np.any(sound[end : end + LENGTH] != 0)


def test_nothing_is_taken_out_before_the_first_click_and_after_the_last():
    """Before the count-in and after the round the recording is left as it is."""
    sound = taken_out(known_of(), 20.0)
    first = int(FIRST_S * RATE_HZ) - LEAD - 1
    end = int((FIRST_S + (len(ROLES) - 1) * PERIOD_S) * RATE_HZ) + LENGTH + 1
    assert np.all(sound[:first] == 0)
    assert np.all(sound[end:] == 0)
    assert np.any(sound[first:end] != 0)


def test_no_power_is_taken_out_where_no_click_sounded():
    """Levels of the bands, too, are left alone before, after and in silent bars."""
    acoustics = acoustics_of(known_of())
    analysis = BandAnalysis(RATE_HZ)
    power = ClickSound(acoustics.bleed, analysis).power(0, int(20.0 / analysis.hop_s))
    time_s = analysis.middle_s + analysis.hop_s * np.arange(len(power))
    since = (time_s - FIRST_S) / PERIOD_S
    silent = (since < -0.1) | ((since > 4.3) & (since < 5.9)) | (since > len(ROLES) - 0.7)
    assert np.all(power[silent] == 0)
    for number in (0, 1, 2, 3, 6, 7):
        assert power[np.argmin(np.abs(since - number))].sum() > 0


@pytest.mark.parametrize("roles", [(None,) * 8, ()])
def test_a_round_without_a_click_has_none_taken_out(roles):
    """Where every click is silent, as where none is known, there is no bleed."""
    acoustics = acoustics_of(known_of(roles, waves={}))
    assert (acoustics.bleed, acoustics.phase) == (None, None)


def test_the_clicks_lie_where_they_were_sent():
    """The phase told to the search for the grid is that of the clicks."""
    acoustics = acoustics_of(known_of())
    assert acoustics.phase is not None
    assert acoustics.phase.period_s == PERIOD_S
    assert 0 <= acoustics.phase.phase_s < PERIOD_S
    turns = (FIRST_S - acoustics.phase.phase_s) / PERIOD_S
    assert turns == pytest.approx(round(turns), abs=1e-9)
    assert acoustics.bleed is not None
    assert acoustics.bleed.time_s(np.array([1])) == pytest.approx(FIRST_S)


def candidates(known, sound):
    """All that the engine says of a sound."""
    engine = Engine(acoustics_of(known))
    return join([part.found for part in [*engine.push(sound), *engine.finish()]])


def test_the_ear_hears_the_same_before_and_after_storing():
    """With what was stored the engine says of a sound the same, to the last bit."""
    stroke_s = jittered(FIRST_S + 2 * PERIOD_S, PERIOD_S / 4, 24, sd_s=0.008)
    bare = sound_of(stroke_s, [], duration_s=6.0)
    sound = (bare + clicks_at([0, 1, 2, 3, 6, 7])).astype(np.float32)
    known = replace(known_of(), floor=np.full(BANDS, 1e-9, dtype=np.float32))
    stored = round_acoustics_from_json(json.loads(json.dumps(known.to_json())))
    one, two = candidates(known, sound), candidates(stored, sound)
    for name in ("time_s", "log_odds", "level_db", "timbre_db"):
        assert np.array_equal(getattr(one, name), getattr(two, name))
    off_s = np.min(np.abs(stroke_s[:, None] - one.time_s[one.log_odds > 0]), axis=1)
    assert float(off_s.max()) < 0.005


def test_a_click_that_is_known_is_no_stroke():
    """Clicks alone give strokes to an ear that does not know them, and none to one that does."""
    quiet = np.random.default_rng(2).normal(0.0, 1e-4, 6 * RATE_HZ)
    sound = (quiet + clicks_at([0, 1, 2, 3, 6, 7])).astype(np.float32)
    known = replace(known_of(), floor=np.full(BANDS, 1e-9, dtype=np.float32))
    assert np.count_nonzero(candidates(known, sound).log_odds > 0) == 0
    assert np.count_nonzero(candidates(replace(known, clicks=None), sound).log_odds > 0) >= 6
