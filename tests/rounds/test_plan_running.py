"""Checks of a plan while it is played."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.rounds.conduct import Outcome
from loosehand.rounds.day_known import PlanAsked
from loosehand.rounds.plan import plan_workout
from loosehand.rounds.plan_running import hand_is_done, next_rounds, rounds_left
from loosehand.rounds.plan_steps import cost_s
from tests.rounds.plain_hands import past, player

TESTED = (past(2), past(2, purpose="test"), past(2, purpose="test", hand="right"))


def planned(minutes=30.0, *, history=TESTED, hands=None, **asked):
    """A plan for a known player whose week's test is played."""
    known = player(*history) if hands is None else player(*history, hands=hands)
    return plan_workout(known, PlanAsked(minutes, **asked), rng=np.random.default_rng(3))


def outcome(plan, index, *, held=None, feel=None, void=None):
    """What came of a round: held to its end unless told otherwise."""
    counts = plan.steps[index].planned.counts
    return Outcome(index, counts if held is None else held, counts, "whole", void, feel)


def of_hand(plan, hand, block="ladder"):
    """Places of a hand's rounds of a block."""
    return [
        k for k, each in enumerate(plan.steps) if each.planned.hand == hand and each.block == block
    ]


def test_a_hand_is_done_after_two_tempos_lost_within_16_counts():
    """One is not enough, nor are two with a longer hold between or a void one."""
    soon, later = Outcome(0, 15, 90, "", None, None), Outcome(1, 16, 90, "", None, None)
    assert hand_is_done([later, soon, soon])
    assert not hand_is_done([soon])
    assert not hand_is_done([soon, later])
    assert not hand_is_done([soon, later, soon])
    assert not hand_is_done([soon, replace(soon, void="nobody played")])
    short = Outcome(0, 10, 10, "", None, None)
    assert not hand_is_done([short, short])


def test_only_the_hand_that_is_done_leaves_the_ladder():
    """The full ladder goes on for the others, and its easy rounds for all."""
    plan = planned(None, full_ladder=True)
    left = of_hand(plan, "left")
    outcomes = [outcome(plan, k, held=5 if k in left[:2] else None) for k in range(left[1] + 1)]
    steps = rounds_left(plan, outcomes, next_index=left[1] + 1)
    assert {each.planned.hand for each in steps} == {"right", "alternating"}
    after = next_rounds(plan, outcomes, next_index=left[1] + 1, time_left_s=None)
    assert after.steps[: left[1] + 1] == plan.steps[: left[1] + 1]
    assert after.changes == (
        "Left: two tempos in a row were lost within 16 counts, its ladder is over.",
    )


def test_a_round_as_expected_changes_nothing():
    """Within a few seconds of the time the plan stays as it is."""
    plan = planned()
    left_s = cost_s(plan.steps[2:], plan.frame)
    after = next_rounds(
        plan, [outcome(plan, 0), outcome(plan, 1)], next_index=2, time_left_s=left_s
    )
    assert after == plan


@pytest.mark.parametrize("off_s", [-900.0, -200.0, -60.0, 60.0, 200.0, 600.0])
def test_what_is_left_fits_the_time_that_is_left(off_s):
    """With more or less time than planned, rounds are added or left out, and it is said why."""
    plan = planned()
    outcomes = [outcome(plan, k) for k in range(3)]
    time_left_s = cost_s(plan.steps[3:], plan.frame) + off_s
    after = next_rounds(plan, outcomes, next_index=3, time_left_s=time_left_s)
    assert after.steps[:3] == plan.steps[:3]
    assert cost_s(after.steps[3:], plan.frame) == pytest.approx(time_left_s, abs=10.0)
    assert after.changes[-1].startswith("Time is left" if off_s > 0 else "Time runs short")
    chances = [each.chance for each in after.steps[3:] if each not in plan.steps]
    assert all(chance is None or chance > 0.8 for chance in chances)


def test_no_time_left_ends_the_workout():
    """A plan that is late to its end has no rounds left."""
    plan = planned()
    after = next_rounds(plan, [outcome(plan, 0)], next_index=1, time_left_s=-20.0)
    assert after.steps == plan.steps[:1]


def test_two_tense_rounds_leave_easy_slower_and_no_more_rounds():
    """One tense round, or one followed by a loose one, changes nothing."""
    plan = planned()
    one = [outcome(plan, 0, feel="loose"), outcome(plan, 1, feel="tense")]
    left_s = cost_s(plan.steps[2:], plan.frame)
    assert next_rounds(plan, one, next_index=2, time_left_s=left_s) == plan
    two = [*one, outcome(plan, 2, feel="tense")]
    after = next_rounds(plan, two, next_index=3, time_left_s=left_s)
    easy = {each.hand: each.tempo_bpm for each in plan.frame.easy}
    assert after.steps[3:]
    assert all(each.block == "easy" for each in after.steps[3:])
    assert all(each.planned.tempo_bpm == easy[each.planned.hand] - 10 for each in after.steps[3:])
    assert len(after.steps) <= len(plan.steps)
    assert "tense" in after.changes[-1]


def test_a_placement_follows_what_was_held():
    """A tempo that was lost brings the next ones under it, and easy rounds at four fifths."""
    plan = planned(hands=dict.fromkeys(["left", "right", "alternating"]), history=())
    left = of_hand(plan, "left", "placement")
    outcomes = []
    for index in range(left[1] + 1):
        lost = index == left[1]
        outcomes.append(outcome(plan, index, held=4 if lost else None))
    after = next_rounds(
        plan,
        outcomes,
        next_index=left[1] + 1,
        time_left_s=cost_s(plan.steps[left[1] + 1 :], plan.frame),
    )
    tempos = [
        each.planned.tempo_bpm
        for each in after.steps[left[1] + 1 :]
        if each.block == "placement" and each.planned.hand == "left"
    ]
    assert tempos == [80.0, 85.0]
    easy = {each.hand: each.tempo_bpm for each in after.frame.easy}
    assert easy == {"left": 56.0, "right": 56.0, "alternating": 60.0}
    assert "nearer to where the hand gave out" in " ".join(after.changes)


def test_void_and_skipped_rounds_do_not_disturb():
    """A void outcome tells nothing, and a round may be skipped without any."""
    plan = planned()
    outcomes = [outcome(plan, 0), outcome(plan, 1, held=0, void="nobody played")]
    after = next_rounds(
        plan, outcomes, next_index=3, time_left_s=cost_s(plan.steps[3:], plan.frame)
    )
    assert after == plan
