"""Tables and plots of the reach, from a reach that is known."""

import itertools
from datetime import timedelta

import pytest

from loosehand.reach.laws import Curve
from loosehand.reach.seen import RoundSeen
from loosehand.web.pages.reach_asked import TempoFor
from loosehand.web.pages.reach_view import (
    chance_table,
    curve_rows,
    curve_svg,
    highest_tempo_bpm,
    rounds_by_tempo,
    trend_svg,
)
from tests.reach.known_reach import DAY, FLAT, a_reach
from tests.web.plots.reach_pictures import SVG, drawn, moves

STEEP = Curve("hyperbolic", 98.0, 3.0)


def a_round(tempo_bpm, held, *, on=False, days_ago=0):
    """A round of the known hand."""
    day = DAY - timedelta(days=days_ago)
    return RoundSeen(day, 1, a_reach().kind, tempo_bpm, 60.0, held, on, None)


ROUNDS = [
    a_round(95.0, 95, on=True),
    a_round(100.0, 50),
    a_round(100.0, 25, days_ago=27),
    a_round(100.0, 30, days_ago=28),
    a_round(110.0, 0),
]


def test_the_last_four_weeks_are_dark():
    """A round of 27 days ago is a dot, one of 28 days ago a ring."""
    tree = drawn(curve_svg(a_reach(), ROUNDS))
    assert moves(tree, "lost") == 2
    assert moves(tree, "lost-older") == 1
    assert "left hand" in tree.find(f"{SVG}title").text.lower()
    assert "100.0 for a minute" in tree.find(f"{SVG}desc").text


def test_the_curve_is_a_table_as_well():
    """The table gives the curve's tempos, and marks what lies beyond the longest hold."""
    rows = {row.length: row for row in curve_rows(a_reach(STEEP))}
    assert rows["1 min"].held == "98.0"
    expected = float(STEEP.tempo_bpm(10.0))
    assert float(rows["10 s"].held) == pytest.approx(expected, abs=0.2)
    assert [row.length for row in rows.values() if row.beyond] == ["2 min", "4 min", "8 min"]


def test_rounds_are_counted_by_tempo():
    """Of each tempo: rounds, those held on, and from which time to which the others were held."""
    rows = rounds_by_tempo(ROUNDS)
    assert [(row.tempo_bpm, row.rounds, row.held_on) for row in rows] == [
        (95.0, 1, 1),
        (100.0, 3, 0),
        (110.0, 1, 0),
    ]
    assert [row.lost_after for row in rows] == ["none lost", "15 to 30 s", "0 s"]


def test_chances_stand_around_the_edge():
    """The tempo held for a minute is among the rows; chances fall with tempo and with length."""
    reach = a_reach(FLAT)
    table = chance_table(reach, None)
    assert table.lengths == ("1 min", "2 min", "4 min")
    tempos = [tempo for tempo, _, _ in table.rows]
    assert 100.0 in tempos
    assert tempos == sorted(tempos)
    assert {b - a for a, b in itertools.pairwise(tempos)} == {2.0}
    chance = [reach.chance_of_holding(tempo_bpm=tempo, time_s=60.0) for tempo, _, _ in table.rows]
    assert chance == sorted(chance, reverse=True)
    even = next(cells for tempo, cells, _ in table.rows if tempo == 100.0)
    assert 45 <= int(even[0].chance.split()[0]) <= 55
    assert [cell.beyond for cell in even] == [False, True, True]


def test_a_wide_edge_is_shown_by_five():
    """Where forms and noise are large, the rows stand five apart."""
    reach = a_reach(FLAT, sd_bpm=9.0)
    tempos = [tempo for tempo, _, _ in chance_table(reach, None).rows]
    assert tempos[1] - tempos[0] == 5.0


def test_what_is_asked_has_a_row_and_a_column():
    """A tempo and a length of one's own are put in their places and the row is marked."""
    table = chance_table(a_reach(FLAT), TempoFor(97.0, 90.0))
    assert table.lengths == ("1 min", "1.5 min", "2 min", "4 min")
    assert [tempo for tempo, _, asked in table.rows if asked] == [97.0]
    same = chance_table(a_reach(FLAT), TempoFor(100.0, 120.0))
    assert same.lengths == ("1 min", "2 min", "4 min")


@pytest.mark.parametrize("chance", [0.1, 0.5, 0.9])
def test_the_highest_tempo_of_a_chance_is_the_last_that_has_it(chance):
    """That tempo has the chance, the next whole one has not."""
    reach = a_reach(FLAT)
    found = highest_tempo_bpm(reach, chance=chance, time_s=60.0)
    assert reach.chance_of_holding(tempo_bpm=found, time_s=60.0) >= chance
    assert reach.chance_of_holding(tempo_bpm=found + 1, time_s=60.0) < chance


def test_a_hand_that_holds_nothing_has_no_sure_tempo():
    """Where even the slowest click is lost, there is no such tempo."""
    reach = a_reach(Curve("log-linear", 15.0, 1.0))
    assert highest_tempo_bpm(reach, chance=0.9, time_s=60.0) is None


def test_the_trend_goes_on_to_the_day_told_of():
    """Days played are dots; where the last is past, the line is drawn on to today."""
    reach = a_reach(days=10)
    tree = drawn(trend_svg(reach, since=reach.first_day))
    assert moves(tree, "form") == 10
    past = a_reach(days=10)
    object.__setattr__(past, "as_of", DAY + timedelta(days=9))
    tree = drawn(trend_svg(past, since=past.first_day))
    assert moves(tree, "form") == 10
    assert "10 March 2027" in tree.find(f"{SVG}desc").text
