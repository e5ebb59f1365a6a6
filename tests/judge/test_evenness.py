"""Checks of evenness before the break."""

import numpy as np
import pytest

from loosehand.errors import BadTimes
from loosehand.judge.evenness import (
    HeldStrokes,
    check_held,
    interlock,
    measure_evenness,
    measure_hands,
)
from loosehand.judge.variability import SplitRequest

PLACE_S = 60.0 / 100 / 4
REQUEST = SplitRequest(4, 4, 0, 0.0002)


def held_strokes(asynchrony_s, level_db=None, *, place=None, places_per_count=4):
    """Strokes on a grid of sixteenths at 100 counts a minute."""
    place = np.arange(asynchrony_s.size) if place is None else place
    level_db = np.zeros(asynchrony_s.size) if level_db is None else level_db
    time_s = 1.5 + place * PLACE_S + asynchrony_s
    return HeldStrokes(place, time_s, asynchrony_s, level_db, places_per_count, PLACE_S)


def test_lead_is_the_median_asynchrony():
    """A hand that plays 8 ms early leads by 8 ms, one wild stroke or not."""
    asynchrony_s = np.full(40, -0.008)
    asynchrony_s[7] = 0.03
    assert measure_evenness(held_strokes(asynchrony_s), split_request=None).lead_ms == -8.0


def test_intervals_of_white_asynchronies():
    """White asynchronies of 5 ms give intervals of 5 ms times root 2, lag-1 correlation -1/2."""
    asynchrony_s = np.random.default_rng(1).normal(0.0, 0.005, 4000)
    evenness = measure_evenness(held_strokes(asynchrony_s), split_request=None)
    assert evenness.interval_sd_ms == pytest.approx(5.0 * np.sqrt(2.0), rel=0.04)
    assert evenness.interval_cv == pytest.approx(5.0 * np.sqrt(2.0) / 150.0, rel=0.04)
    assert evenness.interval_lag1 == pytest.approx(-0.5, abs=0.03)
    assert evenness.asynchrony_lag1 == pytest.approx(0.0, abs=0.05)


def test_drift_does_not_count_as_unevenness():
    """A hand that slows smoothly by a tenth of a place has the spread of a steady one."""
    steady_s = np.random.default_rng(2).normal(0.0, 0.003, 400)
    slowing_s = steady_s + 0.015 * (np.arange(400) / 400) ** 2
    steady = measure_evenness(held_strokes(steady_s), split_request=None)
    slowing = measure_evenness(held_strokes(slowing_s), split_request=None)
    assert slowing.interval_sd_ms == pytest.approx(steady.interval_sd_ms, rel=0.01)
    assert slowing.drift_ms_per_minute.told > 5.0


def test_drift_against_the_click_is_found():
    """A hand that falls behind by 6 ms in 40 counts drifts by 15 ms a minute."""
    place = np.arange(160)
    asynchrony_s = 0.006 * place / 160
    drift = measure_evenness(held_strokes(asynchrony_s), split_request=None).drift_ms_per_minute
    assert drift.told == pytest.approx(15.0, rel=1e-6)


def test_drift_ranges_hold_the_truth_on_correlated_strokes():
    """The 80 % range of drift holds nought in about four of five steady, correlated takes."""
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(300):
        noise = rng.normal(0.0, 0.008, 400)
        asynchrony_s = np.empty(400)
        now = rng.normal(0.0, 0.011)
        for stroke in range(400):
            now = 0.7 * now + noise[stroke]
            asynchrony_s[stroke] = now
        drift = measure_evenness(held_strokes(asynchrony_s), split_request=None).drift_ms_per_minute
        inside += drift.low80 <= 0.0 <= drift.high80
    assert 0.72 * 300 <= inside <= 0.88 * 300


def test_profile_finds_a_late_and_a_loud_place():
    """A place 8 ms late and one 2 dB up stand out by that, drift or not."""
    rng = np.random.default_rng(4)
    timing_s = np.tile([0.0, 0.0, 0.008, 0.0], 100) + np.linspace(0.0, 0.02, 400)
    level_db = np.tile([2.0, 0.0, 0.0, 0.0], 100) - np.linspace(0.0, 3.0, 400)
    held = held_strokes(
        timing_s + rng.normal(0.0, 0.002, 400), level_db + rng.normal(0.0, 0.5, 400)
    )
    profile = measure_evenness(held, split_request=None).places
    for place, (timing_ms, loud_db) in enumerate(((-2, 1.5), (-2, -0.5), (6, -0.5), (-2, -0.5))):
        found = profile[place]
        assert abs(found.timing_ms - timing_ms) < 3.5 * found.timing_error_ms
        assert abs(found.level_db - loud_db) < 3.5 * found.level_error_db
        assert found.timing_error_ms < 0.3
        assert found.level_error_db < 0.08


