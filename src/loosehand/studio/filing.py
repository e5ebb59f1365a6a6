"""What a person does to the chart: file a take, write a number, correct one, delete a sound.

Each is one act: all of it is kept or nothing. What hears a take is handed in, so the studio
knows nothing of ears and pools.
"""

from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from loosehand.errors import Conflict, NotFound, StoreError
from loosehand.judge.part_to_hear import PartToHear
from loosehand.studio.chart import chart_rounds_between, player_names, player_of
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.database import Studio
from loosehand.studio.hearing import Judged, Told
from loosehand.studio.models import Correction, Day, Part, Player, Reading, Round, Take
from loosehand.studio.round_tags import (
    FEELS,
    HELD_TO_THE_END,
    NOT_JUDGED,
    check_count,
    check_text,
    check_word,
)
from loosehand.studio.sound import Incoming, delete_content, keep, sweep

__all__ = [
    "Deleted",
    "Imported",
    "LiveRound",
    "PartTaken",
    "RoundPlace",
    "add_reading",
    "correct_count",
    "delete_sound",
    "file_take",
    "import_rows",
    "rate_round",
    "sweep_studio",
    "write_count",
]

_LONGEST_WHY = 400


@dataclass(frozen=True)
class RoundPlace:
    """Where a round stands on the chart: player, day, place in the day."""

    player: str
    day: date
    order: int


@dataclass(frozen=True)
class LiveRound:
    """What a round of the stand adds to its row.

    Attributes
    ----------
    key : names it, however often it is filed
    standing : counts, warm-up or void
    why_void : why it does not count, or None
    purpose : what it was for: round, test or warm-up
    """

    key: str
    standing: str
    why_void: str | None
    purpose: str


@dataclass(frozen=True)
class PartTaken:
    """Which part a take was of.

    Attributes
    ----------
    part_id : its number
    version : of its text that was played
    asked : what that text asked of the limb
    """

    part_id: int
    version: int
    asked: PartToHear


@dataclass(frozen=True)
class Imported:
    """What an import did: rounds added, already there, and moved to the end of their day."""

    added: int
    already_there: int
    moved: int


@dataclass(frozen=True)
class Deleted:
    """What a deletion did: takes whose sound is gone, files deleted."""

    takes: int
    files: int


def write_count(studio: Studio, row: ChartRow, *, now: datetime) -> RoundPlace:
    """Write a round's number by hand.

    Parameters
    ----------
    studio : the studio
    row : a checked row; order None puts it at the end of its day
    now : the moment, with its zone

    Raises
    ------
    Conflict   if the place in the day is taken
    """
    with studio.act() as session:
        found = _new_round(session, row, now=now)
        return RoundPlace(row.player, row.day, found.order_in_day)


def file_take(
    studio: Studio,
    incoming: Incoming,
    row: ChartRow,
    told: Told,
    judged: Judged | None,
    *,
    now: datetime,
    live: LiveRound | None = None,
    part: PartTaken | None = None,
) -> RoundPlace:
    """File a take with its reading: the file first, then the rows.

    Parameters
    ----------
    studio : the studio
    incoming : the sound or MIDI under its passing name
    row : the round; its ``count_held`` is None, its ``ended`` what the person said, or None
    told : what the judge was told
    judged : the reading, made from the file that is kept; None where it could not be read
    now : the moment, with its zone
    live : of a round of the stand, None for a file that was brought; one that is filed already
        is not filed again
    part : which part it was of, None where it was of none; one that was deleted meanwhile is
        only named by what it asked

    Raises
    ------
    Conflict   if the place in the day is taken
    """
    try:
        with studio.act() as session:
            if live is not None and (there := _live_round(session, live.key)) is not None:
                return RoundPlace(row.player, there.day.date, there.order_in_day)
            found = _new_round(session, row, now=now)
            if live is not None:
                found.live_key, found.standing = live.key, live.standing
                found.why_void, found.purpose = live.why_void, live.purpose
            take = Take(
                round_id=found.id,
                kind=incoming.kind,
                content_sha256=incoming.content_sha256,
                told=told.to_json(),
                filed_at=now,
                sound_deleted_at=None,
                **_part_columns(session, part),
            )
            session.add(take)
            session.flush()
            if judged is not None:
                add_reading(session, take, judged, now=now)
                session.flush()
            keep(studio.folder, incoming)
            return RoundPlace(row.player, row.day, found.order_in_day)
    except Exception:
        with suppress(StoreError):
            sweep_studio(studio, now=now)
        raise


