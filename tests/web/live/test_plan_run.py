"""Checks of a plan while it is played: its time, what comes, and why."""

import pytest

from loosehand.rounds.conduct import Outcome
from loosehand.rounds.plan_steps import plan_from_json
from loosehand.web.live.plan_run import PlanRun
from tests.web.live.conftest import plan_of, workout_of


def lost(index):
    """A round that was lost at its third count."""
    return Outcome(index, 3, 12, "lost the click", None, "working")


def held(index):
    """A round that was held to its end."""
    return Outcome(index, 12, 12, "held to the end", None, "loose")


@pytest.fixture
def run():
    """A plan of left and right at three tempos, as long as it takes."""
    return PlanRun(plan_of(workout_of(tempos=(120.0, 125.0, 130.0))), spent_s=0.0)


def test_rounds_as_expected_change_nothing(run):
    """Where all is held the rounds stay as they are, and there is no reason to say."""
    rounds = run.plan.rounds
    assert run.after_round([held(0)], 1) == rounds
    assert run.reason is None


def test_the_reason_is_said_once(run):
    """Two tempos in a row that were lost soon end a hand's ladder: said after that round alone."""
    outcomes = [lost(0), held(1), lost(2)]
    rounds = run.after_round(outcomes, 3)
    assert [each.hand for each in rounds] == ["left", "right", "left", "right", "right"]
    assert run.reason.startswith("Left: two tempos in a row were lost within 16 counts")
    run.after_round([*outcomes, held(3)], 4)
    assert run.reason is None


def test_time_is_left_until_it_was_spent():
    """Time left is the plan's less what was spent; a plan without a time has none left to tell."""
    plan = plan_of(workout_of(), target_s=600.0)
    assert PlanRun(plan, spent_s=90.0).time_left_s == 510.0
    assert PlanRun(plan_of(workout_of()), spent_s=90.0).time_left_s is None


def test_rounds_are_added_while_time_is_left():
    """A plan that ends early is filled up, and says so."""
    run = PlanRun(plan_of(workout_of(), target_s=200.0), spent_s=40.0)
    rounds = run.after_round([held(0)], 1)
    assert len(rounds) > 4
    assert run.reason.startswith("Time is left")


def test_it_comes_back_from_storage(run):
    """What is stored is the plan as it stands, and the time spent."""
    run.after_round([lost(0), held(1), lost(2)], 3)
    run.spent_s = 77.0
    stored = run.to_json()
    again = PlanRun(plan_from_json(stored["plan"]), spent_s=stored["spent_s"])
    assert (again.plan, again.spent_s) == (run.plan, 77.0)
