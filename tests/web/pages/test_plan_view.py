"""Checks of a day's plan as it is shown."""

from datetime import date

import numpy as np
import pytest

from loosehand.rounds.day_known import PlanAsked
from loosehand.rounds.day_rules import day_rule
from loosehand.rounds.plan import plan_workout
from loosehand.rounds.plan_steps import Length
from loosehand.studio.chart import Kind
from loosehand.studio.plan_today import PlannedDay
from loosehand.web.pages.plan_form import rounds_of_text
from loosehand.web.pages.plan_view import _length_words, kind_label, plan_shown
from tests.rounds.plain_hands import past, player

KIND = Kind("whip fours", "pad", None, 4)
OTHER = Kind("push-pull", "hat & ride", "soft", 3)


def day_of(*history, **asked):
    """A planned day of plain hands."""
    known = player(*history)
    plan = plan_workout(known, PlanAsked(**asked), rng=np.random.default_rng(1))
    kinds = (KIND, OTHER)
    kind = day_rule(known).kind
    return PlannedDay(plan, date(2027, 3, 15), kind, KIND, None, "left", "known", kinds, ())


def test_every_round_stands_in_one_block():
    """The blocks hold the plan's rounds, each once, and each says why it is there."""
    day = day_of(minutes=20.0)
    shown = plan_shown(day, player="Nerys")
    rounds = [(each.hand, each.tempo) for block in shown.blocks for each in block.rounds]
    planned = [(each.hand, f"{each.tempo_bpm:g}") for each in day.plan.rounds]
    assert sorted(rounds) == sorted(planned)
    assert (shown.blocks[0].name, shown.blocks[-1].name) == ("Warm-up", "Rests")
    assert all(block.why for block in shown.blocks)


def test_the_text_is_the_plan():
    """What may be changed are the plan's rounds, in the order played."""
    day = day_of(minutes=30.0)
    shown = plan_shown(day, player="Nerys")
    assert rounds_of_text(shown.text, places_per_count=4, round_s=60.0) == day.plan.rounds
    assert shown.lines == len(day.plan.rounds)


def test_chances_are_said_where_they_are_known():
    """A round of a known hand says how likely it is held; a warm-up does not."""
    shown = plan_shown(day_of(minutes=20.0), player="Nerys")
    by_name = {block.name: block.rounds for block in shown.blocks}
    assert by_name["Warm-up"][0].chance is None
    assert all(each.chance.endswith("%") for each in by_name["Test"])


def test_a_day_after_pain_shows_no_rounds():
    """Rest is proposed and nothing else."""
    shown = plan_shown(day_of(past(1, feel="pain"), minutes=20.0), player="Nerys")
    assert (shown.hurts, shown.rests, shown.blocks, shown.text) == (True, True, (), "")


def test_other_kinds_are_a_step_away():
    """Each other kind on the chart has the address of its plan, with its words."""
    shown = plan_shown(day_of(minutes=20.0), player="Inés & co")
    assert [each.label for each in shown.others] == [
        "push-pull, hat & ride, soft, 3 places a count"
    ]
    assert shown.others[0].way == (
        "/?player=In%C3%A9s+%26+co&technique=push-pull&surface=hat+%26+ride"
        "&loudness=soft&per_count=3"
    )
    assert shown.kind == kind_label(KIND) == "whip fours, pad"


@pytest.mark.parametrize(
    ("length", "words"),
    [
        ((20.0, 10.0, 30.0), "About 1 minute"),
        ((100.0, 90.0, 110.0), "About 2 minutes"),
        ((1200.0, 1080.0, 1320.0), "About 20 minutes (18 to 22)"),
    ],
)
def test_a_length_is_said_in_minutes(length, words):
    """With its range where that is wider than a minute."""
    assert _length_words(Length(*length)).startswith(words)
