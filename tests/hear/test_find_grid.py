"""Checks of finding count 1 and the counts of a round."""

import numpy as np
import pytest

from loosehand.hear.bleed import Bleed, ClickPhase
from loosehand.hear.find_grid import (
    ClickEvidence,
    click_evidence,
    counts_of_minute,
    find_grid,
    steady_start,
)
from tests.hear.scenes import jittered, request

PERIOD_S = 0.6
PLACE_S = PERIOD_S / 4


def clicks(first_number=0, last_number=None):
    """A click at 0.5 s and every count after it."""
    return ClickEvidence(0.5, PERIOD_S, first_number, last_number)


def played(first_s, counts, *, sd_s=0.008, seed=1):
    """Sixteenths for so many counts."""
    return jittered(first_s, PLACE_S, 4 * counts, sd_s=sd_s, seed=seed)


@pytest.mark.parametrize("count_in", [2, 4, 8])
def test_start_on_the_click_after_a_count_in(count_in):
    """Count 1 is the click at which the strokes begin."""
    first_s = 0.5 + count_in * PERIOD_S
    grid = find_grid(played(first_s, 30), clicks(), request(), duration_s=first_s + 18.5)
    assert grid is not None
    assert grid.source == "click"
    assert grid.first_count_s == pytest.approx(first_s)
    assert grid.counts_offered == 30
    assert grid.confidence > 0.5


def test_count_in_decides_where_the_first_stroke_is_missing():
    """After four clicks the fifth is count 1, though its first place was not struck."""
    first_s = 0.5 + 4 * PERIOD_S
    grid = find_grid(played(first_s, 30)[1:], clicks(), request(), duration_s=22.0)
    assert grid is not None
    assert grid.first_count_s == pytest.approx(first_s)


def test_a_knock_in_the_count_in_is_no_start():
    """One stray sound before the figure does not start it."""
    first_s = 0.5 + 4 * PERIOD_S
    stroke_s = np.concatenate(([0.9], played(first_s, 30)))
    grid = find_grid(stroke_s, clicks(), request(), duration_s=22.0)
    assert grid is not None
    assert grid.first_count_s == pytest.approx(first_s)


def test_a_burst_long_before_the_round_is_no_start():
    """A count full of knocks, then three silent ones: count 1 is where playing goes on."""
    first_s = 0.5 + 4 * PERIOD_S
    knocks = 0.5 + PLACE_S * np.array([0.1, 0.9, 1.7, 2.6])
    stroke_s = np.concatenate((knocks, played(first_s, 30)))
    grid = find_grid(stroke_s, clicks(None), request(), duration_s=22.0)
    assert grid is not None
    assert grid.first_count_s == pytest.approx(first_s)


def test_from_strokes_where_the_second_is_missing():
    """Without a click the first stroke stands, though none was heard right after it."""
    stroke_s = np.delete(played(2.0, 20), 1)
    found = steady_start(stroke_s, place_s=PLACE_S, places_per_count=4)
    assert found is not None
    assert found[0] == pytest.approx(2.0, abs=0.02)


def test_from_strokes():
    """Without a click the first of the steady strokes is count 1."""
    grid = find_grid(played(1.3, 30), None, request(), duration_s=19.5)
    assert grid is not None
    assert grid.source == "strokes"
    assert grid.first_count_s == pytest.approx(1.3, abs=0.008)
    assert grid.count_period_s == PERIOD_S


def test_told():
    """A first count that was told is taken as it is."""
    grid = find_grid(played(1.3, 30), None, request(first_s=2.5), duration_s=19.5)
    assert grid is not None
    assert (grid.first_count_s, grid.source, grid.confidence) == (2.5, "told", 1.0)


def test_planned_counts():
    """As many counts as planned, and no more than were recorded."""
    stroke_s = played(1.3, 30)
    planned = [
        find_grid(stroke_s, None, request(planned=counts), duration_s=19.5).counts_offered
        for counts in (12, 400)
    ]
    assert planned[0] == 12
    assert 29 <= planned[1] <= 31


def test_a_minute_is_offered_where_it_was_recorded():
    """Where the recording goes on the round is its minute, though the hand stopped."""
    grid = find_grid(played(1.3, 10), None, request(), duration_s=70.0)
    assert grid is not None
    assert grid.counts_offered == 100


@pytest.mark.parametrize(
    ("tempo_bpm", "counts"), [(60, 60), (104, 104), (103.999, 104), (99.5, 99), (0.5, 1)]
)
def test_counts_of_minute(tempo_bpm, counts):
    """A minute holds its tempo's whole counts."""
    assert counts_of_minute(60.0 / tempo_bpm) == counts


@pytest.mark.parametrize("duration_s", [1.31, 1.6, 2.0, 2.6])
def test_short_recordings(duration_s):
    """A recording that ends soon offers at least one count and no more than it holds."""
    stroke_s = played(1.3, 30)
    grid = find_grid(stroke_s[stroke_s < duration_s], None, request(), duration_s=duration_s)
    if grid is not None:
        room = (duration_s - grid.first_count_s) / PERIOD_S
        assert 1 <= grid.counts_offered <= max(room + 0.2, 1)


@pytest.mark.parametrize("click", [None, clicks()])
def test_no_strokes_no_grid(click):
    """Where nothing was struck there are no counts."""
    assert find_grid(np.zeros(0), click, request(), duration_s=60.0) is None


def test_steady_start_leaves_out_stray_sounds():
    """Sounds long before the figure are not its start, and a lone one says nothing."""
    stroke_s = np.concatenate(([0.2, 0.9], played(2.0, 10)))
    start_s, chance = steady_start(stroke_s, place_s=PLACE_S, places_per_count=4)
    assert start_s == pytest.approx(2.0, abs=0.01)
    assert chance > 0.5
    assert steady_start(np.array([1.0]), place_s=PLACE_S, places_per_count=4) is None


def test_click_evidence_tells_first_and_last():
    """First and last click are said where a second stands beside them."""
    heard = np.array([0, 0, 1, 1, 1, 0, 0, 0, 1, 0], dtype=bool)
    waveform = np.zeros((1, 10), np.float32)
    bleed = Bleed(0.5, PERIOD_S, waveform, 2, np.ones(10), heard)
    found = click_evidence(ClickPhase(0.5, PERIOD_S, 20.0), bleed)
    assert found == ClickEvidence(0.5, PERIOD_S, 2, None)
    assert click_evidence(None, None) is None
