"""Which hands lean on which others."""

from dataclasses import replace
from datetime import timedelta

import pytest

from loosehand.errors import NotIdentifiable
from loosehand.reach.pool import FEW_ROUNDS
from loosehand.reach.seen import HandKind
from loosehand.studio.reach_lean import (
    KnownHand,
    donor_reach,
    donors_of,
    known_hand,
    leaning_note,
)
from loosehand.studio.reach_rounds import rounds_of_rows
from tests.reach.known_reach import a_reach
from tests.studio.reach_scenes import LAST, chart_rows

LEFT = HandKind("left", None, "pad", None, 4)
RIGHT = replace(LEFT, hand="right")


def known(kind, rounds, *, told_of=LAST):
    """Return a hand that so many rounds tell of."""
    return KnownHand(kind, rounds, told_of)


def test_a_hand_is_known_by_the_rounds_that_tell_of_it():
    """Its own rounds count, neither the other hand's nor those before a gap of years."""
    long_ago = chart_rows(last=LAST - timedelta(days=900))
    rounds = rounds_of_rows([*long_ago, *chart_rows()]).rounds
    assert known_hand(rounds, LEFT, as_of=LAST) == known(LEFT, 18)
    before = LAST - timedelta(days=700)
    earlier = known_hand(rounds, LEFT, as_of=before)
    assert (earlier.rounds, earlier.told_of) == (18, LAST - timedelta(days=840))
    with pytest.raises(NotIdentifiable):
        known_hand(rounds, LEFT, as_of=LAST - timedelta(days=2000))


def test_few_rounds_lean_on_many():
    """A hand of few rounds leans on the well known one; that one on none, and two on none."""
    few, many = known(LEFT, FEW_ROUNDS - 1), known(RIGHT, FEW_ROUNDS)
    assert donors_of([few, many], as_of=LAST) == {LEFT: RIGHT}
    assert donors_of([replace(few, rounds=FEW_ROUNDS), many], as_of=LAST) == {}
    assert donors_of([few, replace(many, rounds=FEW_ROUNDS - 1)], as_of=LAST) == {}


def test_what_tells_of_another_day_is_not_leant_on():
    """A hand that was not played for long tells of its own time, and lends nothing."""
    few = known(LEFT, 3)
    old = known(RIGHT, 400, told_of=LAST - timedelta(days=90))
    assert donors_of([few, old], as_of=LAST) == {}


def test_the_donor_is_found_among_reaches():
    """From fitted hands the same donor is told as from their rounds."""
    few = replace(a_reach(kind=LEFT), rounds=12)
    many = replace(a_reach(kind=RIGHT), rounds=80, as_of=few.as_of)
    assert donor_reach(few, [few, many]) is many
    assert donor_reach(many, [few, many]) is None
    old = replace(many, as_of=few.as_of - timedelta(days=1))
    assert donor_reach(few, [few, old]) is None


def test_leaning_is_said_in_words():
    """How many rounds, and on what it leans."""
    said = leaning_note(known(LEFT, 1), replace(RIGHT, technique="whip fours", loudness="soft"))
    assert said.startswith("With 1 round it leans on the right hand, whip fours, pad, soft: ")
    both = HandKind("alternating", None, None, None, 8)
    assert "12 rounds it leans on alternating, 8 places a count: " in leaning_note(
        known(both, 12), both
    )
