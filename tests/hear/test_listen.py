"""Checks of hearing a whole take."""

import numpy as np
import pytest

from loosehand.hear.acoustics import Acoustics, band_floor
from loosehand.hear.bands import BandAnalysis
from loosehand.hear.bleed import ClickPhase, learn_bleed
from loosehand.hear.decode import read_mono
from loosehand.hear.listen import listen, listen_as_told
from loosehand.hear.live import LiveEar
from loosehand.players.takes import make_take
from tests.hear.scenes import RATE_HZ, jittered, request, sound_of

SEED = 3


@pytest.fixture(scope="module")
def take_and_sound(tmp_path_factory):
    """A simulated take with its truth, and its samples."""
    take = make_take("clean_pad", SEED, round_s=12)
    path = tmp_path_factory.mktemp("takes") / f"take{take.suffix}"
    path.write_bytes(take.coded)
    return take, read_mono(path, longest_s=60.0)


def f_score(told_s, true_s, *, within_s):
    """F score of strokes matched one to one in order."""
    matched, at = 0, 0
    for time_s in true_s:
        while at < told_s.size and told_s[at] < time_s - within_s:
            at += 1
        if at < told_s.size and told_s[at] <= time_s + within_s:
            matched, at = matched + 1, at + 1
    return 2 * matched / (told_s.size + true_s.size)


def test_strokes_of_a_take(take_and_sound):
    """Nearly all strokes of a clean take are found, and next to no others, at 10 ms."""
    take, sound = take_and_sound
    told = request(take.tempo_bpm, places=take.places_per_count, hand=take.hand)
    heard = listen(sound.samples, told, sample_rate_hz=sound.sample_rate_hz)
    true_s = take.performance.stroke_time_s
    assert f_score(heard.strokes.time_s, true_s, within_s=0.010) >= 0.95
    assert heard.grid is not None
    assert heard.grid.first_count_s == pytest.approx(take.performance.first_count_s, abs=0.015)
    assert heard.quality.refusal is None


def test_tempo_of_a_take(take_and_sound):
    """The tempo that nobody told is found to 0.1 %, and said to be assumed."""
    take, sound = take_and_sound
    told = request(None, places=take.places_per_count, hand=take.hand)
    heard = listen(sound.samples, told, sample_rate_hz=sound.sample_rate_hz)
    assert heard.grid is not None
    assert heard.grid.tempo_bpm == pytest.approx(take.tempo_bpm, rel=1e-3)
    assert any("tempo" in sentence for sentence in heard.quality.assumed)


def test_same_again(take_and_sound):
    """The same take is heard the same way twice, to the last bit."""
    take, sound = take_and_sound
    told = request(take.tempo_bpm, places=take.places_per_count)
    first, second = (
        listen(sound.samples, told, sample_rate_hz=sound.sample_rate_hz) for _ in range(2)
    )
    assert np.array_equal(first.strokes.time_s, second.strokes.time_s)
    assert first.grid == second.grid


def test_silence():
    """Silence has no strokes and no counts."""
    heard = listen(np.zeros(10 * RATE_HZ, np.float32), request(), sample_rate_hz=RATE_HZ)
    assert len(heard.strokes) == 0
    assert heard.grid is None
    assert heard.quality.duration_s == pytest.approx(10.0)


def test_silence_has_no_tempo():
    """In silence the tempo cannot be found, and the reading says so."""
    heard = listen(np.zeros(5 * RATE_HZ, np.float32), request(None), sample_rate_hz=RATE_HZ)
    assert heard.grid is None
    assert "tempo" in str(heard.quality.refusal)


def test_click_alone_is_nobody_playing():
    """A click without a hand gives no strokes."""
    sound = sound_of([], 0.5 + 0.6 * np.arange(30), duration_s=19.0)
    heard = listen(sound, request(), sample_rate_hz=RATE_HZ)
    assert len(heard.strokes) == 0
    assert heard.grid is None


def test_count_in_is_left_out():
    """Strokes start with the round and the counts lie on the click."""
    stroke_s = jittered(0.5 + 4 * 0.6, 0.15, 100, sd_s=0.006)
    sound = sound_of(stroke_s, 0.5 + 0.6 * np.arange(29), duration_s=18.2)
    heard = listen(sound, request(), sample_rate_hz=RATE_HZ)
    assert heard.grid is not None
    assert heard.grid.source == "click"
    assert heard.grid.first_count_s == pytest.approx(2.9, abs=0.008)
    assert f_score(heard.strokes.time_s, stroke_s, within_s=0.010) >= 0.95


@pytest.mark.parametrize("samples", [0, 1, 500])
def test_next_to_no_sound(samples):
    """A recording of next to nothing is heard without an error."""
    heard = listen(np.zeros(samples, np.float32), request(), sample_rate_hz=RATE_HZ)
    assert heard.grid is None


COUNT_S = 0.6
ROUND_S = 0.5 + 4 * COUNT_S
"""Time of count 1 in the round below, after four clicks of a count-in."""


@pytest.fixture(scope="module")
def known_round():
    """A round of twelve counts whose room and click are known beforehand, and its strokes."""
    stroke_s = jittered(ROUND_S, COUNT_S / 4, 48, sd_s=0.007)
    click_s = 0.5 + COUNT_S * np.arange(16)
    sound = sound_of(stroke_s, click_s, duration_s=ROUND_S + 12 * COUNT_S + 0.5)
    alone = sound_of([], click_s, duration_s=ROUND_S, seed=5)
    phase = ClickPhase(0.5, COUNT_S, 20.0)
    floor = band_floor(BandAnalysis(RATE_HZ).whole(sound))
    return (
        sound,
        stroke_s,
        Acoustics(RATE_HZ, floor, learn_bleed(alone, phase, sample_rate_hz=RATE_HZ), phase),
    )


def settled_live(sound, acoustics, *, size, hand):
    """All that the live ear settles of sound in chunks."""
    ear = LiveEar(acoustics, count_s=COUNT_S, places_per_count=4, hand=hand)
    parts = [ear.push(sound[k : k + size]).settled for k in range(0, sound.size, size)]
    return [*parts, ear.finish().settled]


@pytest.mark.parametrize("size", [128, 5000])
@pytest.mark.parametrize("hand", ["right", "alternating"])
def test_a_known_round_is_heard_as_the_live_ear_heard_it(known_round, size, hand):
    """Told the same acoustics, the whole file's strokes are those settled live, bit for bit."""
    sound, stroke_s, acoustics = known_round
    told = request(100.0, hand=hand, planned=12, first_s=ROUND_S)
    heard = listen_as_told(sound, told, acoustics)
    parts = settled_live(sound, acoustics, size=size, hand=hand)
    for name in ("time_s", "level_db", "confidence", "timbre_db"):
        live = np.concatenate([getattr(part, name) for part in parts])
        assert np.array_equal(live, getattr(heard.strokes, name))
    assert f_score(heard.strokes.time_s, stroke_s, within_s=0.005) == 1.0


def test_the_count_of_a_known_round_is_the_one_told(known_round):
    """Count 1 is where it was said to be, and the counts are those planned."""
    sound, _, acoustics = known_round
    told = request(100.0, planned=12, first_s=ROUND_S)
    heard = listen_as_told(sound, told, acoustics)
    assert heard.grid is not None
    assert heard.grid.first_count_s == pytest.approx(ROUND_S, abs=1e-3)
    assert heard.grid.counts_offered == 12
    assert heard.quality.refusal is None
