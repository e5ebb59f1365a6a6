"""What a performance says of itself."""

import numpy as np
import pytest

from loosehand.players.people import draw_player
from loosehand.players.performance import recorded_part
from loosehand.players.play import TakePlan, play


def stopped_round():
    """Play a round that stops in count 12."""
    rng = np.random.default_rng(1)
    plan = TakePlan(100.0, 4, "left", 20, "stop", 12, 0, 4, 4, 1, 1.0, 0.0)
    return play(draw_player(rng), plan, rng)


def test_the_count_held_is_that_of_the_first_bad_place():
    """Place 48 to 51 is in the thirteenth count, so twelve are held."""
    one = stopped_round()
    assert one.first_bad_place // 4 == one.count_held == 12
    assert one.clean_counts <= one.count_held <= one.last_locked_count


def test_places_lie_a_place_apart_from_the_first_count():
    """Eighty places of 150 ms."""
    one = stopped_round()
    places_s = one.place_times_s()
    assert places_s.size == one.places_offered == 80
    assert places_s[0] == one.first_count_s
    assert np.allclose(np.diff(places_s), one.place_s)
    assert one.round_end_s == pytest.approx(places_s[-1] + one.place_s)


def test_asynchrony_is_stroke_minus_place():
    """Early is negative; a stroke without a place has none."""
    one = stopped_round()
    has = one.stroke_place >= 0
    expected = one.stroke_time_s[has] - one.place_times_s()[one.stroke_place[has]]
    assert np.allclose(one.asynchrony_s()[has], expected)
    assert np.all(np.isnan(one.asynchrony_s()[~has]))


def test_a_cut_leaves_what_was_recorded():
    """Strokes and clicks after the cut are gone, the hold is that of the round."""
    one = stopped_round()
    cut = recorded_part(one, one.first_count_s + 1.0)
    assert cut.stroke_time_s.max() < one.first_count_s + 1.0
    assert cut.click_time_s.max() < one.first_count_s + 1.0
    assert len(cut.stroke_hand) == cut.level_db.size == cut.stroke_time_s.size
    assert cut.count_held == one.count_held
