"""The chart as it stands: of every round the number in force, and whose it is.

In force is a person's last correction; else the number that a person wrote; else the last
reading of the take.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import (
    ColumnElement,
    FromClause,
    Row,
    ScalarSelect,
    Select,
    String,
    and_,
    case,
    cast,
    func,
    select,
)
from sqlalchemy.orm import Session, join

from loosehand.errors import NotFound
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.models import Correction, Day, Player, Reading, Round, Take
from loosehand.studio.round_tags import (
    HELD_TO_THE_END,
    RoundTags,
    ended_of_written,
    tags_of_row,
)

__all__ = [
    "ChartRound",
    "ChartSheet",
    "Kind",
    "KindPlayed",
    "MonthRounds",
    "chart_rounds",
    "chart_rounds_between",
    "chart_rows",
    "kinds_played",
    "month_rounds",
    "player_names",
    "player_of",
    "rounds_by_day",
    "rounds_since",
    "sheets_of",
]


@dataclass(frozen=True)
class ChartRound:
    """A round as it stands.

    Attributes
    ----------
    row : the round with the number in force
    count_read : the machine's number, None where there is no take or it was not judged
    confidence : of the reading, or None
    count_written : the number that a person wrote first, or None
    corrected_at, why : of the correction in force, or None
    has_take : whether a take was filed
    has_sound : whether its sound is still kept
    take_id : number of the take, or None
    standing : counts, warm-up or void
    purpose : what it was for: round, test or warm-up
    """

    row: ChartRow
    count_read: int | None
    confidence: float | None
    count_written: int | None
    corrected_at: datetime | None
    why: str | None
    has_take: bool
    has_sound: bool
    take_id: int | None
    standing: str
    purpose: str

    @property
    def held_to_the_end(self) -> bool:
        """Whether all the counts of the round were held."""
        count = self.row.count_held
        if count is None:
            return False
        counts = self.row.tags.counts
        said = ended_of_written(self.row.ended, count_held=count, counts=counts)
        return said == HELD_TO_THE_END


@dataclass(frozen=True)
class ChartSheet:
    """Rounds that may be read side by side: one hand, technique, surface, loudness, grid.

    Attributes
    ----------
    hand, technique, surface, loudness, places_per_count : what they share
    days : in order
    tempos_bpm : in rising order
    cells : rounds by tempo and day, in the order played
    """

    hand: str
    technique: str | None
    surface: str | None
    loudness: str | None
    places_per_count: int
    days: tuple[date, ...]
    tempos_bpm: tuple[float, ...]
    cells: dict[tuple[float, date], tuple[ChartRound, ...]]


@dataclass(frozen=True)
class Kind:
    """What rounds must share, the hand apart, to be read side by side."""

    technique: str | None
    surface: str | None
    loudness: str | None
    places_per_count: int


@dataclass(frozen=True)
class KindPlayed:
    """A kind of rounds that a player has on the chart: how many, from when to when."""

    kind: Kind
    rounds: int
    first_day: date
    last_day: date


@dataclass(frozen=True)
class MonthRounds:
    """The rounds of a month that share hand, tempo, length and how they ended.

    Attributes
    ----------
    month : its first day
    hand, tempo_bpm, round_s : what they share
    ended : how they ended, None where not said
    counts_held : of the rounds that have a number
    rounds : how many there are, with or without a number
    """

    month: date
    hand: str
    tempo_bpm: float
    round_s: float
    ended: str | None
    counts_held: tuple[int, ...]
    rounds: int


def player_names(session: Session) -> list[str]:
    """Names of all players, in order of the alphabet."""
    return list(session.scalars(select(Player.name).order_by(Player.name)))


def player_of(session: Session, name: str) -> Player:
    """Find a player by name.

    Raises
    ------
    NotFound   if there is none of that name
    """
    player = session.scalar(select(Player).where(Player.name == name))
    if player is None:
        known = ", ".join(player_names(session)[:10]) or "nobody"
        raise NotFound(f"there is no player {name!r} in this studio; it knows {known}")
    return player


def chart_rounds(session: Session, *, player: str | None) -> list[ChartRound]:
    """Rounds of a player (of all players for None) that count, in the order played."""
    query = _rounds_query().where(Round.standing == "counts")
    if player is not None:
        query = query.where(Player.id == player_of(session, player).id)
    return [_chart_round(found) for found in session.execute(query)]


def chart_rounds_between(
    session: Session,
    *,
    player: str,
    first: date,
    last: date,
    hand: str | None = None,
    kind: Kind | None = None,
) -> list[ChartRound]:
    """Rounds of a player that count, of the days from ``first`` to ``last``, as played.

    Parameters
    ----------
    hand, kind : of which alone; None for all
    """
    query = _rounds_query().where(
        Round.standing == "counts",
        Day.player_id == player_of(session, player).id,
        Day.date.between(first, last),
    )
    if hand is not None:
        query = query.where(Round.hand == hand)
    if kind is not None:
        query = query.where(*_is_of(kind))
    return [_chart_round(found) for found in session.execute(query)]


def chart_rows(session: Session, *, player: str) -> list[ChartRow]:
    """Rows of a player's rounds that count, as played, without columns of other programs.

    For those who read a chart of years: much quicker than ``chart_rounds``.
    """
    said = (Round.hand, Round.tempo_bpm, Round.places_per_count, Round.round_s)
    query = (
        select(
            Day.date,
            Round.order_in_day,
            _count_in_force(),
            _ended_in_force(),
            *(*said, Round.technique, Round.surface, Round.loudness, Round.feel),
        )
        .select_from(_rounds_with_all())
        .where(Round.standing == "counts", Day.player_id == player_of(session, player).id)
        .order_by(Day.date, Round.order_in_day)
    )
    # Thousands of rounds share a few hundred tags.
    tags_of = lru_cache(maxsize=None)(RoundTags)
    return [
        ChartRow(day, order, player, tags_of(*tags), count, ended)
        for day, order, count, ended, *tags in session.execute(query)
    ]


def rounds_since(session: Session, *, player: str, first: date) -> list[ChartRound]:
    """Rounds of a player from a day on, as played: warm-ups and void ones too."""
    person = player_of(session, player).id
    query = _rounds_query().where(Day.player_id == person, Day.date >= first)
    return [_chart_round(found) for found in session.execute(query)]


def rounds_by_day(session: Session, *, player: str, first: date, last: date) -> dict[date, int]:
    """How many rounds a player has on each day that has any: warm-ups and void ones too."""
    query = (
        select(Day.date, func.count(Round.id))
        .join(Round, Round.day_id == Day.id)
        .where(Day.player_id == player_of(session, player).id, Day.date.between(first, last))
        .group_by(Day.date)
        .order_by(Day.date)
    )
    return {day: rounds for day, rounds in session.execute(query)}


def kinds_played(session: Session, *, player: str) -> list[KindPlayed]:
    """Kinds of rounds that a player has on the chart, the one played last first."""
    shared = (Round.technique, Round.surface, Round.loudness, Round.places_per_count)
    query = (
        select(*shared, func.count(Round.id), func.min(Day.date), func.max(Day.date))
        .select_from(Day)
        .join(Round, Round.day_id == Day.id)
        .where(Day.player_id == player_of(session, player).id, Round.standing == "counts")
        .group_by(*shared)
        .order_by(func.max(Day.date).desc(), func.count(Round.id).desc())
    )
    return [
        KindPlayed(Kind(technique, surface, loudness, places), rounds, first_day, last_day)
        for technique, surface, loudness, places, rounds, first_day, last_day in session.execute(
            query
        )
    ]


def month_rounds(
    session: Session, *, player: str, kind: Kind, first: date, last: date
) -> list[MonthRounds]:
    """Rounds of one kind that count, from ``first`` to ``last``, laid together by month."""
    in_force = (
        select(
            # As text, such as 2026-11: in SQLite much faster than asking for year and month.
            func.substr(cast(Day.date, String), 1, 7).label("month"),
            Round.hand,
            Round.tempo_bpm,
            Round.round_s,
            _count_in_force().label("count"),
            _ended_in_force().label("ended"),
        )
        .select_from(_rounds_with_all())
        .where(
            Round.standing == "counts",
            Day.player_id == player_of(session, player).id,
            Day.date.between(first, last),
            *_is_of(kind),
        )
        .subquery()
    )
    shared = tuple(in_force.c[name] for name in ("month", "hand", "tempo_bpm", "round_s", "ended"))
    query = select(
        *shared,
        func.aggregate_strings(cast(in_force.c.count, String), " ").label("counts"),
        func.count().label("rounds"),
    ).group_by(*shared)
    return [
        MonthRounds(
            month=date.fromisoformat(f"{found.month}-01"),
            hand=found.hand,
            tempo_bpm=found.tempo_bpm,
            round_s=found.round_s,
            ended=found.ended,
            counts_held=tuple(int(count) for count in (found.counts or "").split()),
            rounds=found.rounds,
        )
        for found in session.execute(query)
    ]


def sheets_of(rounds: Sequence[ChartRound]) -> list[ChartSheet]:
    """Sort rounds into sheets; soft and loud, pad and hat are never pooled."""
    groups: dict[tuple[Any, ...], list[ChartRound]] = {}
    for found in rounds:
        groups.setdefault(_sheet_key(found.row.tags), []).append(found)
    return [_sheet(key, groups[key]) for key in sorted(groups, key=_sheet_place)]


def _rounds_with_all() -> FromClause:
    """Join every round to its day and take, and to the reading and correction in force."""
    last_reading: ScalarSelect[Any] = (
        select(func.max(Reading.id)).where(Reading.take_id == Take.id).correlate(Take)
    ).scalar_subquery()
    last_correction: ScalarSelect[Any] = (
        select(func.max(Correction.id)).where(Correction.round_id == Round.id).correlate(Round)
    ).scalar_subquery()
    return (
        join(Day, Round, Round.day_id == Day.id)
        .outerjoin(Take, Take.round_id == Round.id)
        .outerjoin(Reading, and_(Reading.take_id == Take.id, Reading.id == last_reading))
        .outerjoin(Correction, Correction.id == last_correction)
    )


def _is_of(kind: Kind) -> list[ColumnElement[bool]]:
    """Ask whether a round is of a kind."""
    return [
        Round.technique.is_not_distinct_from(kind.technique),
        Round.surface.is_not_distinct_from(kind.surface),
        Round.loudness.is_not_distinct_from(kind.loudness),
        Round.places_per_count == kind.places_per_count,
    ]


def _count_in_force() -> ColumnElement[Any]:
    """Ask for the count of ``_in_force``."""
    return case(
        (Correction.id.is_not(None), Correction.count_held),
        (Take.id.is_(None), Round.count_written),
        else_=Reading.count_held,
    )


def _ended_in_force() -> ColumnElement[Any]:
    """Ask for the ending of ``_in_force``."""
    return case(
        (Correction.id.is_not(None), Correction.ended),
        (Take.id.is_(None), Round.ended_written),
        else_=func.coalesce(Round.ended_written, Reading.ended),
    )


def _rounds_query() -> Select[*tuple[Any, ...]]:
    """Ask for rounds with the reading and the correction in force: one query for any chart."""
    return (
        select(
            Day.date.label("day"),
            Player.name.label("player"),
            Round.order_in_day,
            Round.hand,
            Round.technique,
            Round.surface,
            Round.loudness,
            Round.tempo_bpm,
            Round.places_per_count,
            Round.round_s,
            Round.feel,
            Round.count_written,
            Round.ended_written,
            Round.extra,
            Round.standing,
            Round.purpose,
            Take.id.label("take_id"),
            Take.sound_deleted_at,
            Reading.count_held.label("count_read"),
            Reading.ended.label("ended_read"),
            Reading.confidence,
            Correction.id.label("correction_id"),
            Correction.count_held.label("count_corrected"),
            Correction.ended.label("ended_corrected"),
            Correction.made_at.label("corrected_at"),
            Correction.why,
        )
        .select_from(_rounds_with_all().join(Player, Day.player_id == Player.id))
        .order_by(Day.date, Player.name, Round.order_in_day)
    )


def _chart_round(found: Row[Any]) -> ChartRound:
    """Build a round as it stands from its row of the query."""
    count, ended = _in_force(found)
    return ChartRound(
        row=ChartRow(
            day=found.day,
            order=found.order_in_day,
            player=found.player,
            tags=tags_of_row(found),
            count_held=count,
            ended=ended,
            extra=found.extra,
        ),
        count_read=found.count_read,
        confidence=found.confidence,
        count_written=found.count_written,
        corrected_at=found.corrected_at,
        why=found.why,
        has_take=found.take_id is not None,
        has_sound=found.take_id is not None and found.sound_deleted_at is None,
        take_id=found.take_id,
        standing=found.standing,
        purpose=found.purpose,
    )


def _in_force(found: Row[Any]) -> tuple[int | None, str | None]:
    """Count held and how it ended: the person's if there is one, else the reading's."""
    if found.correction_id is not None:
        return found.count_corrected, found.ended_corrected
    if found.take_id is None:
        return found.count_written, found.ended_written
    return found.count_read, found.ended_written or found.ended_read


def _sheet_key(tags: RoundTags) -> tuple[Any, ...]:
    """Return what the rounds of a sheet share."""
    return (tags.hand, tags.technique, tags.surface, tags.loudness, tags.places_per_count)


def _sheet_place(key: tuple[Any, ...]) -> tuple[Any, ...]:
    """Order of the sheets: left, right, alternating, then by the other tags."""
    hand, technique, surface, loudness, places = key
    hands = {"left": 0, "right": 1, "alternating": 2}
    return (hands[hand], technique or "", surface or "", loudness or "", places)


def _sheet(key: tuple[Any, ...], rounds: list[ChartRound]) -> ChartSheet:
    """Lay rounds out by tempo and day."""
    cells: dict[tuple[float, date], list[ChartRound]] = {}
    for found in rounds:
        cells.setdefault((found.row.tags.tempo_bpm, found.row.day), []).append(found)
    hand, technique, surface, loudness, places = key
    return ChartSheet(
        hand=hand,
        technique=technique,
        surface=surface,
        loudness=loudness,
        places_per_count=places,
        days=tuple(sorted({day for _, day in cells})),
        tempos_bpm=tuple(sorted({tempo for tempo, _ in cells})),
        cells={place: tuple(found) for place, found in cells.items()},
    )
