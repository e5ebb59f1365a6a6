"""Rows of the chart as the rounds that tell of a hand."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.reach.seen import HandKind
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.reach_rounds import (
    kind_of,
    kind_place,
    rounds_for,
    rounds_of_rows,
)
from loosehand.studio.round_tags import RoundTags

DAY = date(2027, 3, 1)
TAGS = RoundTags("left", 104.0, 4, 60.0, "whip fours", "pad", "medium", None)
LEFT = HandKind("left", "whip fours", "pad", "medium", 4)


def row(count_held=41, ended="lost the click", *, day=DAY, order=None, **tags):
    """Return a row of a minute at 104."""
    return ChartRow(day, order, "Ines", replace(TAGS, **tags), count_held, ended)


@pytest.mark.parametrize(
    ("count_held", "ended", "held_on"),
    [
        (104, "held to the end", True),
        (41, "lost the click", False),
        (0, "thinned out", False),
        (41, "stopped", False),
        (41, "stopped by choice", True),
        (41, "recording ended", True),
        (104, "recording ended", True),
        (104, None, True),
        (103, None, False),
    ],
)
def test_it_is_known_whether_a_hand_was_still_on(count_held, ended, held_on):
    """The words and the count say whether the hold had ended; nothing is to be said besides."""
    found = rounds_of_rows([row(count_held, ended)])
    (each,) = found.rounds
    assert (each.count_held, each.held_on, each.kind, each.rest_s) == (
        count_held,
        held_on,
        LEFT,
        None,
    )
    assert found.notes == {LEFT: ()}


@pytest.mark.parametrize(
    ("count_held", "ended", "held_on"),
    [
        (37, "held to the end", False),
        (104, "lost the click", True),
        (104, "ran ahead", True),
        (120, None, True),
        (120, "stopped by choice", True),
    ],
)
def test_the_number_outweighs_the_words(count_held, ended, held_on):
    """Where they contradict each other the count is taken, and it is said how often."""
    found = rounds_of_rows([row(count_held, ended), row(count_held, ended), row()])
    assert [each.held_on for each in found.rounds] == [held_on, held_on, False]
    assert found.notes[LEFT] == (
        "2 rounds say one thing in words and another in the count: the count was taken.",
    )


def test_rounds_that_were_not_judged_are_left_out_and_counted():
    """A round without a number tells nothing of the hand, but a kind of such is known."""
    found = rounds_of_rows([row(None, "not judged"), row(None, "not judged", hand="right"), row()])
    assert len(found.rounds) == 1
    assert found.kinds == (LEFT,)
    assert found.notes[LEFT] == ("1 round was not judged and left out.",)
    assert found.notes[replace(LEFT, hand="right")] == ("1 round was not judged and left out.",)


def test_a_stop_with_pain_is_told():
    """Those who stop because it hurts do not stop by chance: it is said how many there are."""
    rows = [row(20, "stopped by choice", feel=feel) for feel in ("pain", "tense", "loose", None)]
    found = rounds_of_rows(rows)
    assert all(each.held_on for each in found.rounds)
    (note,) = found.notes[LEFT]
    assert note.startswith("2 rounds were stopped by choice with pain or tension")


def test_rounds_come_in_the_order_played():
    """By day, then by place; those without a place come after, in the order of the file."""
    rows = [
        row(1, day=DAY),
        row(2, day=DAY, order=9),
        row(3, day=DAY),
        row(4, day=DAY, order=2),
        row(5, day=DAY - timedelta(days=1)),
    ]
    found = rounds_of_rows(rows).rounds
    assert [each.count_held for each in found] == [5, 4, 2, 1, 3]
    assert [each.order for each in found] == [1, 1, 2, 3, 4]


def test_kinds_are_never_pooled():
    """Pad and hat, soft and loud, fours and eights, and what was not said stay apart."""
    others = [
        {},
        {"surface": "hat"},
        {"loudness": "soft"},
        {"technique": None},
        {"places_per_count": 8},
        {"hand": "right"},
    ]
    found = rounds_of_rows([row(**other) for other in others])
    assert len(found.kinds) == len(others)
    assert found.kinds[-1].hand == "right"
    assert list(found.kinds) == sorted(found.kinds, key=kind_place)


def test_what_bears_on_a_hand_is_what_was_played_before_it():
    """Of other rounds those of the same day before the hand's last one; none of a later day."""
    rows = [
        row(1, order=1, hand="right"),
        row(2, order=2),
        row(3, order=3, hand="right"),
        row(4, day=DAY + timedelta(days=1), order=1, hand="right"),
        row(5, day=DAY + timedelta(days=2), order=1, hand="right"),
        row(6, day=DAY + timedelta(days=2), order=2),
    ]
    rounds = rounds_of_rows(rows).rounds
    counts = [each.count_held for each in rounds_for(rounds, LEFT, as_of=DAY)]
    assert counts == [1, 2, 6]


@given(st.lists(st.tuples(st.integers(0, 104), st.sampled_from(["left", "right"])), max_size=20))
def test_no_round_is_lost_or_made(found):
    """As many rounds come out as have a number, each with its own."""
    rows = [
        row(count, None, hand=hand, order=place + 1) for place, (count, hand) in enumerate(found)
    ]
    rounds = rounds_of_rows(rows).rounds
    assert [(each.count_held, each.kind.hand) for each in rounds] == found
    assert {kind_of(each.tags) for each in rows} == {each.kind for each in rounds}
