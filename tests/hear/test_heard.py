"""Checks of what the ear hands on."""

import dataclasses

import numpy as np
import pytest

from loosehand.hear.heard import CountGrid, Strokes

GRID = CountGrid(1.5, 0.6, 10, 4, "told", 1.0)


def test_places_of_a_grid():
    """Places lie evenly from count 1 on, all counts through."""
    place_s = GRID.place_times_s()
    assert place_s.shape == (40,)
    assert place_s[0] == 1.5
    assert np.diff(place_s) == pytest.approx(0.15)
    assert place_s[4] == pytest.approx(1.5 + 0.6)


def test_tempo_of_a_grid():
    """Tempo and place follow from the length of a count."""
    assert GRID.tempo_bpm == pytest.approx(100.0)
    assert GRID.place_s == pytest.approx(0.15)


def test_strokes_are_counted():
    """The length of strokes is how many there are."""
    none = np.zeros(0)
    assert len(Strokes(none, none, none, np.zeros((0, 3)))) == 0
    three = np.arange(3.0)
    assert len(Strokes(three, three, three, np.zeros((3, 3)))) == 3


def test_nothing_heard_is_changed_later():
    """What was heard is frozen."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        GRID.first_count_s = 2.0
