"""Edges and the gap of the hands, told from the chart or not told."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from loosehand.studio.chart import MonthRounds, chart_rounds
from loosehand.studio.chart_sums import (
    Edge,
    HandGap,
    RoundsAtTempo,
    commonest_length_s,
    day_sums,
    edge_of,
    hand_gap,
    month_sums,
)
from loosehand.studio.filing import import_rows

MONDAY = date(2027, 2, 22)


def at(*held, counts=100):
    """Rounds at a tempo: one for each count held, None for one that was not judged."""
    judged = tuple(count for count in held if count is not None)
    return RoundsAtTempo(counts, judged, sum(count >= counts for count in judged), len(held))


HELD, LOST, NOT_JUDGED = at(100), at(40), at(None)


def bounded(edge_bpm):
    """Rounds of a day whose edge is known: it was held, the next tempo was not."""
    return {edge_bpm: HELD, edge_bpm + 5.0: LOST}


def days(*edges_bpm):
    """A hand's rounds, day by day, with these edges."""
    return {MONDAY + timedelta(days=n): bounded(edge) for n, edge in enumerate(edges_bpm)}


@pytest.mark.parametrize(
    ("tempos", "edge"),
    [
        ({90.0: HELD, 95.0: HELD, 100.0: LOST}, Edge(95.0, bounded=True)),
        ({90.0: HELD, 95.0: LOST, 100.0: HELD}, Edge(100.0, bounded=False)),
        ({90.0: HELD, 95.0: NOT_JUDGED}, Edge(90.0, bounded=False)),
        ({90.0: at(100, 40), 95.0: at(100, 40, 30)}, Edge(90.0, bounded=True)),
        ({90.0: LOST}, None),
        ({90.0: NOT_JUDGED}, None),
        ({}, None),
    ],
)
def test_the_edge_is_the_highest_tempo_held(tempos, edge):
    """At least half of the rounds were held; it is bounded where a faster tempo was lost."""
    assert edge_of(tempos) == edge


def test_the_median_is_of_the_rounds_with_a_number():
    """A round that was not judged has no number, and none is made up for it."""
    assert at(10, None, 40).median_held == 25
    assert NOT_JUDGED.median_held is None


def test_the_gap_is_the_median_of_the_days():
    """The hand that holds less is named, whichever it is."""
    left, right = days(85.0, 90.0, 90.0), days(95.0, 95.0, 100.0)
    assert hand_gap({"left": left, "right": right}) == HandGap(10.0, "left", 3)
    assert hand_gap({"left": right, "right": left}) == HandGap(10.0, "right", 3)


def test_there_may_be_no_gap():
    """Hands that hold the same are told so, and neither is called weak."""
    assert hand_gap({"left": days(90.0, 90.0, 95.0), "right": days(90.0, 90.0, 90.0)}) == HandGap(
        0.0, None, 3
    )


def test_two_days_say_nothing_yet():
    """From fewer than three days nothing is said."""
    sums = {"left": days(85.0, 90.0), "right": days(95.0, 95.0)}
    assert hand_gap(sums) == HandGap(None, None, 2)


def test_days_without_a_faster_tempo_lost_say_nothing():
    """A hand that held all it was asked may hold more: such a day is not compared."""
    all_held = {MONDAY + timedelta(days=n): {90.0: HELD} for n in range(9)}
    sums = {"left": days(*[85.0] * 9), "right": all_held}
    assert hand_gap(sums) == HandGap(None, None, 0)


def test_days_that_disagree_say_nothing():
    """Where more than a quarter of the days point to the other hand, neither is called weak."""
    right = days(90.0, 90.0, 90.0, 90.0, 90.0)
    assert hand_gap({"left": days(80.0, 80.0, 80.0, 95.0, 95.0), "right": right}).gap_bpm is None
    assert hand_gap({"left": days(80.0, 80.0, 80.0, 80.0, 95.0), "right": right}).weak == "left"


def test_one_hand_alone_has_no_gap():
    """With rounds of one hand only nothing is compared."""
    assert hand_gap({"left": days(85.0, 90.0, 95.0)}) == HandGap(None, None, 0)


def test_the_commonest_length_is_the_longer_of_two_alike():
    """Most rounds decide, then length; no rounds have none."""
    assert commonest_length_s({60.0: 3, 30.0: 4}) == 30.0
    assert commonest_length_s({60.0: 4, 30.0: 4}) == 60.0
    assert commonest_length_s({}) is None


def test_rounds_of_a_day_are_summed_by_tempo(studio, row, now):
    """Two rounds at a tempo stand together; a round of another length stays out."""
    short = replace(row, tags=replace(row.tags, round_s=30.0))
    rows = [row, replace(row, count_held=104, ended=None), short]
    import_rows(studio, rows, now=now)
    with studio.look() as session:
        sums = day_sums(chart_rounds(session, player="Ines"), round_s=60.0)
    assert sums == {"left": {row.day: {104.0: RoundsAtTempo(104, (41, 104), 1, 2)}}}


def test_rounds_of_a_month_are_summed_whatever_their_end():
    """How a round ended is as said; where nothing is said, all its counts are held to the end."""
    month = date(2027, 2, 1)
    found = [
        MonthRounds(month, "left", 104.0, 60.0, None, (104, 50), 2),
        MonthRounds(month, "left", 104.0, 60.0, "held to the end", (104,), 1),
        MonthRounds(month, "left", 104.0, 60.0, "stopped by choice", (104,), 1),
        MonthRounds(month, "left", 104.0, 60.0, "not judged", (), 1),
        MonthRounds(month, "left", 104.0, 30.0, None, (52,), 1),
    ]
    sums = month_sums(found, round_s=60.0)
    assert sums == {"left": {month: {104.0: RoundsAtTempo(104, (104, 50, 104, 104), 2, 5)}}}
