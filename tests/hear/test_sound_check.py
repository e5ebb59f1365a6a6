"""Checks of the sound check: the click's way, the room, the player's own level."""

import json
from dataclasses import replace

import numpy as np
import pytest

from loosehand.click.sound import click_waveform
from loosehand.hear.acoustics import Acoustics, band_floor
from loosehand.hear.bands import BandAnalysis
from loosehand.hear.engine import Engine, join
from loosehand.hear.sound_check import (
    CheckClicks,
    SoundCheck,
    check_sound,
    sound_check_from_json,
)
from loosehand.players.drums import WORK_RATE_HZ, draw_drum
from loosehand.players.speech import draw_voice, spoken_word

RATE_HZ = 48_000
FIRST_S = 0.3
PERIOD_S = 0.5
CLICKS = 12
ROLES = tuple(("count-in", "downbeat", "count")[k % 3] for k in range(CLICKS))
STROKES_FROM_S = 6.5
STROKE_S = 7.2 + 0.5 * np.arange(4)
LENGTH_S = 10.0


def clicks_of(timbre="low wood"):
    """The clicks that were sent."""
    return CheckClicks(
        FIRST_S + PERIOD_S * np.arange(CLICKS),
        ROLES,
        {
            role: click_waveform(timbre, role, sample_rate_hz=RATE_HZ, late_samples=0.0)
            for role in set(ROLES)
        },
    )


def room(*, noise=1e-4, seed=1):
    """Ten seconds of a room."""
    return np.random.default_rng(seed).normal(0.0, noise, int(LENGTH_S * RATE_HZ))


def with_clicks(sound, way_s, *, drift_ppm=0.0, gain=0.2, timbre="low wood"):
    """A room in which the clicks are heard after their way, at exact times."""
    for number, role in enumerate(ROLES):
        sent_s = FIRST_S + number * PERIOD_S
        at = (sent_s * (1 + 1e-6 * drift_ppm) + way_s) * RATE_HZ
        first = int(np.floor(at))
        wave = click_waveform(timbre, role, sample_rate_hz=RATE_HZ, late_samples=at - first)
        sound[first : first + wave.size] += gain * wave
    return sound


def with_strokes(sound, *, level=1.0, times_s=STROKE_S, seed=4):
    """A room in which a pad is struck; what is too loud is cut at full scale."""
    rng = np.random.default_rng(seed)
    since_s = np.arange(round(0.08 * RATE_HZ)) / RATE_HZ
    for at_s in times_s:
        knock = rng.normal(0.0, 0.1, since_s.size) * np.exp(-since_s / 0.006)
        knock += 0.2 * np.sin(2 * np.pi * 320.0 * since_s) * np.exp(-since_s / 0.015)
        first = round(at_s * RATE_HZ)
        sound[first : first + knock.size] += level * knock
    return np.clip(sound, -1.0, 1.0)


def checked(sound, *, clicks=None):
    """What the check finds."""
    return check_sound(
        sound.astype(np.float32),
        clicks_of() if clicks is None else clicks,
        sample_rate_hz=RATE_HZ,
        strokes_from_s=STROKES_FROM_S,
    )


PARTS_OF_A_SAMPLE_S = (0.043 + np.array([0.25, 0.5, 0.77]) / RATE_HZ).tolist()
WAYS_S = [0.0, 0.0123, 0.043, 0.180, 0.400, *PARTS_OF_A_SAMPLE_S]


@pytest.mark.parametrize("way_s", WAYS_S)
def test_the_way_of_the_click_is_found(way_s):
    """A round trip of known length is found within 0.1 ms, with strokes after it."""
    path = checked(with_strokes(with_clicks(room(), way_s))).path
    assert path is not None
    assert path.round_trip_s == pytest.approx(way_s, abs=1e-4)
    assert path.residual_s < 2e-5
    assert abs(path.drift_ppm) < 5


@pytest.mark.parametrize("way_s", PARTS_OF_A_SAMPLE_S)
def test_parts_of_a_sample_are_found(way_s):
    """In a quiet room the way is found to a tenth of a sample."""
    path = checked(with_strokes(with_clicks(room(), way_s))).path
    assert path is not None
    assert path.round_trip_s == pytest.approx(way_s, abs=0.1 / RATE_HZ)


