"""Checks of a player's days."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from loosehand.errors import NotFound
from loosehand.studio.filing import import_rows, write_count
from loosehand.studio.models import Round
from loosehand.studio.practice_days import PracticeDay, practice_days, rest_on
from loosehand.studio.workouts import add_player

TODAY = date(2027, 3, 1)


def put(studio, row, now, rounds):
    """Write rounds of a minute: days ago, hand, tempo, count held."""
    rows = [
        replace(
            row,
            day=TODAY - timedelta(days=ago),
            tags=replace(row.tags, hand=hand, tempo_bpm=float(tempo)),
            count_held=held,
            ended=None,
        )
        for ago, hand, tempo, held in rounds
    ]
    import_rows(studio, rows, now=now)


def test_days_come_in_order_and_none_is_left_out(studio, row, now):
    """Every day of the stretch is there: with its rounds, at rest, or with nothing."""
    put(studio, row, now, [(3, "left", 90, 40), (3, "right", 90, 41), (0, "left", 90, 42)])
    put(studio, replace(row, player="Otto"), now, [(1, "left", 90, 40)])
    put(studio, row, now, [(5, "left", 90, 40)])
    rest_on(studio, "Ines", TODAY - timedelta(days=2))
    days = practice_days(studio, "Ines", last=TODAY, days=5)
    assert days == [
        PracticeDay(date(2027, 2, 25), 0, False),
        PracticeDay(date(2027, 2, 26), 2, False),
        PracticeDay(date(2027, 2, 27), 0, True),
        PracticeDay(date(2027, 2, 28), 0, False),
        PracticeDay(date(2027, 3, 1), 1, False),
    ]


def test_rest_may_be_said_twice(studio, now):
    """Saying again that a day is one of rest changes nothing."""
    add_player(studio, "Ines", now=now)
    for _ in range(2):
        rest_on(studio, "Ines", TODAY)
    assert practice_days(studio, "Ines", last=TODAY, days=1) == [PracticeDay(TODAY, 0, True)]


@pytest.mark.parametrize("rest_first", [True, False])
def test_a_day_with_rounds_is_one_of_work(studio, row, now, rest_first):
    """A round played makes a day one of work, whether rest was said before or after."""
    add_player(studio, "Ines", now=now)
    if rest_first:
        rest_on(studio, "Ines", row.day)
    write_count(studio, row, now=now)
    if not rest_first:
        rest_on(studio, "Ines", row.day)
    assert practice_days(studio, "Ines", last=row.day, days=1) == [PracticeDay(row.day, 1, False)]


@pytest.mark.parametrize(("standing", "rounds"), [("counts", 2), ("warm-up", 2), ("void", 1)])
def test_a_void_round_is_no_round_played(studio, row, now, standing, rounds):
    """Void rounds are left out of the rounds of a day, and make it no day of rest either."""
    write_count(studio, row, now=now)
    write_count(studio, replace(row, day=row.day - timedelta(days=1)), now=now)
    write_count(studio, row, now=now)
    with studio.act() as session:
        for found in session.scalars(select(Round).where(Round.order_in_day == 1)):
            found.standing = standing
    days = practice_days(studio, "Ines", last=row.day, days=2)
    assert [(each.rounds, each.said_rest) for each in days] == [
        (rounds - 1, False),
        (rounds, False),
    ]


def test_days_of_nobody_are_not_there(studio):
    """A player who is not there is named."""
    for ask in (
        lambda: practice_days(studio, "Otto", last=TODAY, days=3),
        lambda: rest_on(studio, "Otto", TODAY),
    ):
        with pytest.raises(NotFound, match="no player 'Otto'"):
            ask()