def test_level_spread_and_slope():
    """Level spread leaves profile and slope out, and the slope is found."""
    rng = np.random.default_rng(5)
    level_db = np.tile([3.0, 0.0, 1.0, -1.0], 100) - 3.0 * np.arange(400) / 400
    held = held_strokes(np.zeros(400), level_db + rng.normal(0.0, 1.2, 400))
    evenness = measure_evenness(held, split_request=None)
    assert evenness.level_spread_db == pytest.approx(1.2, rel=0.1)
    assert (
        evenness.level_slope_db_per_minute.low80 < -3.0 < evenness.level_slope_db_per_minute.high80
    )


def test_no_interval_is_taken_across_a_slip():
    """Without two strokes the intervals over their places are left out, not guessed."""
    asynchrony_s = np.random.default_rng(6).normal(0.0, 0.004, 200)
    place = np.setdiff1d(np.arange(200), [50, 51, 120])
    holed = measure_evenness(held_strokes(asynchrony_s[place], place=place), split_request=None)
    whole = measure_evenness(held_strokes(asynchrony_s), split_request=None)
    assert holed.interval_sd_ms == pytest.approx(whole.interval_sd_ms, rel=0.05)
    assert holed.places[0].counts == 48
    assert whole.places[0].counts == 50


@pytest.mark.parametrize("strokes", [0, 1, 2, 5, 9, 15, 17])
def test_short_holds_give_null_and_a_sentence(strokes):
    """What a short hold cannot tell is None, with a sentence that says what is needed."""
    asynchrony_s = np.random.default_rng(7).normal(0.0, 0.004, strokes)
    evenness = measure_evenness(held_strokes(asynchrony_s), split_request=REQUEST)
    assert (evenness.lead_ms is None) == (strokes == 0)
    assert (evenness.interval_sd_ms is None) == (strokes < 9)
    assert (evenness.places == ()) == (strokes < 16)
    assert evenness.split is None
    assert any("split" in note for note in evenness.notes)
    assert all(note[0].isupper() and note.endswith(".") for note in evenness.notes)


def test_strokes_without_spread_are_measured():
    """Strokes exactly on their places have no spread, no correlation and no split."""
    evenness = measure_evenness(held_strokes(np.zeros(200)), split_request=REQUEST)
    assert evenness.interval_sd_ms == pytest.approx(0.0, abs=1e-9)
    assert evenness.asynchrony_lag1 is None
    assert evenness.split is None


def test_gap_between_the_hands():
    """A left hand 6 ms late and 2 dB softer is told as +6 ms and -2 dB, its own evenness apart."""
    rng = np.random.default_rng(8)
    left = held_strokes(rng.normal(0.006, 0.003, 200), rng.normal(-2.0, 1.0, 200))
    right = held_strokes(rng.normal(0.0, 0.006, 200), rng.normal(0.0, 1.0, 200))
    hands = measure_hands(left, right)
    assert abs(hands.gap.timing_ms - 6.0) < 3.5 * hands.gap.timing_error_ms
    assert abs(hands.gap.level_db + 2.0) < 3.5 * hands.gap.level_error_db
    assert hands.gap.timing_error_ms < 0.8
    assert hands.left.interval_sd_ms < hands.right.interval_sd_ms
    assert hands.left.split is None


def test_interlocked_hands_are_one_stream():
    """Two hands make one row on twice the places, ended where the first of them ends."""
    rng = np.random.default_rng(9)
    leading = held_strokes(rng.normal(0.0, 0.003, 60), np.arange(60.0))
    following = held_strokes(rng.normal(0.004, 0.003, 50), -np.arange(50.0))
    both = interlock(leading, following)
    assert both.place_index.tolist() == list(range(100))
    assert both.places_per_count == 8
    assert both.place_s == pytest.approx(PLACE_S / 2)
    assert both.level_db[:4].tolist() == [0.0, 0.0, 1.0, -1.0]
    assert np.array_equal(both.asynchrony_s[1::2], following.asynchrony_s)
    profile = measure_evenness(both, split_request=SplitRequest(8, 8, 0, 0.0002)).places
    late = [place.timing_ms for place in profile]
    assert min(late[1::2]) > max(late[0::2])


def test_one_hand_alone_makes_no_stream():
    """With one hand silent there are no interlocked strokes."""
    assert interlock(held_strokes(np.zeros(40)), held_strokes(np.zeros(0))).time_s.size == 0


def test_gap_needs_both_hands():
    """With one hand silent there is no gap, and a sentence says so."""
    left = held_strokes(np.zeros(40))
    right = held_strokes(np.zeros(0))
    hands = measure_hands(left, right)
    assert hands.gap is None
    assert "both" in hands.notes[0]


def test_wrong_rows_are_refused():
    """Rows out of order, of different lengths or not finite are refused by name."""
    good = held_strokes(np.zeros(8))
    with pytest.raises(BadTimes, match="increase"):
        check_held(held_strokes(np.zeros(8), place=np.array([0, 1, 2, 2, 3, 4, 5, 6])))
    with pytest.raises(BadTimes, match="lengths"):
        check_held(
            HeldStrokes(good.place_index, good.time_s, good.asynchrony_s, np.zeros(7), 4, PLACE_S)
        )
    with pytest.raises(BadTimes, match="level_db"):
        check_held(held_strokes(np.zeros(8), np.full(8, np.nan)))