@pytest.mark.parametrize("way_s", [0.0123, 0.0430052, 0.4])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_way_is_found_in_noise(way_s, seed):
    """In a noisy room, the click but few decibels over it, the way is found as well."""
    sound = with_clicks(room(noise=0.03, seed=seed), way_s, gain=0.1)
    path = checked(with_strokes(sound)).path
    assert path is not None
    assert path.round_trip_s == pytest.approx(way_s, abs=1e-4)
    assert path.residual_s < 2e-5


@pytest.mark.parametrize("timbre", ["low wood", "high wood", "pip", "tick"])
def test_the_way_is_found_with_every_timbre(timbre):
    """Whichever click is chosen, its way is found; a turned polarity does not matter."""
    for gain in (0.2, -0.2):
        sound = with_strokes(with_clicks(room(), 0.043, timbre=timbre, gain=gain))
        path = checked(sound, clicks=clicks_of(timbre)).path
        assert path is not None
        assert path.round_trip_s == pytest.approx(0.043, abs=1e-4)


@pytest.mark.parametrize("drift_ppm", [-80.0, 80.0, 30.0])
def test_clocks_that_drift_apart_are_found(drift_ppm):
    """A drift between the clocks is found within 10 millionths."""
    path = checked(with_strokes(with_clicks(room(), 0.043, drift_ppm=drift_ppm))).path
    assert path is not None
    assert path.drift_ppm == pytest.approx(drift_ppm, abs=10.0)
    assert path.residual_s < 2e-5


def test_the_click_is_learned_as_it_is_heard():
    """The click of every role is kept as it stands in the recording, its time where it is said."""
    path = checked(with_strokes(with_clicks(room(), 0.043))).path
    assert path is not None
    assert set(path.waves) == set(ROLES)
    for role, wave in path.waves.items():
        sent = click_waveform("low wood", role, sample_rate_hz=RATE_HZ, late_samples=0.0)
        heard = wave[path.lead_samples : path.lead_samples + sent.size]
        assert np.sqrt(np.mean((heard - 0.2 * sent) ** 2)) < 1e-3
        assert np.abs(wave[: path.lead_samples - 48]).max() < 1e-3
    louder = checked(with_strokes(with_clicks(room(), 0.043, gain=0.4))).path
    assert louder is not None
    assert louder.level_db - path.level_db == pytest.approx(6.0, abs=0.2)


def test_one_click_that_a_stroke_covers_does_not_matter():
    """Where somebody strikes into the clicks, the way and the click's sound are still right."""
    struck = with_strokes(
        with_clicks(room(), 0.043), times_s=[*STROKE_S, FIRST_S + 0.043, FIRST_S + 1.54]
    )
    path = checked(struck).path
    assert path is not None
    assert path.round_trip_s == pytest.approx(0.043, abs=1e-4)


@pytest.mark.parametrize("noise", [1e-5, 1e-3, 0.05])
@pytest.mark.parametrize("seed", [5, 6])
def test_no_click_has_no_way(noise, seed):
    """Where no click is in the sound, as with headphones, no way is claimed."""
    check = checked(with_strokes(room(noise=noise, seed=seed)))
    assert check.path is None


@pytest.mark.parametrize("seed", range(6))
def test_strokes_in_place_of_clicks_are_no_way(seed):
    """Somebody who strikes along with clicks that only they hear is not taken for the click."""
    off_s = np.random.default_rng(seed).normal(0.0, (0.012, 0.006)[seed % 2], CLICKS)
    along_s = FIRST_S + 0.02 + PERIOD_S * np.arange(CLICKS) + off_s
    check = checked(with_strokes(room(), times_s=[*along_s, *STROKE_S], seed=seed))
    assert check.path is None
    assert check.strokes == 4


def test_silence_is_no_check():
    """In digital silence there is no click, no stroke and nothing to divide by."""
    check = checked(np.zeros(int(LENGTH_S * RATE_HZ)))
    assert (check.path, check.strokes, check.own_level_db) == (None, 0, None)
    assert check.clipped_share == 0.0


@pytest.mark.parametrize("strokes", [0, 1, 4, 6])
def test_strokes_are_counted(strokes):
    """So many strokes after the clicks are so many; none have no level."""
    times_s = 7.2 + 0.4 * np.arange(strokes)
    check = checked(with_strokes(with_clicks(room(), 0.043), times_s=times_s))
    assert check.strokes == strokes
    assert (check.own_level_db is None) is (strokes == 0)


