"""Checks of what kind of day it is and what is due."""

from datetime import timedelta

import pytest

from loosehand.rounds.day_rules import (
    day_rule,
    days_in_a_row,
    hard_day_why,
    holds_in_week,
    holds_left,
    is_hold_to_failure,
    is_test_due,
    technique_due,
)
from tests.rounds.plain_hands import TODAY, past, player


def test_a_day_like_any_other():
    """With nothing against it a day is ordinary and rest is not proposed."""
    rule = day_rule(player(past(2), past(4)))
    assert (rule.kind, rule.why, rule.rest_proposed) == ("ordinary", None, False)


@pytest.mark.parametrize(("days_ago", "kind"), [(0, "pain"), (1, "pain"), (2, "light")])
def test_pain_comes_before_all_else(days_ago, kind):
    """Pain of today or yesterday means rest; after that rounds are light."""
    known = player(past(days_ago, feel="pain"), *(past(ago) for ago in range(1, 9)))
    rule = day_rule(known)
    assert rule.kind == kind
    assert rule.rest_proposed


@pytest.mark.parametrize("feel", ["tense", "pain"])
def test_rounds_stay_light_until_three_felt_loose(feel):
    """Two loose rounds after a tense or painful one are not enough, three are."""
    strained = past(6, feel=feel)
    loose = [past(4, order=k, feel="loose") for k in range(3)]
    assert day_rule(player(strained, *loose[:2])).kind == "light"
    assert day_rule(player(strained, *loose)).kind == "ordinary"


def test_a_strained_time_ends_where_nothing_is_said():
    """Without any word a light time ends: 14 days after tension, 28 after pain."""
    assert day_rule(player(past(13, feel="tense"))).kind == "light"
    assert day_rule(player(past(14, feel="tense"))).kind == "ordinary"
    assert day_rule(player(past(27, feel="pain"))).kind == "light"
    assert day_rule(player(past(28, feel="pain"))).kind == "ordinary"


def test_six_days_in_a_row_propose_rest():
    """After six days rest comes first, after five it does not; a day off ends the row."""
    assert day_rule(player(*(past(ago) for ago in range(1, 7)))).rest_proposed
    assert not day_rule(player(*(past(ago) for ago in range(1, 6)))).rest_proposed
    assert days_in_a_row([past(1), past(2), past(4)], today=TODAY) == 2
    assert days_in_a_row([past(0), past(1)], today=TODAY) == 0


def test_a_hold_to_failure_is_less_likely_held_than_not():
    """Known by the hand where it is known, else by having been lost; short rounds are none."""
    known = player(technique="whip fours")
    over = past(1, tempo_bpm=92.0, technique="whip fours")
    assert is_hold_to_failure(over, known)
    assert not is_hold_to_failure(past(1, tempo_bpm=84.0, held=40, technique="whip fours"), known)
    assert not is_hold_to_failure(past(1, tempo_bpm=92.0, technique="push-pull"), known)
    assert is_hold_to_failure(past(1, tempo_bpm=92.0, held=20, technique="push-pull"), known)
    assert not is_hold_to_failure(past(1, tempo_bpm=120.0, held=9, round_s=20.0), player())
    warm_up = past(1, tempo_bpm=120.0, technique="whip fours", purpose="warm-up")
    assert not is_hold_to_failure(warm_up, known)


def test_two_holds_a_week():
    """Those of the last seven days count, older ones do not."""
    known = player(past(6, tempo_bpm=95.0), past(7, tempo_bpm=95.0))
    assert (holds_in_week(known), holds_left(known)) == (1, 1)
    many = player(*(past(3, order=k, tempo_bpm=95.0) for k in range(5)))
    assert holds_left(many) == 0


def test_the_day_after_a_hard_one_is_easy():
    """Hard is a hold to failure, or a third more strokes than usual."""
    assert day_rule(player(past(1, tempo_bpm=95.0))).kind == "easy"
    usual = [past(ago, order=k) for ago in (3, 5, 7, 9) for k in range(5)]
    many = [past(1, order=k) for k in range(7)]
    assert day_rule(player(*usual, *many)).kind == "easy"
    assert day_rule(player(*usual, *many[:6])).kind == "ordinary"
    why = hard_day_why(player(*usual, *many), day=TODAY - timedelta(days=1))
    assert why == "2240 strokes, 1600 are usual"


def test_a_tense_day_was_hard():
    """Also where three loose rounds followed it."""
    rounds = [past(1, order=k, feel=feel) for k, feel in enumerate(["tense", *["loose"] * 3])]
    assert day_rule(player(*rounds)).kind == "easy"


def test_a_test_is_due_after_a_week_and_only_when_fresh():
    """The last one is seven days back or there is none, and nothing was played today."""
    assert is_test_due(player(), hand="left")
    assert is_test_due(player(past(7, purpose="test")), hand="left")
    assert not is_test_due(player(past(6, purpose="test")), hand="left")
    assert not is_test_due(player(past(0)), hand="left")
    assert is_test_due(player(past(2, purpose="test", technique="push-pull")), hand="left")
    assert is_test_due(player(past(2, purpose="test", hand="right")), hand="left")


def test_the_technique_played_longest_ago_is_due():
    """Of those in use; the player's own choice comes first."""
    history = [
        past(3, technique="push-pull"),
        past(1, technique="whip fours"),
        past(9, technique="whip fours"),
        past(40, technique="whip twos"),
        past(2),
    ]
    due = technique_due(history, today=TODAY)
    assert due.technique == "push-pull"
    assert due.why is not None
    assert "longest ago" in due.why
    assert technique_due(history, today=TODAY, chosen="whip twos").technique == "whip twos"
    assert technique_due([past(2)], today=TODAY).technique is None
    assert technique_due(history[:1], today=TODAY).why is None
