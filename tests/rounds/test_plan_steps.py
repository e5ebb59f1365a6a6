"""Checks of a plan as it is handed over."""

import json

import numpy as np
import pytest

from loosehand.rounds.day_known import PlanAsked
from loosehand.rounds.plan import plan_workout
from loosehand.rounds.plan_steps import (
    AFTER_ROUND_S,
    Frame,
    Step,
    cost_s,
    plan_from_json,
    strokes_planned,
)
from loosehand.rounds.workout import PlannedRound
from tests.rounds.plain_hands import past, player

FRAME = Frame("left", 45.0, 60.0, 4, 4, ())


def test_a_round_costs_rest_count_in_playing_and_question():
    """At 60 a count-in of four counts takes four seconds."""
    step = Step(PlannedRound("round", "left", 60.0, 4, 60.0), "easy", 0.9, 55.0)
    assert cost_s([step, step], FRAME) == pytest.approx(2 * (45.0 + 4.0 + 55.0 + AFTER_ROUND_S))


def test_strokes_are_those_of_whole_rounds():
    """Also where a round is expected to be lost."""
    steps = [
        Step(PlannedRound("round", "left", 90.0, 4, 60.0), "ladder", 0.4, 30.0),
        Step(PlannedRound("round", "alternating", 100.0, 4, 30.0), "easy", 0.9, 30.0),
    ]
    assert strokes_planned(steps) == (360 + 100, 100)


@pytest.mark.parametrize("minutes", [None, 20.0])
def test_a_plan_comes_back_from_what_is_stored(minutes):
    """To JSON and back it is equal."""
    plan = plan_workout(player(past(2)), PlanAsked(minutes), rng=np.random.default_rng(1))
    assert plan_from_json(json.loads(json.dumps(plan.to_json()))) == plan
    assert plan.rounds == tuple(each.planned for each in plan.steps)
