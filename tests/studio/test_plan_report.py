"""Checks of a day's plan as JSON."""

import json
from datetime import date
from importlib import resources

import jsonschema
import numpy as np
import pytest

from loosehand.rounds.day_known import PlanAsked
from loosehand.rounds.day_rules import day_rule
from loosehand.rounds.plan import plan_workout
from loosehand.studio.chart import Kind
from loosehand.studio.plan_report import plan_to_json
from loosehand.studio.plan_today import PlannedDay
from tests.rounds.plain_hands import HANDS, past, player

SCHEMA = json.loads(
    (resources.files("loosehand.studio") / "rounds.schema.json").read_text(encoding="utf-8")
)


def day_of(*history, hands=HANDS, **asked):
    """A planned day of plain hands."""
    known = player(*history, hands=hands)
    plan = plan_workout(known, PlanAsked(**asked), rng=np.random.default_rng(1))
    kind = Kind("whip fours", "pad", None, 4)
    why = ("left", "known")
    return PlannedDay(plan, date(2027, 3, 15), day_rule(known).kind, kind, None, *why, (kind,), ())


def test_the_schema_is_one():
    """It is a schema of the draft it names."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize(
    "day",
    [
        day_of(minutes=20.0),
        day_of(minutes=None, full_ladder=True),
        day_of(minutes=20.0, hands=dict.fromkeys(HANDS)),
        day_of(past(1, feel="pain"), minutes=20.0),
        day_of(past(1, feel="pain"), minutes=20.0, light_anyway=True),
        day_of(past(3, feel="tense"), minutes=20.0),
    ],
    ids=["usual", "full ladder", "unknown hands", "pain", "light after pain", "tense"],
)
def test_a_plan_is_as_the_schema_says(day):
    """Whatever kind of day it is; through text, with every round in order."""
    report = json.loads(json.dumps(plan_to_json(day, player="Nerys"), allow_nan=False))
    jsonschema.Draft202012Validator(SCHEMA).validate(report)
    rounds = [(each["hand"], each["tempo_bpm"], each["round_s"]) for each in report["rounds"]]
    assert rounds == [(each.hand, each.tempo_bpm, each.round_s) for each in day.plan.rounds]
    assert (report["length_s"] is None) == (not day.plan.steps)
    assert report["player"] == "Nerys"


def test_every_key_is_required():
    """Nothing of version 1 may be left out."""
    assert sorted(SCHEMA["required"]) == sorted(plan_to_json(day_of(minutes=20.0), player="Ines"))
