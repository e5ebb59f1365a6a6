"""Checks of the engine: above all that the way sound is cut changes nothing."""

import numpy as np
import pytest

from loosehand.hear.acoustics import Acoustics, band_floor
from loosehand.hear.bands import BandAnalysis
from loosehand.hear.bleed import ClickPhase, learn_bleed
from loosehand.hear.engine import Engine, join
from tests.hear.scenes import RATE_HZ, jittered, sound_of

STROKE_S = jittered(2.7, 0.15, 28, sd_s=0.008)
SOUND = sound_of(STROKE_S, 0.3 + 0.6 * np.arange(12), duration_s=7.3)
FIELDS = ("time_s", "log_odds", "level_db", "timbre_db")


def acoustics_of(sound, *, with_bleed):
    """What the engine is told."""
    floor = band_floor(BandAnalysis(RATE_HZ).whole(sound))
    phase = ClickPhase(0.3, 0.6, 20.0)
    bleed = learn_bleed(sound, phase, sample_rate_hz=RATE_HZ) if with_bleed else None
    return Acoustics(RATE_HZ, floor, bleed, phase if with_bleed else None)


ACOUSTICS = {told: acoustics_of(SOUND, with_bleed=told) for told in (False, True)}


def heard_in(chunks, acoustics):
    """All candidates of sound that comes in chunks."""
    engine = Engine(acoustics)
    stretches = [stretch for chunk in chunks for stretch in engine.push(chunk)]
    return join([stretch.found for stretch in [*stretches, *engine.finish()]])


def cut_evenly(size):
    """The sound in chunks of one size."""
    return [SOUND[first : first + size] for first in range(0, SOUND.size, size)]


def cut_by_chance(seed, most):
    """The sound in chunks of any size, nothing at all among them."""
    rng = np.random.default_rng(seed)
    at = np.cumsum(rng.integers(0, most, SOUND.size))
    return np.split(SOUND, at[at < SOUND.size])


CUTS = {
    "1 s": cut_evenly(RATE_HZ),
    "997 samples": cut_evenly(997),
    "one block": cut_evenly(BandAnalysis(RATE_HZ).block_samples),
    "one span": cut_evenly(BandAnalysis(RATE_HZ).block_span),
    "10 ms": cut_evenly(441),
    "small by chance": cut_by_chance(4, 900),
    "large by chance": cut_by_chance(5, 60_000),
    "sample by sample, then the rest": [*np.split(SOUND[:300], 300), SOUND[300:]],
}


@pytest.mark.parametrize("with_bleed", [False, True])
@pytest.mark.parametrize("cut", CUTS)
def test_chunks_change_nothing(cut, with_bleed):
    """The same samples in chunks of any size give the same candidates, bit for bit."""
    assert np.array_equal(np.concatenate(CUTS[cut]), SOUND)
    whole = heard_in([SOUND], ACOUSTICS[with_bleed])
    cut_up = heard_in(CUTS[cut], ACOUSTICS[with_bleed])
    assert len(whole) >= STROKE_S.size
    for field in FIELDS:
        assert np.array_equal(getattr(whole, field), getattr(cut_up, field)), field


def test_click_matters():
    """With the click known the candidates differ: the cuts above compare two real paths."""
    odds = [heard_in([SOUND], ACOUSTICS[told]).log_odds for told in (False, True)]
    assert not np.array_equal(*odds)


def test_strokes_are_among_the_candidates():
    """Nearly every stroke has a likely candidate within 10 ms, in order of time."""
    found = heard_in([SOUND], ACOUSTICS[True])
    assert np.all(np.diff(found.time_s) > 0)
    likely = found.time_s[found.log_odds > 0]
    off_s = np.min(np.abs(STROKE_S[:, None] - likely[None, :]), axis=1)
    assert np.mean(off_s < 0.010) >= 0.9


def test_what_is_settled_is_told_soon():
    """Live sound is not held back until the end: candidates lag by less than a second."""
    engine = Engine(ACOUSTICS[False])
    told_s = 0.0
    for number, chunk in enumerate(cut_evenly(4410), start=1):
        found = join([stretch.found for stretch in engine.push(chunk)])
        told_s = max(told_s, float(found.time_s.max(initial=0.0)))
        if 3.5 < number * 0.1 < 6.5:
            assert told_s > number * 0.1 - 1.0


def test_a_stretch_says_until_when_all_is_known():
    """No candidate comes before the time that an earlier stretch gave, nor after its own."""
    engine = Engine(ACOUSTICS[True])
    until_s = -np.inf
    for stretch in [*engine.push(SOUND), *engine.finish()]:
        assert stretch.until_s > until_s
        assert np.all(stretch.found.time_s >= until_s)
        assert np.all(stretch.found.time_s <= stretch.until_s)
        until_s = stretch.until_s
    assert until_s > STROKE_S[-1]


def test_the_first_moments_are_heard():
    """A stroke a few milliseconds into the sound is a candidate."""
    found = heard_in([sound_of([0.02, 0.4], [], duration_s=1.0)], ACOUSTICS[False])
    assert float(np.min(np.abs(found.time_s[found.log_odds > 0] - 0.02))) < 0.005


@pytest.mark.parametrize("samples", [0, 1, 441, 20_000])
def test_short_sound(samples):
    """Hardly any sound gives candidates inside it or none, and no error."""
    found = heard_in([SOUND[:samples]], ACOUSTICS[False])
    assert np.all(found.time_s < samples / RATE_HZ)


def test_joining_nothing():
    """Nothing joined is no candidate."""
    assert len(join([])) == 0
