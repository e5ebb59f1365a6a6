"""Checks of what a plan is made from."""

from dataclasses import replace

import numpy as np

from loosehand.rounds.day_known import PlanAsked
from loosehand.rounds.plan_task import last_test, plan_task, planned_step
from tests.rounds.plain_hands import HANDS, past, player


def task(*history, minutes=30.0, hands=HANDS, **asked):
    """What a plan of a player is made from."""
    known = player(*history, hands=hands)
    return plan_task(known, PlanAsked(minutes, **asked), np.random.default_rng(1))


def test_the_weak_hand_comes_first():
    """Only hands that were asked for play."""
    assert task().hands == ("left", "right", "alternating")
    assert task(hands={**HANDS}, **{}).frame.weak == "left"
    known = replace(player(), weak="right")
    asked = PlanAsked(30.0, hands=("left", "right"))
    assert plan_task(known, asked, np.random.default_rng(1)).hands == ("right", "left")


def test_light_days_are_slower_shorter_and_rest_longer():
    """Ten counts under the easy tempo, six tenths of the time, rests a quarter longer."""
    usual, light = task(past(2)), task(past(2, feel="tense"))
    assert light.target_s == 0.6 * usual.target_s
    assert light.frame.rest_s == 75.0
    for easy, slower in zip(usual.frame.easy, light.frame.easy, strict=True):
        assert slower.tempo_bpm == easy.tempo_bpm - 10
        assert slower.chance > easy.chance


def test_after_pain_only_slow_alternation():
    """At 60 at most, and ten minutes at most."""
    pain = task(past(1, feel="pain"), minutes=120.0, light_anyway=True)
    assert [each.hand for each in pain.frame.easy] == ["alternating"]
    assert pain.frame.easy[0].tempo_bpm <= 60.0
    assert pain.target_s == 600.0


def test_a_hand_known_from_few_rounds_is_unknown():
    """Fewer than four rounds tell nothing."""
    few = {**HANDS, "left": replace(HANDS["left"], rounds=3)}
    assert task(hands=few).reach("left") is None
    assert task(hands=few).reach("right") is HANDS["right"]
    step = planned_step(task(hands=few), "left", 90.0, block="ladder", round_s=60.0)
    assert (step.chance, step.played_s) == (None, 60.0)


def test_the_last_test_of_a_hand():
    """The latest of the same hand and kind."""
    tests = [
        past(21, purpose="test", tempo_bpm=84.0),
        past(14, purpose="test", tempo_bpm=86.0),
        past(7, purpose="test", tempo_bpm=90.0, technique="push-pull"),
        past(7, purpose="test", tempo_bpm=95.0, hand="right"),
    ]
    assert last_test(task(*tests), "left").tempo_bpm == 86.0
    assert last_test(task(), "left") is None
