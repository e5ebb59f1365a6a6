"""Checks of a day's plan drawn in a terminal."""

from io import StringIO

import pytest
from rich.console import Console

from loosehand.studio.care import CARE_SHORT
from loosehand.studio.terminal_plan import plan_table
from tests.rounds.plain_hands import past
from tests.studio.test_plan_report import day_of


def drawn(day, width=100):
    """A plan as text."""
    out = StringIO()
    Console(width=width, file=out).print(plan_table(day, player="Nerys"))
    return out.getvalue()


def test_rounds_stand_in_order():
    """Each round has a line: whose, what for, tempo, seconds, how likely held."""
    day = day_of(minutes=20.0)
    text = drawn(day)
    lines = [line.split() for line in text.splitlines() if line.strip()[:1].isdigit()]
    assert [(words[1], float(words[-1 if words[2] == "warm-up" else -3])) for words in lines] == [
        (each.hand, each.round_s) for each in day.plan.rounds
    ]
    assert lines[1][-1] == "%"


def test_every_reason_is_said():
    """Why the plan, why each block, how long, and how to take care."""
    day = day_of(minutes=20.0)
    text = drawn(day, width=400)
    assert day.plan.why in text
    assert all(each.why in text for each in day.plan.whys)
    assert "About 20 minutes, with sound check and rests." in text
    assert CARE_SHORT in text
    assert text.startswith("Nerys on 2027-03-15: whip fours, pad\n")


def test_after_pain_there_is_no_table():
    """Rest alone is proposed."""
    text = drawn(day_of(past(1, feel="pain"), minutes=20.0), width=400)
    assert "A round hurt today or yesterday: rest" in text
    assert "tempo" not in text
    assert "About" not in text


@pytest.mark.parametrize("width", [40, 60, 80])
def test_it_fits_a_narrow_terminal(width):
    """No line is wider than the terminal."""
    assert max(len(line) for line in drawn(day_of(minutes=30.0), width).splitlines()) <= width
