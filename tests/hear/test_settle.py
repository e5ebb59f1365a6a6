"""Checks of the choice of strokes among candidates."""

import itertools

import numpy as np
import pytest

from loosehand.hear.bands import BAND_EDGES_HZ
from loosehand.hear.engine import Candidates, Stretch
from loosehand.hear.settle import (
    ONE_HAND,
    TWO_HANDS,
    Settler,
    as_strokes,
    company_of,
    gap_odds,
    settled_lag_s,
)

PLACE_S = 0.15
LAG_S = 0.85
BANDS = len(BAND_EDGES_HZ) - 1


def candidates(place, log_odds):
    """Candidates at places of ``PLACE_S``."""
    time_s = np.asarray(place, dtype=np.float64) * PLACE_S
    odds = np.asarray(log_odds, dtype=np.float64)
    return Candidates(time_s, odds, np.zeros(time_s.size), np.zeros((time_s.size, BANDS)))


def settled_of(found, *, block_s):
    """Times of what is settled of candidates that come by blocks."""
    settler = Settler(place_s=PLACE_S, company=ONE_HAND, lag_s=LAG_S)
    last_s = float(found.time_s.max(initial=0.0))
    settled, begin_s = [], -1.0
    for until_s in np.arange(block_s, last_s + 2 * block_s, block_s):
        inside = np.flatnonzero((found.time_s >= begin_s) & (found.time_s < until_s))
        settled.append(settler.push(Stretch(found.some(inside), float(until_s))).time_s)
        begin_s = until_s
    return np.concatenate([*settled, settler.finish().time_s])


def kept_places(place, log_odds):
    """Places of what is kept."""
    settled = settled_of(candidates(place, log_odds), block_s=0.256)
    return [place[np.flatnonzero(np.isclose(place, at))[0]] for at in settled / PLACE_S]


def test_a_lone_faint_candidate_is_dropped():
    """A faint candidate far from all others is no stroke."""
    place = [*range(12), 30]
    assert kept_places(place, [4.0] * 12 + [1.0]) == list(range(12))


def test_a_lone_clear_candidate_stays():
    """A clear one far from all others is a stroke."""
    place = [*range(12), 30]
    assert kept_places(place, [4.0] * 12 + [5.0]) == place


def test_a_faint_candidate_where_one_is_due_is_kept():
    """A candidate less likely than not is kept where the next stroke is due."""
    odds = [4.0] * 12
    odds[6] = -0.5
    assert kept_places(list(range(12)), odds) == list(range(12))


def test_a_faint_candidate_between_places_is_dropped():
    """The same candidate half a place off is dropped."""
    place = [0, 1, 2, 3, 3.5, 4, 5, 6, 7]
    odds = [4.0] * 9
    odds[4] = -0.5
    assert kept_places(place, odds) == [0, 1, 2, 3, 4, 5, 6, 7]


def test_playing_goes_on_after_a_long_silence():
    """Strokes before and after a long silence are all kept."""
    place = [*range(20), *range(60, 80)]
    assert kept_places(place, [3.0] * 40) == place


def test_nothing_likely_is_nothing():
    """Only faint candidates far apart give no stroke, nor do none."""
    assert kept_places([0, 10, 20], [-3.0, -3.0, -3.0]) == []
    assert kept_places([], []) == []


def best_of_all(found):
    """The best of all chains of candidates, each tried: slow and plain."""
    best, kept = 0.0, ()
    for chosen in itertools.product((False, True), repeat=len(found)):
        index = np.flatnonzero(chosen)
        if index.size:
            gaps = np.diff(found.time_s[index], prepend=-99.0) / PLACE_S
            value = float(found.log_odds[index].sum() + gap_odds(gaps, ONE_HAND).sum())
            if value > best:
                best, kept = value, index
    return found.time_s[list(kept)]


@pytest.mark.parametrize("seed", range(12))
def test_the_best_chain(seed):
    """Where nothing is settled before the end, the best of all chains is found."""
    rng = np.random.default_rng(seed)
    time_s = np.cumsum(rng.choice([0.08, 0.15, 0.3, 0.7], 10) + rng.normal(0, 0.01, 10))
    found = candidates(time_s / PLACE_S, rng.normal(0.5, 2.5, 10))
    settler = Settler(place_s=PLACE_S, company=ONE_HAND, lag_s=100.0)
    early = settler.push(Stretch(found, 99.0))
    assert len(early) == 0
    assert settler.finish().time_s.tolist() == best_of_all(found).tolist()


@pytest.mark.parametrize("seed", range(12))
def test_what_is_settled_is_nearly_the_best(seed):
    """With a lag of a few places hardly a stroke differs from the best of all chains."""
    rng = np.random.default_rng(100 + seed)
    time_s = np.cumsum(rng.choice([0.08, 0.15, 0.15, 0.3], 200) + rng.normal(0, 0.01, 200))
    found = candidates(time_s / PLACE_S, rng.normal(1.0, 2.5, 200))
    late = settled_of(found, block_s=1000.0)
    soon = settled_of(found, block_s=0.256)
    assert np.all(np.diff(soon) > 0)
    assert len(np.setxor1d(soon, late)) <= 0.05 * len(late)


def test_settled_in_time():
    """What is settled is never older than the lag and a block."""
    found = candidates(np.arange(40), np.full(40, 4.0))
    settler = Settler(place_s=PLACE_S, company=ONE_HAND, lag_s=LAG_S)
    for until_s in np.arange(0.256, 6.4, 0.256):
        inside = (found.time_s >= until_s - 0.256) & (found.time_s < until_s)
        settled = settler.push(Stretch(found.some(inside), float(until_s)))
        assert np.all(settled.time_s >= until_s - LAG_S - 0.256)
        assert np.all(settled.time_s < settler.settled_until_s)


@pytest.mark.parametrize(("count_s", "lag_s"), [(60 / 104, 0.8038), (1.0, 1.65), (0.1, 0.1)])
def test_lag_of_settling(count_s, lag_s):
    """Two counts, less what the blocks take, and never nothing."""
    assert settled_lag_s(count_s) == pytest.approx(lag_s, abs=1e-4)


def test_odds_as_chance():
    """Even odds are a chance of one half; no odds overflow."""
    strokes = as_strokes(candidates([0, 1, 2], [0.0, 500.0, -500.0]))
    assert strokes.confidence == pytest.approx([0.5, 1.0, 0.0], abs=1e-9)


def test_order_of_gaps():
    """One place is likeliest, then two; between them and further apart less so."""
    one, near, two, half, far = gap_odds(np.array([1.0, 1.15, 2.0, 0.5, 5.0]), ONE_HAND)
    assert one > near > two > half > far or one > near > two > max(half, far)
    assert one > 0 > two
    assert far == gap_odds(np.array([50.0]), ONE_HAND)[0]


def test_company_of_two_hands():
    """Of two hands a stroke six tenths of a place after another is far likelier than of one."""
    gap = np.array([0.6])
    assert company_of("alternating") is TWO_HANDS
    assert company_of("left") is company_of(None) is ONE_HAND
    assert gap_odds(gap, TWO_HANDS)[0] > gap_odds(gap, ONE_HAND)[0] + 1.0


def test_only_takes_all_fields():
    """Choosing candidates chooses every column."""
    some = candidates([0, 1, 2], [1.0, 2.0, 3.0]).some(np.array([0, 2]))
    assert some.log_odds.tolist() == [1.0, 3.0]
    assert some.timbre_db.shape == (2, BANDS)
    assert len(some) == 2
