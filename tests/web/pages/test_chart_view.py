"""What the page shows of rounds: numbers with their marks, rest, months, and the gap in words."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from loosehand.studio.chart import ChartRound, Kind, MonthRounds
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.chart_sums import HandGap
from loosehand.studio.round_tags import RoundTags
from loosehand.web.pages.chart_period import period_of
from loosehand.web.pages.chart_view import (
    Work,
    days_view,
    gap_words,
    kind_words,
    months_view,
    number_of,
)

MONDAY = date(2027, 2, 22)
TODAY = date(2027, 3, 1)
KIND = Kind("whip fours", "pad", None, 4)
TAGS = RoundTags("left", 95.0, 4, 60.0, "whip fours", "pad", None, None)


def a_round(held=40, *, day=MONDAY, take_id=None, corrected=None, **tags):
    """A round as it stands."""
    row = ChartRow(day, 1, "Nerys", replace(TAGS, **tags), held, None)
    at = None if corrected is None else datetime(2027, 3, 1, tzinfo=UTC)
    has_take = take_id is not None
    return ChartRound(
        row, None, None, held, at, corrected, has_take, False, take_id, "counts", "round"
    )


def view(*rounds, rest=()):
    """The view of rounds over the last five weeks."""
    days = {found.row.day: 1 for found in rounds} | {day: 1 for day in rest}
    period = period_of("", today=TODAY, first_day=MONDAY, last_day=TODAY)
    return days_view(KIND, list(rounds), period, Work(MONDAY, TODAY, days), name="plot")


def cells(shown, hand=0):
    """Texts of a hand's cells by tempo."""
    return {
        row.tempo_bpm: [None if c is None else [n.text for n in c] for c in row.cells]
        for row in shown.hands[hand].rows
    }


def test_marks_are_shapes_and_words():
    """Held, taken, corrected and felt: each has a sign of its own and is said in words."""
    number = number_of(a_round(95, take_id=7, corrected="I <saw> it", feel="pain"), round_s=60.0)
    assert number.markup == (
        '<span class="n held"><a href="/take/7">95</a>'
        '<span class="pencil" aria-hidden="true">✎</span><b aria-hidden="true">!</b>'
        '<span class="sr"> held to the end, corrected by a person: I &lt;saw&gt; it, '
        "from a take, pain</span></span>"
    )


def test_a_round_that_was_not_judged_has_no_number():
    """A question mark, in words too; nothing is made up."""
    number = number_of(a_round(None, take_id=3), round_s=60.0)
    assert (number.text, number.said) == ("?", "not judged, from a take")


def test_a_round_of_another_length_says_its_counts():
    """40 of the 47 counts of half a minute is not 40 of 95."""
    number = number_of(a_round(40, round_s=30.0), round_s=60.0)
    assert number.markup == '<span class="n">40<small>/47</small></span>'


def test_rest_days_stand_between_the_days():
    """Days without any round are a column; a day with rounds of another kind is no rest."""
    thursday = MONDAY + timedelta(days=3)
    shown = view(a_round(40), a_round(95, day=thursday), rest=[MONDAY + timedelta(days=1)])
    assert [(column.above, column.below) for column in shown.columns] == [
        ("Mon", "22 Feb"),
        ("rest", "1"),
        ("Thu", "25 Feb"),
    ]
    assert cells(shown) == {95.0: [["40"], None, ["95"]]}
    assert shown.hands[0].done == (1, None, 1)


def test_hands_share_columns_and_never_a_row():
    """Left stands before right and alternating, each with its own tempos."""
    shown = view(
        a_round(9, hand="alternating"), a_round(50, hand="right", tempo_bpm=100.0), a_round(40)
    )
    assert [hand.hand for hand in shown.hands] == ["Left hand", "Right hand", "Alternating"]
    assert [cells(shown, hand) for hand in range(3)] == [
        {95.0: [["40"]]},
        {100.0: [["50"]]},
        {95.0: [["9"]]},
    ]


