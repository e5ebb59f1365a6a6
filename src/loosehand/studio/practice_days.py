"""Days of a player: with work, at rest, and what is known of the hands for the next workout."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import func, select

from loosehand.studio.chart import chart_rounds, player_of
from loosehand.studio.database import Studio
from loosehand.studio.models import Day, Round, Take

__all__ = [
    "LadderStart",
    "PracticeDay",
    "RoundApart",
    "ladder_start",
    "practice_days",
    "rest_on",
    "rounds_apart",
]

_RECENT_DAYS = 21
_STEPS_UNDER = 2
_STEP_BPM = 5.0
_FIRST_BPM = 60.0
_LOWEST_BPM, _HIGHEST_BPM = 20.0, 400.0
_MOST_TEMPOS = 6


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


@dataclass(frozen=True)
class LadderStart:
    """Where a ladder may begin and end, the weaker hand, the tags played last, and why.

    ``weak`` is None where the chart does not tell.
    """

    lowest_bpm: float
    highest_bpm: float
    weak: str | None
    technique: str | None
    surface: str | None
    loudness: str | None
    why: str


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


def ladder_start(studio: Studio, player: str, *, now: datetime) -> LadderStart:
    """Where the next ladder of a player may begin, from the last three weeks of the chart.

    It begins two steps of 5 under the highest tempo that both hands held to the end, and ends a
    step over the highest that either did (our own plain rule; nothing is forecast here).

    Raises
    ------
    NotFound   if there is no such player
    """
    since = now.astimezone().date() - timedelta(days=_RECENT_DAYS)
    with studio.look() as session:
        rounds = [each for each in chart_rounds(session, player=player) if each.row.day >= since]
    if not rounds:
        why = "No round of the last three weeks: a ladder from its foot."
        return LadderStart(_FIRST_BPM, _FIRST_BPM + 20.0, None, None, None, None, why)
    held: dict[str, float] = {}
    for each in rounds:
        tags = each.row.tags
        if each.held_to_the_end and tags.hand != "alternating":
            held[tags.hand] = max(held.get(tags.hand, 0.0), tags.tempo_bpm)
    last = rounds[-1].row.tags
    sure = min(held.values()) if len(held) == 2 else _FIRST_BPM + 2 * _STEP_BPM
    lowest = max(sure - _STEPS_UNDER * _STEP_BPM, _LOWEST_BPM)
    highest = max(*held.values(), lowest) if held else lowest
    highest = min(highest + _STEP_BPM, lowest + (_MOST_TEMPOS - 1) * _STEP_BPM, _HIGHEST_BPM)
    weak = min(held, key=lambda hand: held[hand]) if len(set(held.values())) == 2 else None
    why = (
        f"Both hands held {sure:g} to the end lately: two steps under it, so that it starts loose."
        if len(held) == 2
        else "Too little is held to the end yet by both hands: a low start."
    )
    return LadderStart(lowest, highest, weak, last.technique, last.surface, last.loudness, why)
