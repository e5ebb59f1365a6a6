"""Checks of what a take's plots share: where times, counts and words stand."""

import re

import pytest

from loosehand.web.plots.take_axis import LEFT, SIDE, side_word, time_axis, word_beside
from tests.studio.take_scenes import COUNT_S, COUNTS, DURATION_S, heard_take
from tests.web.plots.take_pictures import AXIS


def test_time_lies_across():
    """Times lie evenly from the left margin to the right one, and never outside."""
    assert AXIS.x_of(0.0) == AXIS.left
    assert AXIS.x_of(60.0) == AXIS.left + AXIS.span
    assert AXIS.x_of(30.0) == AXIS.left + AXIS.span / 2
    assert AXIS.x_of(-5.0) == AXIS.left
    assert AXIS.x_of(99.0) == AXIS.left + AXIS.span
    assert AXIS.x_of_count(3) == AXIS.x_of(4.0)


def test_the_axis_of_a_reading():
    """A reading's axis has its length, its counts and where they lie."""
    axis = time_axis(heard_take())
    assert axis.duration_s == pytest.approx(DURATION_S)
    assert (axis.counts, axis.count_s) == (COUNTS, COUNT_S)


def test_the_axis_without_counts():
    """A reading in which no counts were found has an axis all the same."""
    axis = time_axis(heard_take() | {"first_count_s": None, "tempo_bpm": None})
    assert (axis.counts, axis.first_count_s, axis.count_s) == (0, None, None)


def test_a_long_take_is_wider():
    """A take of three minutes has as much room for a second as one of a minute, up to a limit."""
    quality = heard_take()["quality"]
    minute, three, hour = (
        time_axis(heard_take() | {"quality": quality | {"duration_s": length_s}})
        for length_s in (66.0, 198.0, 3600.0)
    )
    assert three.span / 198.0 == pytest.approx(minute.span / 66.0, rel=0.05)
    assert hour.width < 5000


def test_words_find_room():
    """A word stands on the side asked for, or on the other where it would leave the plot."""

    def end_of(x, side):
        drawn = word_beside(AXIS, x, "40 held, fell behind", side=side, style="w")
        return re.search(r'x="([\d.]+)".*class="w (\w+)"', drawn).groups()

    assert end_of(500.0, "start") == ("510", "start")
    assert end_of(500.0, "end") == ("490", "end")
    assert end_of(AXIS.width - 30, "start")[1] == "end"
    assert end_of(20.0, "end")[1] == "start"


def test_words_at_the_side_end_before_the_take():
    """The words at the side end left of where the take begins."""
    assert SIDE < LEFT == AXIS.left
    assert f'x="{SIDE:.0f}"' in side_word("count", 10.0)