def _part_columns(session: Session, part: PartTaken | None) -> dict[str, Any]:
    """Return what a take's row says of its part."""
    if part is None:
        return {}
    is_there = session.scalar(select(Part.id).where(Part.id == part.part_id)) is not None
    return {
        "part_id": part.part_id if is_there else None,
        "part_version": part.version,
        "part_asked": part.asked.to_json(),
    }


def rate_round(studio: Studio, key: str, feel: str) -> None:
    """Write down how a round of the stand felt.

    Raises
    ------
    NotFound     if there is no such round
    InputError   if there is no such word
    """
    word = check_word(feel, field="feel", words=FEELS)
    with studio.act() as session:
        found = _live_round(session, key)
        if found is None:
            raise NotFound("there is no such round of the stand any more")
        found.feel = word


def _live_round(session: Session, key: str) -> Round | None:
    return session.scalar(select(Round).where(Round.live_key == key))


def add_reading(session: Session, take: Take, judged: Judged, *, now: datetime) -> None:
    """Put a reading in force."""
    body = judged.body
    session.add(
        Reading(
            take_id=take.id,
            judge_version=judged.judge_version,
            made_at=now,
            count_held=body["count_held"],
            ended=body["ended"],
            confidence=body["confidence"],
            body=body,
        )
    )


def correct_count(
    studio: Studio,
    place: RoundPlace,
    *,
    count_held: int,
    ended: str | None,
    why: str,
    now: datetime,
) -> int | None:
    """Put a person's number above what stood; both are kept.

    Returns
    -------
    count_before : the number that stood until now, or None

    Raises
    ------
    NotFound     if there is no such round
    InputError   if the number or the reason cannot be
    """
    reason = check_text(why, field="why", longest=_LONGEST_WHY)
    with studio.act() as session:
        found = _round_at(session, place)
        # A number that a person stands for counts, whatever became of the round.
        found.standing = "counts"
        session.flush()
        standing = next(
            stands.row
            for stands in chart_rounds_between(
                session, player=place.player, first=place.day, last=place.day
            )
            if stands.row.order == place.order
        )
        counts = standing.tags.counts
        count = check_count(count_held, counts=counts)
        session.add(
            Correction(
                round_id=found.id,
                count_before=standing.count_held,
                count_held=count,
                ended=_ended_of_correction(standing, count=count, said=ended),
                why=reason,
                made_at=now,
            )
        )
        return standing.count_held


def delete_sound(
    studio: Studio, *, player: str, day: date | None, order: int | None, now: datetime
) -> Deleted:
    """Delete the sound of takes and keep their numbers.

    Parameters
    ----------
    studio : the studio
    player : whose
    day : only this day's, None for all
    order : only this round's, None for all
    now : the moment, with its zone

    Raises
    ------
    NotFound   if no take of these has sound
    """
    with studio.act() as session:
        query = (
            select(Take)
            .join(Round, Take.round_id == Round.id)
            .join(Day, Round.day_id == Day.id)
            .where(Day.player_id == player_of(session, player).id, Take.sound_deleted_at.is_(None))
        )
        if day is not None:
            query = query.where(Day.date == day)
        if order is not None:
            query = query.where(Round.order_in_day == order)
        takes = list(session.scalars(query))
        if not takes:
            raise NotFound(f"no take of {player} that was asked for has its sound any more")
        for take in takes:
            take.sound_deleted_at = now
        session.flush()
        gone = {(take.kind, take.content_sha256) for take in takes} - _needed(session)
    for kind, content in gone:
        delete_content(studio.folder, kind=kind, content_sha256=content)
    return Deleted(takes=len(takes), files=len(gone))


def import_rows(studio: Studio, rows: Sequence[ChartRow], *, now: datetime) -> Imported:
    """Add the rounds of a chart that the studio does not hold yet, as numbers written by hand.

    A round that stands there already with the same player, day, tags, number and extra columns is
    not added again. Where its place in the day is taken by another, a round goes to the end.
    """
    with studio.act() as session:
        there = _rounds_there(session, rows)
        days: dict[tuple[str, date], tuple[Day, set[int]]] = {}
        added = already = moved = 0
        for row in sorted(rows, key=lambda row: row.order is None):
            if there[_sameness(row)] > 0:
                there[_sameness(row)] -= 1
                already += 1
                continue
            key = (row.player, row.day)
            if key not in days:
                day = _day(session, player=row.player, day=row.day, now=now)
                days[key] = (day, _orders(session, day))
            day, taken = days[key]
            order = row.order
            if order is None or order in taken:
                moved += order is not None
                order = max(taken, default=0) + 1
            taken.add(order)
            session.add(_round(day, row, order=order, now=now))
            added += 1
    return Imported(added=added, already_there=already, moved=moved)


