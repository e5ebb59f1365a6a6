"""Days of a player: with work or at rest, and the rounds that stand apart from the chart."""

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import func, select

from loosehand.studio.chart import player_of
from loosehand.studio.database import Studio
from loosehand.studio.models import Day, Round, Take

__all__ = [
    "PracticeDay",
    "RoundApart",
    "practice_days",
    "rest_on",
    "rounds_apart",
]


@dataclass(frozen=True)
class PracticeDay:
    """A day: rounds played, the void ones left out, and whether it was said to be one of rest."""

    day: date
    rounds: int
    said_rest: bool


@dataclass(frozen=True)
class RoundApart:
    """A round that does not count, why (None: a warm-up), and its take."""

    day: date
    hand: str
    tempo_bpm: float
    why_void: str | None
    take_id: int


def practice_days(studio: Studio, player: str, *, last: date, days: int) -> list[PracticeDay]:
    """The last days of a player, in order, those without anything too.

    Raises
    ------
    NotFound   if there is no such player
    """
    first = last - timedelta(days=days - 1)
    with studio.look() as session:
        query = (
            select(
                Day.date,
                func.count(Round.id),
                func.count(Round.id).filter(Round.standing != "void"),
            )
            .outerjoin(Round, Round.day_id == Day.id)
            .where(Day.player_id == player_of(session, player).id, Day.date.between(first, last))
            .group_by(Day.id)
        )
        known = {day: (there, played) for day, there, played in session.execute(query)}
    every = [first + timedelta(days=k) for k in range(days)]
    found = [(day, *known.get(day, (None, 0))) for day in every]
    return [PracticeDay(day, played, there == 0) for day, there, played in found]


def rounds_apart(studio: Studio, player: str, *, first: date) -> list[RoundApart]:
    """Rounds of a player since a day that do not count though a take was kept, the last first.

    Raises
    ------
    NotFound   if there is no such player
    """
    with studio.look() as session:
        query = (
            select(Day.date, Round.hand, Round.tempo_bpm, Round.why_void, Take.id)
            .join(Day, Round.day_id == Day.id)
            .join(Take, Take.round_id == Round.id)
            .where(
                Day.player_id == player_of(session, player).id,
                Day.date >= first,
                Round.standing != "counts",
            )
            .order_by(Round.id.desc())
        )
        return [RoundApart(*each) for each in session.execute(query)]


def rest_on(studio: Studio, player: str, day: date) -> None:
    """Write down that a day is one of rest; a day with rounds stays one of work.

    Raises
    ------
    NotFound   if there is no such player
    """
    with studio.act() as session:
        person = player_of(session, player)
        there = session.scalar(select(Day).where(Day.player_id == person.id, Day.date == day))
        if there is None:
            session.add(Day(player_id=person.id, date=day))
