"""Checks of the choice of strokes among candidates."""

import numpy as np

from loosehand.hear.engine import Candidates
from loosehand.hear.settle import chain, gap_odds, only

PLACE_S = 0.15


def candidates(place, log_odds):
    """Candidates at places of ``PLACE_S``."""
    time_s = np.asarray(place, dtype=np.float64) * PLACE_S
    odds = np.asarray(log_odds, dtype=np.float64)
    return Candidates(time_s, odds, np.zeros(time_s.size), np.zeros((time_s.size, 3)))


def kept_places(place, log_odds):
    """Places of what is kept."""
    found = candidates(place, log_odds)
    return [place[index] for index in chain(found, place_s=PLACE_S)]


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


def test_order_of_gaps():
    """One place is likeliest, then two; between them and further apart less so."""
    one, near, two, half, far = gap_odds(np.array([1.0, 1.15, 2.0, 0.5, 5.0]))
    assert one > near > two > half > far or one > near > two > max(half, far)
    assert one > 0 > two
    assert far == gap_odds(np.array([50.0]))[0]


def test_only_takes_all_fields():
    """Choosing candidates chooses every column."""
    some = only(candidates([0, 1, 2], [1.0, 2.0, 3.0]), np.array([0, 2]))
    assert some.log_odds.tolist() == [1.0, 3.0]
    assert some.timbre_db.shape == (2, 3)
    assert len(some) == 2