def test_the_players_own_level_follows_the_strokes():
    """Strokes twice as loud are told as 6 dB louder."""
    soft, loud = (
        checked(with_strokes(with_clicks(room(), 0.043), level=level)).own_level_db
        for level in (0.5, 1.0)
    )
    assert soft is not None
    assert loud is not None
    assert loud - soft == pytest.approx(6.0, abs=0.5)


@pytest.mark.parametrize(("level", "share"), [(1.0, 0.0), (2.0, 0.0), (8.0, 0.25), (50.0, 0.25)])
def test_strokes_that_are_too_loud_are_told(level, share):
    """Of twelve clicks and four strokes the share is told that touches full scale."""
    check = checked(with_strokes(with_clicks(room(), 0.043), level=level))
    assert check.strokes == 4
    assert check.clipped_share == pytest.approx(share)


def test_clicks_that_are_too_loud_are_told():
    """A click played so loud that it is cut is told, too."""
    loud = np.clip(with_clicks(room(), 0.043, gain=8.0), -1.0, 1.0)
    assert checked(with_strokes(loud)).clipped_share == pytest.approx(0.75)


@pytest.mark.parametrize("noise", [1e-3, 1e-2])
def test_the_room_is_told(noise):
    """Clicks and strokes leave the level of a room as it is without them."""
    check = checked(with_strokes(with_clicks(room(noise=noise), 0.043)))
    bare = band_floor(BandAnalysis(RATE_HZ).whole(room(noise=noise).astype(np.float32)))
    assert check.noise_floor_db == pytest.approx(10 * np.log10(bare.sum()), abs=1.0)


@pytest.mark.parametrize("heard", [True, False])
def test_a_check_comes_back_to_the_last_bit(heard):
    """What is stored of a check as JSON is the same again, with a click or without."""
    sound = with_strokes(with_clicks(room(), 0.043) if heard else room())
    check = checked(sound)
    again = sound_check_from_json(json.loads(json.dumps(check.to_json())))
    assert again.floor.tobytes() == check.floor.tobytes()
    assert again.own_timbre_db.tobytes() == check.own_timbre_db.tobytes()
    plain = {"floor": None, "own_timbre_db": None, "path": None}
    assert replace(again, **plain) == replace(check, **plain)
    assert (again.path is not None) is heard
    if check.path is not None and again.path is not None:
        waves = {role: wave.tobytes() for role, wave in again.path.waves.items()}
        assert waves == {role: wave.tobytes() for role, wave in check.path.waves.items()}
        assert replace(again.path, waves={}) == replace(check.path, waves={})


def test_a_drums_own_strokes_are_alike_and_talk_is_not():
    """Strokes of the checked drum are told as its own, spoken words are not."""
    rng = np.random.default_rng(4)
    drum, voice = draw_drum("snare", rng), draw_voice(0.0, rng)
    rate = WORK_RATE_HZ
    sound = rng.normal(0.0, 1e-4, 24 * rate)
    for k in range(12):
        add_at(sound, drum.render(-3.0 + rng.normal(0.0, 1.5), rng)[0], int((0.5 + k) * rate))
        add_at(sound, spoken_word(voice, k, rng), int((12.5 + k) * rate))
    engine = Engine(
        Acoustics(rate, band_floor(BandAnalysis(rate).whole(sound.astype(np.float32))), None, None)
    )
    parts = [*engine.push(sound.astype(np.float32)), *engine.finish()]
    found = join([part.found for part in parts])
    likely = found.some(found.log_odds > 0.0)
    own, talk = likely.time_s < 12.2, likely.time_s > 12.2
    check = SoundCheck(
        np.zeros(11, dtype=np.float32),
        -70.0,
        None,
        int(own.sum()),
        -18.0,
        np.median(likely.timbre_db[own], axis=0).astype(np.float32),
        0.0,
    )
    alike = check.sounds_like_own(likely.timbre_db)
    assert own.sum() >= 10
    assert talk.sum() >= 3
    assert alike[own].all()
    assert not alike[talk].any()
    assert sound_check_from_json(check.to_json()).sounds_like_own(likely.timbre_db).tolist() == (
        alike.tolist()
    )


def add_at(sound, wave, first):
    """Add a sound to another from a sample on."""
    room = sound[first : first + wave.size]
    room += wave[: room.size]
