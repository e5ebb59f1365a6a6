"""The rule of the hold on known places."""

import numpy as np
import pytest

from loosehand.players.truth import first_break, hand_truth


def places(size, *bad):
    """Places that are all good but for some."""
    good = np.ones(size, dtype=bool)
    good[list(bad)] = False
    return good


@pytest.mark.parametrize(
    ("bad", "expected"),
    [
        ((), None),
        ((9,), None),
        ((9, 10), None),
        ((9, 10, 11), 9),
        ((0, 1), None),
        ((9, 14), None),
        ((9, 13), 9),
        ((30,), None),
        ((31,), 31),
        ((25, 30), None),
        ((28, 31), 28),
        ((9, 20, 21, 22), 20),
    ],
)
def test_the_break_is_the_first_bad_run_not_forgiven(bad, expected):
    """Slips of one or two are forgiven with a count of good places between them."""
    assert first_break(places(32, *bad), places_per_count=4) == expected


def test_a_steady_lead_is_no_error():
    """A hand that is always a third of a place late has held."""
    truth = hand_truth(np.full(40, 0.33), places_per_count=4)
    assert truth.first_bad is None
    assert truth.lead_share == pytest.approx(0.33)


def test_a_missing_stroke_is_a_bad_place():
    """Every fourth stroke left out is a break at the first of them."""
    late = np.zeros(40)
    late[19::4] = np.nan
    assert hand_truth(late, places_per_count=4).first_bad == 19


def test_a_hand_that_never_plays_breaks_at_once():
    """No strokes at all: the first place is the break."""
    assert hand_truth(np.full(16, np.nan), places_per_count=4).first_bad == 0
