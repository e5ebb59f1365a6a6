"""Checks of what a drive sounds like."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.judge.cycle_profile import cycle_profile
from loosehand.judge.drive_shape import NO_SHAPE, drive_shape, push_pull
from tests.judge.held_scenes import hand, some


def profiles(held):
    """Level and timing over the cycle."""
    level = cycle_profile(held, held.level_db, cycle=12)
    return level, cycle_profile(held, 1e3 * held.asynchrony_s, cycle=12)


def shape_of(held, strokes, phase=0):
    """Return the shape of a drive."""
    return drive_shape(held, *profiles(held), strokes=strokes, phase=phase)


def later(held, late_ms):
    """Make strokes later, each by its own amount."""
    return replace(held, asynchrony_s=held.asynchrony_s + 1e-3 * late_ms)


@pytest.mark.parametrize(("strokes", "phase"), [(4, 0), (4, 2), (3, 1), (2, 1)])
def test_contrast_and_decay_come_back(strokes, phase):
    """Planted contrast and decay come back within 0.4 and 0.25 dB."""
    held = hand(drive=strokes, phase=phase, contrast_db=7.0, decay_db=1.2)
    shape = shape_of(held, strokes, phase)
    mean_tap = 7.0 + 1.2 * (strokes - 2) / 2
    assert shape.contrast_db.told == pytest.approx(mean_tap, abs=0.4)
    assert shape.contrast_db.low80 < shape.contrast_db.told < shape.contrast_db.high80
    if strokes > 2:
        assert shape.decay_db.told == pytest.approx(1.2, abs=0.25)
    else:
        assert shape.decay_db.told is None
    assert [tap.told for tap in shape.taps_db] == pytest.approx(
        [7.0 + 1.2 * further for further in range(strokes - 1)], abs=0.5
    )


@pytest.mark.parametrize("strokes", [2, 3, 4])
def test_the_ranges_of_the_taps_are_as_wide_as_chance(strokes):
    """Of 150 hands each tap's level scatters by 0.8 to 1.2 of the error that it states."""
    shapes = [shape_of(hand(seed, drive=strokes, strokes=360), strokes) for seed in range(150)]
    for tap in range(strokes - 1):
        found = [shape.taps_db[tap] for shape in shapes]
        of_error = [2.5632 * (one.told - 8.0) / (one.high80 - one.low80) for one in found]
        assert 0.8 < np.sqrt(np.mean(np.square(of_error))) < 1.2


def test_stretch_comes_back():
    """Strokes after the accent planted 5 ms late come 5 ms late."""
    held = hand(drive=4, spread_ms=5.0)
    held = later(held, np.where(held.place_index % 4 == 1, 5.0, 0.0))
    assert shape_of(held, 4).accent_stretch_ms.told == pytest.approx(5.0, abs=1.0)


def test_swelling_taps_are_found():
    """Taps that grow by 4 dB in a minute against their accent swell by 4 dB a minute."""
    held = hand(drive=4, strokes=400)
    grows = np.where(held.place_index % 4 > 0, 4.0 * held.place_index / 400, 0.0)
    trend = shape_of(replace(held, level_db=held.level_db + grows), 4).tap_trend_db_per_minute
    assert trend.told == pytest.approx(4.0, abs=0.6)
    assert trend.low80 > 3.0


def test_crushed_taps_are_found():
    """Taps that draw together by 6 ms a gap in a minute have a gap trend of -6 ms a minute."""
    held = hand(drive=4, strokes=400, spread_ms=3.0)
    crushed = -6.0 * (held.place_index % 4) * held.place_index / 400
    trend = shape_of(later(held, crushed), 4).tap_gap_trend_ms_per_minute
    assert trend.told == pytest.approx(-6.0, abs=1.2)


@pytest.mark.parametrize("strokes", [2, 3, 4])
def test_the_ranges_of_trends_are_as_wide_as_chance(strokes):
    """Of 150 steady hands the trends scatter by 0.8 to 1.2 of the errors that they state."""
    shapes = [shape_of(hand(seed, drive=strokes, strokes=360), strokes) for seed in range(150)]
    for key in ("tap_trend_db_per_minute", "tap_gap_trend_ms_per_minute"):
        trends = [getattr(shape, key) for shape in shapes]
        of_error = [2.5632 * one.told / (one.high80 - one.low80) for one in trends]
        assert 0.8 < np.sqrt(np.mean(np.square(of_error))) < 1.2


def test_trends_need_whole_drives():
    """With one stroke of every drive missing no trend is told."""
    held = hand(drive=4, strokes=400)
    shape = shape_of(some(held, ~np.isin(held.place_index % 16, [1, 6, 11, 12])), 4)
    assert shape.tap_trend_db_per_minute.told is None
    assert shape.tap_gap_trend_ms_per_minute.told is None
    assert NO_SHAPE.contrast_db.told is None
    assert NO_SHAPE.taps_db == ()


def test_push_against_pull_is_found_in_level_and_in_timing():
    """1.5 dB and 6 ms between odd and even strokes are found, each by itself."""
    held = hand(strokes=360)
    odd = held.place_index % 2 == 1
    softer = replace(held, level_db=held.level_db - np.where(odd, 1.5, 0.0))
    found = push_pull(*profiles(softer))
    assert found.level_db == pytest.approx(-1.5, abs=0.35)
    assert (found.level_uneven, found.timing_uneven) == (True, False)
    found = push_pull(*profiles(later(held, np.where(odd, 6.0, 0.0))))
    assert found.timing_ms == pytest.approx(6.0, abs=1.5)
    assert (found.level_uneven, found.timing_uneven) == (False, True)


def test_even_strokes_are_seldom_called_uneven():
    """Of 200 even hands at most 4 are called uneven."""
    found = [push_pull(*profiles(hand(seed, strokes=240))) for seed in range(200)]
    assert sum(one.level_uneven or one.timing_uneven for one in found) <= 4
