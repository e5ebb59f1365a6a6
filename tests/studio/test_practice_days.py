"""Checks of a player's days, and of where the next ladder begins."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from loosehand.errors import NotFound
from loosehand.studio.chart import player_names
from loosehand.studio.filing import import_rows, write_count
from loosehand.studio.models import Round
from loosehand.studio.practice_days import PracticeDay, ladder_start, practice_days, rest_on
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


def test_a_ladder_begins_under_what_both_hands_held(studio, row, now):
    """It begins two steps under the tempo both held, and ends a step over what either held."""
    put(
        studio,
        row,
        now,
        [
            *((2, hand, tempo, tempo) for hand in ("left", "right") for tempo in (90, 95, 100)),
            (1, "right", 105, 105),
            (1, "right", 110, 60),
            (1, "left", 105, 50),
        ],
    )
    start = ladder_start(studio, "Ines", now=now)
    assert (start.lowest_bpm, start.highest_bpm, start.weak) == (90.0, 110.0, "left")
    assert (start.technique, start.surface, start.loudness) == ("whip fours", "pad", "medium")
    assert start.why.startswith("Both hands held 100 to the end lately")


def test_hands_that_hold_the_same_have_no_weaker_one(studio, row, now):
    """Where both hold the same tempo the chart does not tell which is weaker."""
    put(studio, row, now, [(1, hand, 80, 80) for hand in ("left", "right")])
    start = ladder_start(studio, "Ines", now=now)
    assert (start.lowest_bpm, start.highest_bpm, start.weak) == (70.0, 85.0, None)


@pytest.mark.parametrize("strong", ["left", "right"])
def test_the_weaker_hand_is_the_one_that_holds_less(studio, row, now, strong):
    """The weaker hand is a person's, not a side's."""
    weak = {"left": "right", "right": "left"}[strong]
    put(studio, row, now, [(1, strong, 100, 100), (1, weak, 90, 90)])
    start = ladder_start(studio, "Ines", now=now)
    assert (start.lowest_bpm, start.highest_bpm, start.weak) == (80.0, 105.0, weak)


def test_a_ladder_has_no_more_than_six_tempos(studio, row, now):
    """However far the hands are apart, the ladder stays short and starts with the weaker."""
    put(studio, row, now, [(1, "right", 160, 160), (1, "left", 80, 80)])
    start = ladder_start(studio, "Ines", now=now)
    assert (start.lowest_bpm, start.highest_bpm) == (70.0, 95.0)


@pytest.mark.parametrize(
    "rounds",
    [
        [(1, "left", 100, 40)],
        [(1, "left", 100, 100)],
        [(1, "left", 100, 100), (1, "right", 100, 99)],
        [(1, "left", 70, 69), (1, "alternating", 100, 100)],
    ],
)
def test_a_low_start_where_too_little_is_held(studio, row, now, rounds):
    """Where not both hands held a tempo to the end, the ladder begins at its foot."""
    put(studio, row, now, rounds)
    start = ladder_start(studio, "Ines", now=now)
    assert (start.lowest_bpm, start.weak) == (60.0, None)
    assert 60.0 < start.highest_bpm <= 85.0
    assert start.why == "Too little is held to the end yet by both hands: a low start."


@pytest.mark.parametrize("ago", [22, 400])
def test_what_is_long_ago_does_not_count(studio, row, now, ago):
    """After three weeks without a round the ladder begins at its foot."""
    put(studio, row, now, [(ago, hand, 120, 120) for hand in ("left", "right")])
    start = ladder_start(studio, "Ines", now=now)
    assert (start.lowest_bpm, start.highest_bpm) == (60.0, 80.0)
    assert start.why.startswith("No round of the last three weeks")
    put(studio, row, now, [(21, hand, 100, 100) for hand in ("left", "right")])
    assert ladder_start(studio, "Ines", now=now).lowest_bpm == 90.0


def test_the_tags_are_those_played_last(studio, row, now):
    """Technique, surface and loudness are taken from the last round."""
    write_count(studio, replace(row, day=date(2027, 2, 20)), now=now)
    tags = replace(row.tags, technique="push-pull", surface=None, loudness="soft")
    write_count(studio, replace(row, day=date(2027, 2, 25), tags=tags), now=now)
    start = ladder_start(studio, "Ines", now=now)
    assert (start.technique, start.surface, start.loudness) == ("push-pull", None, "soft")


def test_a_ladder_of_nobody_is_not_there(studio, now):
    """A player who is not there is named."""
    with pytest.raises(NotFound, match="no player 'Otto'"):
        ladder_start(studio, "Otto", now=now)


rounds = st.tuples(
    st.integers(0, 25),
    st.sampled_from(["left", "right", "alternating"]),
    st.integers(20, 400),
    st.floats(0.0, 1.0).map(lambda share: share if share < 0.6 else 1.0),
)


HIGHEST = [(1, "left", 400, 1.0), (1, "right", 400, 1.0)]
LOWEST = [(1, "left", 20, 1.0), (1, "right", 20, 1.0)]


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(played=st.lists(rounds, max_size=8))
@example(played=HIGHEST)
@example(played=LOWEST)
def test_a_ladder_can_always_be_played(studio, row, now, played):
    """Whatever stands on the chart, the ladder rises, is short, and its tempos can be played."""
    with studio.look() as session:
        name = f"player {len(player_names(session))}"
    add_player(studio, name, now=now)
    held = [(ago, hand, bpm, int(share * bpm)) for ago, hand, bpm, share in played]
    put(studio, replace(row, player=name), now, held)
    start = ladder_start(studio, name, now=now)
    assert 20.0 <= start.lowest_bpm <= start.highest_bpm <= 400.0
    assert start.highest_bpm - start.lowest_bpm <= 25.0
