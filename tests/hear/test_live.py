"""Checks of the live ear: at once, settled in time, and the same as the whole file."""

import numpy as np
import pytest

from loosehand.hear.acoustics import Acoustics, band_floor
from loosehand.hear.bands import BandAnalysis
from loosehand.hear.bleed import ClickPhase, learn_bleed
from loosehand.hear.engine import Engine, join
from loosehand.hear.live import LiveEar
from loosehand.hear.settle import Settler, company_of, settled_lag_s
from tests.hear.scenes import RATE_HZ, jittered, sound_of

COUNT_S = 0.6
STROKE_S = jittered(2.7, 0.15, 28, sd_s=0.008)
SOUND = sound_of(STROKE_S, 0.3 + COUNT_S * np.arange(12), duration_s=7.3)
PHASE = ClickPhase(0.3, COUNT_S, 20.0)
ACOUSTICS = Acoustics(
    RATE_HZ,
    band_floor(BandAnalysis(RATE_HZ).whole(SOUND)),
    learn_bleed(SOUND, PHASE, sample_rate_hz=RATE_HZ),
    PHASE,
)


def hear_live(sound, size):
    """All that the ear says of sound in chunks of ``size``, and when it said it."""
    ear = LiveEar(ACOUSTICS, count_s=COUNT_S, places_per_count=4, hand="right")
    said = []
    for first in range(0, sound.size, size):
        chunk = sound[first : first + size]
        said.append(((first + chunk.size) / RATE_HZ, ear.push(chunk)))
    said.append((np.inf, ear.finish()))
    return said


def all_of(said, name):
    """One kind of stroke over the whole take."""
    return np.concatenate([getattr(hearing, name).time_s for _, hearing in said])


@pytest.fixture(scope="module")
def said():
    """The take in chunks of 128 samples, as browsers give them."""
    return hear_live(SOUND, 128)


def test_heard_within_40_ms(said):
    """Every stroke heard is told within 40 ms of its sound."""
    late_s = np.concatenate([now_s - hearing.heard.time_s for now_s, hearing in said[:-1]])
    assert late_s.size >= STROKE_S.size
    assert float(late_s.max()) <= 0.040
    assert float(late_s.min()) > 0


def test_settled_within_two_counts(said):
    """Every stroke is settled at most two counts after its sound."""
    late_s = np.concatenate([now_s - hearing.settled.time_s for now_s, hearing in said[:-1]])
    assert late_s.size >= STROKE_S.size - 4
    assert float(late_s.max()) <= 2 * COUNT_S


@pytest.mark.parametrize("size", [441, 5000, SOUND.size])
def test_any_chunks_settle_the_same(said, size):
    """Chunks of any size settle the same strokes, to the last bit."""
    other = hear_live(SOUND, size)
    assert np.array_equal(all_of(said, "settled"), all_of(other, "settled"))
    assert np.array_equal(all_of(said, "heard"), all_of(other, "heard"))


def test_same_as_the_whole_file(said):
    """What is settled live is what the whole file settles."""
    engine = Engine(ACOUSTICS)
    settler = Settler(
        place_s=COUNT_S / 4, company=company_of("right"), lag_s=settled_lag_s(COUNT_S)
    )
    parts = [settler.push(stretch) for stretch in [*engine.push(SOUND), *engine.finish()]]
    whole = join([*parts, settler.finish()])
    assert np.array_equal(all_of(said, "settled"), whole.time_s)
    off_s = np.min(np.abs(STROKE_S[:, None] - whole.time_s[None, :]), axis=1)
    assert float(off_s.max()) < 0.005


def test_what_is_not_settled_is_withdrawn(said):
    """Heard strokes are settled or withdrawn, each once."""
    heard, settled = all_of(said, "heard"), all_of(said, "settled")
    withdrawn = np.concatenate([hearing.withdrawn_s for _, hearing in said])
    assert np.all(np.isin(withdrawn, heard))
    assert np.unique(withdrawn).size == withdrawn.size
    stands = heard[~np.isin(heard, withdrawn)]
    assert np.all(np.min(np.abs(stands[:, None] - settled[None, :]), axis=1) <= 0.012)


def test_silence_says_nothing():
    """Silence is neither heard nor settled."""
    said = hear_live(np.zeros(2 * RATE_HZ, dtype=np.float32), 4096)
    assert all_of(said, "heard").size == 0
    assert all_of(said, "settled").size == 0
