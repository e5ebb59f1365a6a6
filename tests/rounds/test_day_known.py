"""Checks of what the planner is told."""

import pytest

from loosehand.errors import InputError
from loosehand.rounds.day_known import PlanAsked, check_asked
from tests.rounds.plain_hands import past, player


def test_a_round_that_was_held_is_not_lost():
    """Lost is only what was judged and not held on."""
    assert not past(1).is_lost
    assert past(1, held=12).is_lost
    assert past(1, tempo_bpm=104.0).counts == 104


def test_the_last_days_begin_with_today():
    """Two days are today and yesterday."""
    known = player(past(0), past(1), past(2))
    assert [each.day.day for each in known.since(2)] == [15, 14]
    assert known.strong == "right"


def test_rounds_of_another_technique_are_not_alike():
    """Only rounds of the technique and the grid that the hands are known from are alike."""
    known = player(technique="whip fours")
    assert known.is_alike(past(1, technique="whip fours"))
    assert not known.is_alike(past(1, technique="push-pull"))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"minutes": 2.0}, "minutes = 2 cannot be; want 3 to 120"),
        ({"minutes": 20.0, "rest_s": 900.0}, "rest_s = 900"),
        ({"minutes": None, "round_s": 1.0}, "round_s = 1"),
        ({"minutes": 20.0, "hands": ()}, "hands"),
        ({"minutes": float("nan")}, "minutes"),
    ],
)
def test_what_cannot_be_is_refused(changes, said):
    """A figure outside its limits is named."""
    with pytest.raises(InputError, match=said):
        check_asked(PlanAsked(**changes))
