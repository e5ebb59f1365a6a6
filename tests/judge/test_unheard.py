"""Checks of places whose stroke the recording may have hidden."""

import numpy as np
import pytest

from loosehand.hear.heard import Background, Strokes
from loosehand.judge.unheard import audibility_db, chance_missed, presumed_played

N = 4
PLACES = 100 * N


def row(*, empty=(), bad=()):
    """Good places, but for some with no stroke and some with a bad one."""
    good, nothing = np.ones(PLACES, dtype=bool), np.zeros(PLACES, dtype=bool)
    good[[*empty, *bad]] = False
    nothing[[*empty]] = True
    return good, nothing


def presumed(missed, **what):
    """Places presumed played, missing a stroke being as likely at every place."""
    good, nothing = row(**what)
    chance = np.full(PLACES, missed)
    return np.flatnonzero(presumed_played(good, nothing, chance, places_per_count=N)).tolist()


def test_lone_empty_places_in_a_noisy_take_are_presumed():
    """Where one stroke in ten is missed, a few lone empty places are no break."""
    assert presumed(0.1, empty=(41, 44, 203)) == [41, 44, 203]


def test_in_a_clear_take_nothing_is_presumed():
    """Where hardly a stroke is missed, an empty place is an empty place."""
    assert presumed(0.003, empty=(41, 44, 203)) == []


def test_a_hand_that_thins_out_is_not_filled():
    """The same place of every count empty from count 50 on: thinning, however noisy."""
    assert presumed(0.1, empty=range(200, PLACES, N)) == []


def test_a_thinning_hand_is_found_in_loud_noise():
    """Even where one stroke in three is missed, chance does not empty one place alone."""
    assert len(presumed(0.33, empty=range(200, PLACES, N))) <= 2


def test_a_hand_that_stops_is_not_filled():
    """Long silence is never presumed played."""
    assert presumed(0.5, empty=range(300, PLACES)) == []


def test_a_lost_stretch_is_not_filled():
    """Among bad strokes an empty place says nothing good."""
    assert presumed(0.1, empty=(204, 207), bad=(200, 201, 202, 203, 205, 206, 208, 209)) == []


def test_chance_falls_with_audibility():
    """A stroke in the noise is missed half the time, a clear one hardly ever."""
    chance = chance_missed(np.array([-20.0, 5.0, 10.0, 15.0, 30.0, 60.0]))
    assert np.all(np.diff(chance) <= 0)
    assert chance[0] == pytest.approx(0.5, abs=0.01)
    assert chance[-1] < 0.01


def test_audibility_is_by_place_and_moment():
    """Loud and soft places over a background that rises half-way."""
    time_s = 0.1 * np.arange(40)
    level_db = np.where(np.arange(40) % 2 == 0, -20.0, -40.0)
    strokes = Strokes(time_s, level_db, np.ones(40), np.zeros((40, 3)))
    level = np.repeat([[-60.0], [-50.0]], 200, axis=0) * np.ones((1, 3))
    background = Background(level, 0.01)
    found = audibility_db(strokes, np.arange(40) % 2, time_s, background)
    # Power over three alike bands: each lies 4.8 dB under the whole.
    third_db = 10 * np.log10(3)
    assert found[:4] == pytest.approx([40 - third_db, 20 - third_db] * 2)
    assert found[-2:] == pytest.approx([30 - third_db, 10 - third_db])


def test_background_beyond_the_ends():
    """Before the first moment and after the last the nearest one holds."""
    background = Background(np.array([[-60.0], [-40.0]]), 0.01)
    assert background.at(np.array([-1.0, 0.004, 0.016, 9.0]))[:, 0].tolist() == [
        -60.0,
        -60.0,
        -40.0,
        -40.0,
    ]