def test_the_picture_is_of_one_length_of_round():
    """Rounds of the rarer length are counted apart, and stand in the table."""
    shown = view(a_round(40), a_round(50), a_round(47, round_s=30.0, tempo_bpm=94.0))
    assert (shown.round_s, shown.others) == (60.0, 1)
    assert ">94</text>" not in shown.svg
    assert cells(shown) == {94.0: [["47"]], 95.0: [["40", "50"]]}


def test_the_picture_says_the_edges_in_words():
    """Who cannot see the picture is told the highest tempos held."""
    shown = view(a_round(95), a_round(90, day=TODAY, tempo_bpm=90.0), a_round(10, hand="right"))
    assert (
        "Left hand: highest tempo held to its end 95 on the first such day, 90 on the last, "
        "between 90 and 95 over 2 days. Right hand: no tempo held to its end." in shown.svg
    )


def test_months_show_medians_and_how_many_rounds():
    """The middle of a month's rounds, boxed where at least half were held."""
    february, march = date(2027, 2, 1), date(2027, 3, 1)
    months = [
        MonthRounds(february, "left", 95.0, 60.0, None, (95, 95, 20), 3),
        MonthRounds(march, "left", 95.0, 60.0, None, (30, 41), 2),
        MonthRounds(march, "left", 95.0, 60.0, "not judged", (), 1),
        MonthRounds(march, "left", 100.0, 60.0, "not judged", (), 2),
        MonthRounds(march, "left", 95.0, 30.0, None, (47,), 1),
    ]
    period = period_of("all", today=TODAY, first_day=MONDAY, last_day=TODAY)
    shown = months_view(KIND, months, period, Work(MONDAY, TODAY, {}), name="plot")
    numbers = {row.tempo_bpm: row.cells for row in shown.hands[0].rows}
    assert [(n.text, n.after, n.held) for (n,) in numbers[95.0]] == [
        ("95", "×3", True),
        ("35.5", "×3", False),
    ]
    assert numbers[100.0][0] == ()
    assert numbers[100.0][1][0].text == "?"
    assert [column.said for column in shown.columns] == ["February 2027", "March 2027"]
    assert shown.others == 1
    assert shown.hands[0].done == (3, 5)


def test_work_counts_days_and_rest():
    """Of eight days two have rounds, so six are rest; one day leaves none before it."""
    work = Work(MONDAY, TODAY, {MONDAY: 3, TODAY: 1})
    assert (work.days, work.rest_days, work.rest_between(MONDAY, TODAY)) == (2, 6, 6)
    assert Work(TODAY, MONDAY, {}).rest_days == 0


@pytest.mark.parametrize(
    ("gap", "hands", "said"),
    [
        (HandGap(None, None, 0), ["left"], "Cannot say yet: no rounds of the right hand here."),
        (
            HandGap(None, None, 0),
            ["alternating"],
            "Cannot say yet: no rounds of the left and the right hand here.",
        ),
        (HandGap(None, None, 2), ["left", "right"], "Cannot say yet: 2 of the 3 days it takes"),
        (HandGap(None, None, 9), ["left", "right"], "Cannot say yet: the days disagree"),
        (HandGap(0.0, None, 9), ["left", "right"], "No gap: both hands hold the same tempo"),
        (
            HandGap(7.5, "right", 9),
            ["left", "right"],
            "The right hand is the weak one here: it holds 7.5 counts a minute less "
            "(median of 9 days).",
        ),
    ],
)
def test_the_gap_is_said_or_not_said(gap, hands, said):
    """What cannot be said yet is said to be so, with what is missing."""
    assert gap_words(gap, hands=hands, every="day").startswith(said)


def test_a_kind_says_what_was_not_said():
    """Tags that nobody gave are not left out of its name."""
    assert kind_words(KIND) == "whip fours, pad, loudness not said, 4 places a count"
