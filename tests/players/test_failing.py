"""The ways of losing the click, on a line with no noise in it."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import BadNotation
from loosehand.players.failing import HandLine, Lost, draw_lost, lose_click, slip

PLACE_S = 0.15


def even_line(places=80):
    """Give a line that lies on its grid exactly."""
    index = np.arange(places, dtype=np.int64)
    return HandLine(index, index * PLACE_S, np.zeros(places), PLACE_S, 4, places * PLACE_S)


def lost(failure, **particulars):
    """Give the particulars of a failure at place 40."""
    plain = Lost(failure, 40, 0.1, 0, 3, 0.0, 4, 0, 0.4, 10.0, None)
    return replace(plain, **particulars)


def played(failure, **particulars):
    """Play the even line with a failure."""
    return lose_click(even_line(), lost(failure, **particulars), rng=np.random.default_rng(5))


def test_slowing_slides_behind_until_the_end():
    """A hand at nine tenths of the rate makes fewer strokes, each later than the one before."""
    line = played("slowing")
    late = line.time_s / PLACE_S - line.own_place
    assert line.time_s.size < 80
    assert np.allclose(late[:41], 0.0)
    assert late[50] > 0.6


def test_running_ahead_makes_more_strokes_than_places():
    """Strokes for which there is no place left have none."""
    line = played("ahead")
    assert line.time_s.size > 80
    assert line.own_place[-1] == -1
    assert line.time_s[-1] < line.end_s


def test_stopping_leaves_silence():
    """No stroke from the place on."""
    assert played("stop").own_place.max() == 39


def test_a_stopped_hand_may_start_again():
    """After the pause the strokes are on the grid again."""
    line = played("stop", pause_places=12)
    assert np.array_equal(np.setdiff1d(np.arange(80), line.own_place), np.arange(40, 52))


def test_a_stumble_loses_strokes_and_catches_the_click_again():
    """Four strokes are lost, two grope, the rest is on the grid."""
    line = played("stumble", groping_places=2)
    late = np.abs(line.time_s / PLACE_S - line.own_place)
    assert np.array_equal(np.setdiff1d(np.arange(80), line.own_place), np.arange(40, 44))
    assert np.array_equal(line.own_place[late > 0.3], [44, 45])


@pytest.mark.parametrize(("failure", "left"), [("thin to three", 70), ("thin to two", 60)])
def test_thinning_keeps_what_is_left_in_place(failure, left):
    """A quarter, or half, of the strokes after the place are gone; none has moved."""
    line = played(failure)
    assert line.time_s.size == left
    assert np.allclose(line.time_s, line.own_place * PLACE_S)


def test_a_collapsed_hand_is_soft_and_off_the_grid():
    """The first strokes after the place lie between places, ten decibels down."""
    line = played("collapse", rate_share=0.3)
    after = line.time_s[41:47] / PLACE_S
    assert np.all(np.abs(after - np.round(after)) >= 0.35)
    assert np.mean(line.level_db[41:]) == pytest.approx(-10.0, abs=1.0)


def test_an_unknown_failure_is_refused():
    """The message names it."""
    with pytest.raises(BadNotation, match="'yawn' is no way of losing the click"):
        played("yawn")


@pytest.mark.parametrize("seed", range(8))
def test_a_slip_touches_one_or_two_places(seed):
    """A slip makes one or two places bad and leaves all others alone."""
    line = slip(even_line(), 20, rng=np.random.default_rng(seed))
    late = np.full(80, np.inf)
    late[line.own_place] = np.abs(line.time_s / PLACE_S - line.own_place)
    bad = np.flatnonzero(late > 0.3)
    assert bad.tolist() in ([20], [20, 21])


@pytest.mark.parametrize("seed", range(20))
def test_a_stumble_is_always_worth_a_break(seed):
    """Lost and groping places together are three or more."""
    drawn = draw_lost("stumble", 10, places_per_count=4, rng=np.random.default_rng(seed))
    assert drawn.lost_places + drawn.groping_places >= 3
