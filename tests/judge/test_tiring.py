"""Checks of the test that finds where a hand tires."""

import time

import numpy as np
import pytest

from loosehand.judge.evenness import HeldStrokes
from loosehand.judge.tiring import LEAST_COUNTS, find_tiring


def correlated(rng, strokes, *, lag1):
    """Unit-variance noise whose neighbours have a correlation of lag1."""
    noise = rng.normal(size=strokes) * np.sqrt(1.0 - lag1**2)
    series, now = np.empty(strokes), rng.normal()
    for stroke in range(strokes):
        now = lag1 * now + noise[stroke]
        series[stroke] = now
    return series


def minute(timing_ms, level_db, *, places_per_count=4, place=None):
    """Held strokes of a round at the tempo that fits them into a minute."""
    place = np.arange(timing_ms.size) if place is None else place
    place_s = 60.0 / (place[-1] + 1)
    time_s = np.maximum.accumulate(place * place_s + 1e-3 * timing_ms) + 1e-9 * place
    return HeldStrokes(place, time_s, 1e-3 * timing_ms, level_db, places_per_count, place_s)


def steady(rng, counts, *, lag1=0.6, places_per_count=4):
    """Timing and level of a steady hand."""
    strokes = counts * places_per_count
    timing_ms = 12.0 * correlated(rng, strokes, lag1=lag1)
    return timing_ms, 1.2 * correlated(rng, strokes, lag1=0.4)


@pytest.mark.parametrize("lag1", [0.4, 0.6, 0.85])
def test_steady_hands_are_seldom_called_tiring(lag1):
    """Of 120 steady minutes at 60 to 140, no more are called than a 5 % rate lets pass."""
    rng = np.random.default_rng(int(100 * lag1))
    called = sum(
        find_tiring(minute(*steady(rng, counts, lag1=lag1))).onset_count is not None
        for counts in (60, 100, 140)
        for _ in range(40)
    )
    assert called <= 12, "12 or more of 120 happen once in 50 at a rate of 5 %"


@pytest.mark.parametrize("sign", ["spread", "level", "drift"])
def test_planted_onset_is_found_and_named(sign):
    """An onset in each of the three is found within six counts in four takes of five."""
    rng = np.random.default_rng(len(sign))
    within = named = 0
    for take in range(40):
        counts = (70, 100, 130)[take % 3]
        onset = int(counts * rng.uniform(0.3, 0.7))
        timing_ms, level_db = steady(rng, counts)
        since = np.maximum(np.arange(counts * 4) / 4 - onset, 0.0)
        if sign == "spread":
            timing_ms = timing_ms * np.where(np.arange(counts * 4) >= 4 * onset, 1.9, 1.0)
        elif sign == "level":
            level_db = level_db - 3.0 * np.minimum(since / 12.0, 1.0)
        else:
            timing_ms = timing_ms + 3.0 * since
        tiring = find_tiring(minute(timing_ms, level_db))
        if tiring.onset_count is not None:
            within += abs(tiring.onset_count - (onset + 1)) <= 6
            named += tiring.sign == sign
            assert tiring.found_by_count >= tiring.onset_count - 6
            assert 0.95 <= tiring.confidence <= 1.0
    assert within >= 30
    assert named >= 36


def test_direction_is_told():
    """A hand that gets softer falls, one that falls behind rises."""
    rng = np.random.default_rng(1)
    timing_ms, level_db = steady(rng, 100)
    late = np.maximum(np.arange(400) - 200, 0) / 4
    softer = find_tiring(minute(timing_ms, level_db - 0.3 * np.minimum(late, 15)))
    behind = find_tiring(minute(timing_ms + 4.0 * late, level_db))
    assert (softer.sign, softer.rising) == ("level", False)
    assert (behind.sign, behind.rising) == ("drift", True)


def test_a_hand_that_settles_is_not_tiring():
    """Spread that shrinks is not called: only growth leaves the early range."""
    rng = np.random.default_rng(2)
    called = 0
    for _ in range(20):
        timing_ms, level_db = steady(rng, 100)
        calmer_ms = timing_ms * np.where(np.arange(400) < 160, 2.0, 1.0)
        called += find_tiring(minute(calmer_ms, level_db)).sign == "spread"
    assert called <= 3


def test_place_profile_does_not_matter():
    """A gallop and accents of the hand's own change nothing."""
    timing_ms, level_db = steady(np.random.default_rng(3), 100)
    level_db = level_db - 3.0 * np.clip((np.arange(400) - 200) / 40, 0.0, 1.0)
    plain = find_tiring(minute(timing_ms, level_db))
    shaped = find_tiring(
        minute(
            timing_ms + np.tile([0.0, 9.0, -4.0, 6.0], 100),
            level_db + np.tile([6.0, 0.0, 2.0, -1.0], 100),
        )
    )
    assert plain.onset_count is not None
    assert shaped == plain


def test_slips_are_bridged():
    """With a few strokes missing, also at the onset itself, it is found where it is without."""
    rng = np.random.default_rng(4)
    timing_ms, level_db = steady(rng, 100)
    level_db = level_db - 4.0 * np.clip((np.arange(400) - 200) / 20, 0.0, 1.0)
    kept = np.setdiff1d(np.arange(400), [33, 90, 91, 210, 301])
    whole = find_tiring(minute(timing_ms, level_db))
    holed = find_tiring(minute(timing_ms[kept], level_db[kept], place=kept))
    assert holed.sign == whole.sign == "level"
    assert abs(whole.onset_count - 51) <= 6
    assert abs(holed.onset_count - 51) <= 6


@pytest.mark.parametrize("counts", [0, 1, LEAST_COUNTS - 1])
def test_short_holds_say_nothing(counts):
    """A hold too short for an early range gives None and a sentence."""
    timing_ms, level_db = np.zeros(4 * counts), np.zeros(4 * counts)
    held = HeldStrokes(
        np.arange(4 * counts), 0.15 * np.arange(4 * counts), timing_ms, level_db, 4, 0.15
    )
    tiring = find_tiring(held)
    assert tiring.onset_count is None
    assert tiring.confidence is None
    assert str(LEAST_COUNTS) in tiring.notes[0]


@pytest.mark.parametrize("places_per_count", [2, 3, 4, 6, 8])
def test_other_subdivisions(places_per_count):
    """Eighths, triplets, sextuplets and 32nds: a clear onset is found in each."""
    rng = np.random.default_rng(places_per_count)
    timing_ms, level_db = steady(rng, 90, places_per_count=places_per_count)
    start = 45 * places_per_count
    level_db = level_db - 5.0 * (np.arange(level_db.size) >= start)
    tiring = find_tiring(minute(timing_ms, level_db, places_per_count=places_per_count))
    assert tiring.sign == "level"
    assert abs(tiring.onset_count - 46) <= 6


def test_strokes_without_spread_are_steady():
    """Strokes exactly on their places at one level never leave their range."""
    assert find_tiring(minute(np.zeros(400), np.zeros(400))).onset_count is None


@pytest.mark.timing
def test_a_minute_is_quick():
    """A minute at 140 takes less than 30 ms."""
    held = minute(*steady(np.random.default_rng(5), 140))
    spent = []
    for _ in range(5):
        begin = time.perf_counter()
        find_tiring(held)
        spent.append(time.perf_counter() - begin)
    assert min(spent) < 0.03
