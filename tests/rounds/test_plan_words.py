"""Checks of the reasons: one sentence each, none that cheers."""

import re

import numpy as np
import pytest

from loosehand.rounds.day_known import PlanAsked
from loosehand.rounds.plan import plan_workout
from loosehand.rounds.plan_task import plan_task
from loosehand.rounds.plan_words import block_whys, plan_cautions, plan_why
from tests.rounds.plain_hands import HANDS, past, player

PLAYERS = {
    "usual": player(past(2), *(past(4, purpose="test", hand=hand) for hand in HANDS)),
    "test": player(past(2)),
    "new": player(hands=dict.fromkeys(HANDS)),
    "tense": player(past(2, feel="tense")),
    "pain": player(past(1, feel="pain")),
    "row": player(*(past(ago) for ago in range(1, 8))),
    "hard": player(past(1, tempo_bpm=99.0)),
}
CHEER = re.compile(r"!|great|keep it up|well done|record|goal|target|beat ", re.IGNORECASE)


def plan_of(name, **asked):
    """The plan of a player."""
    return plan_workout(
        PLAYERS[name], PlanAsked(**{"minutes": 30.0, **asked}), rng=np.random.default_rng(5)
    )


@pytest.mark.parametrize("full_ladder", [False, True])
@pytest.mark.parametrize("name", PLAYERS)
def test_every_block_says_why_and_nothing_cheers(name, full_ladder):
    """Each block of the plan has its sentence; none pushes."""
    plan = plan_of(name, full_ladder=full_ladder, light_anyway=True)
    told = {(each.block, each.hand) for each in plan.whys}
    for each in plan.steps:
        alone = each.block in {"warm-up", "easy"}
        assert (each.block, None if alone else each.planned.hand) in told
    assert ("rest", None) in told
    for text in (plan.why, *(each.why for each in plan.whys), *plan.cautions):
        assert text.endswith(".")
        assert CHEER.search(text) is None
        assert len(text) < 260


def test_the_full_ladder_that_is_not_given_says_why():
    """After tension or pain it waits, in one sentence."""
    for name in ("tense", "pain"):
        assert "The full ladder waits." in plan_of(name, full_ladder=True).why


def test_the_technique_says_why_it_is_due():
    """What the rotation says comes first."""
    plan = plan_of("usual", technique_why="push-pull: played longest ago.")
    assert plan.why.startswith("push-pull: played longest ago. A ladder")


def test_cautions_come_once_each():
    """A full ladder after a hard day, its rounds over the edge, and a time that is not met."""
    cautions = plan_of("hard", full_ladder=True, minutes=120.0).cautions
    assert any("Yesterday was hard" in each for each in cautions)
    assert any("over the edge" in each for each in cautions)
    light = plan_of("tense").cautions
    assert light == ("This takes about 18 minutes instead of 30.",)


def test_no_rounds_have_no_reasons():
    """Where rest is all that is proposed only the plan itself says why."""
    task = plan_task(PLAYERS["pain"], PlanAsked(20.0), np.random.default_rng(1))
    assert block_whys(task, ()) == ()
    assert plan_cautions(task, (), expected_s=0.0) == ()
    assert "see a clinician" in plan_why(task, ())