def _rounds_there(session: Session, rows: Sequence[ChartRow]) -> Counter[tuple[Any, ...]]:
    """Rounds that the studio holds of the players and days of some rows."""
    days: dict[str, list[date]] = {}
    for row in rows:
        days.setdefault(row.player, []).append(row.day)
    there: Counter[tuple[Any, ...]] = Counter()
    for player in sorted(set(days) & set(player_names(session))):
        first, last = min(days[player]), max(days[player])
        found = chart_rounds_between(session, player=player, first=first, last=last)
        there.update(_sameness(each.row) for each in found)
    return there


def sweep_studio(studio: Studio, *, now: datetime) -> int:
    """Delete files that no row names (left by a machine that stopped). Returns how many."""
    with studio.act() as session:
        return sweep(studio.folder, needed=_needed(session), now=now)


def _needed(session: Session) -> set[tuple[str, str]]:
    """Files that rows name."""
    query = select(Take.kind, Take.content_sha256).where(Take.sound_deleted_at.is_(None))
    return {(kind, content) for kind, content in session.execute(query)}


def _day(session: Session, *, player: str, day: date, now: datetime) -> Day:
    """Return a player's day, made if need be."""
    person = session.scalar(select(Player).where(Player.name == player))
    if person is None:
        person = Player(name=player, added_at=now)
        session.add(person)
        session.flush()
    found = session.scalar(select(Day).where(Day.player_id == person.id, Day.date == day))
    if found is None:
        found = Day(player_id=person.id, date=day)
        session.add(found)
        session.flush()
    return found


def _orders(session: Session, day: Day) -> set[int]:
    """Places of a day that are taken."""
    return set(session.scalars(select(Round.order_in_day).where(Round.day_id == day.id)))


def _new_round(session: Session, row: ChartRow, *, now: datetime) -> Round:
    """Add a round at its place, or at the end of its day."""
    day = _day(session, player=row.player, day=row.day, now=now)
    taken = _orders(session, day)
    if row.order in taken:
        raise Conflict(
            f"{row.player} has a round {row.order} on {row.day} already: "
            "correct that one, or leave the order out"
        )
    found = _round(day, row, order=row.order or max(taken, default=0) + 1, now=now)
    session.add(found)
    session.flush()
    return found


def _round(day: Day, row: ChartRow, *, order: int, now: datetime) -> Round:
    """Build the table's row from a chart's row."""
    return Round(
        day_id=day.id,
        order_in_day=order,
        **asdict(row.tags),
        count_written=row.count_held,
        ended_written=row.ended,
        extra=row.extra,
        filed_at=now,
    )


def _round_at(session: Session, place: RoundPlace) -> Round:
    """Return the round at a place of the chart."""
    found = session.scalar(
        select(Round)
        .join(Day, Round.day_id == Day.id)
        .where(
            Day.player_id == player_of(session, place.player).id,
            Day.date == place.day,
            Round.order_in_day == place.order,
        )
    )
    if found is None:
        highest = session.scalar(
            select(func.max(Round.order_in_day))
            .join(Day, Round.day_id == Day.id)
            .join(Player, Day.player_id == Player.id)
            .where(Player.name == place.player, Day.date == place.day)
        )
        there = "no rounds" if highest is None else f"rounds up to {highest}"
        raise NotFound(
            f"{place.player} has no round {place.order} on {place.day}; that day has {there}"
        )
    return found


def _ended_of_correction(standing: ChartRow, *, count: int, said: str | None) -> str | None:
    """How a corrected round ended: as said, else what can be told."""
    if said is not None:
        return said
    if count >= standing.tags.counts:
        return HELD_TO_THE_END
    return None if standing.ended in {HELD_TO_THE_END, NOT_JUDGED} else standing.ended


def _sameness(row: ChartRow) -> tuple[Any, ...]:
    """Return what makes two rounds of a chart the same, their place in the day apart."""
    extra = tuple(sorted(row.extra.items()))
    return (row.player, row.day, row.tags, row.count_held, row.ended, extra)
