"""The tables: moments, and rows that cannot be."""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from sqlalchemy import select
from sqlalchemy.exc import StatementError

from loosehand.errors import StoreError
from loosehand.studio.models import Correction, Day, Player, Round, Take


def test_moments_are_kept_as_utc(studio):
    """A moment of any zone comes back as the same moment in UTC."""
    moment = datetime(2027, 3, 1, 20, 0, tzinfo=timezone(timedelta(hours=2)))
    with studio.act() as session:
        session.add(Player(name="Ines", added_at=moment))
    with studio.look() as session:
        found = session.scalar(select(Player.added_at))
        assert found == moment
        assert found.tzinfo is UTC


def test_a_moment_without_zone_is_refused(studio):
    """A moment that could be any of twenty-four is not kept."""
    with pytest.raises(StatementError, match="no time zone"), studio.act() as session:
        session.add(Player(name="Ines", added_at=datetime(2027, 3, 1)))


def test_rows_that_point_nowhere_are_refused(studio, now):
    """A day without its player cannot be kept."""
    with pytest.raises(StoreError, match="FOREIGN KEY"), studio.act() as session:
        session.add(Day(player_id=99, date=now.date()))


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("hand", "both"),
        ("tempo_bpm", 0.0),
        ("places_per_count", 0),
        ("round_s", 0.0),
        ("count_written", -1),
    ],
)
def test_the_database_itself_refuses_what_cannot_be(studio, tags, now, field, wrong):
    """Even past our own checks no impossible round gets into the table."""
    with pytest.raises(StoreError, match="CHECK constraint failed"), studio.act() as session:
        _add_round(session, tags, now, **{field: wrong})


def test_a_round_has_one_take(studio, tags, told, now):
    """Two takes cannot claim one round."""

    def add_two():
        with studio.act() as session:
            found = _add_round(session, tags, now)
            for _ in range(2):
                session.add(
                    Take(
                        round_id=found.id,
                        kind="sound",
                        content_sha256="0" * 64,
                        told=told.to_json(),
                        filed_at=now,
                    )
                )
                session.flush()

    with pytest.raises(StoreError, match="UNIQUE"):
        add_two()


def test_rows_lead_to_each_other(studio, tags, now):
    """From a player one comes to the rounds, and from a round to its corrections."""
    with studio.act() as session:
        found = _add_round(session, tags, now)
        session.add(Correction(round_id=found.id, count_held=40, why="counted again", made_at=now))
    with studio.look() as session:
        player = session.scalars(select(Player)).one()
        (day,) = player.days
        (kept,) = day.rounds
        assert kept.corrections[0].round is kept
        assert kept.take is None


def _add_round(session, tags, now, **changed):
    """Add a round of a new player, with some fields changed."""
    player = Player(name="Ines", added_at=now)
    session.add(player)
    session.flush()
    day = Day(player_id=player.id, date=date(2027, 3, 1))
    session.add(day)
    session.flush()
    fields = {**tags.__dict__, "count_written": 41, "extra": {}, **changed}
    found = Round(day_id=day.id, order_in_day=1, filed_at=now, **fields)
    session.add(found)
    session.flush()
    return found
