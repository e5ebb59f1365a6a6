"""The chart as it stands: of every round the number in force, and whose it is.

In force is a person's last correction; else the number that a person wrote; else the last
reading of the take.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, Select, and_, func, select
from sqlalchemy.orm import Session

from loosehand.errors import NotFound
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.models import Correction, Day, Player, Reading, Round, Take
from loosehand.studio.round_tags import HELD_TO_THE_END, RoundTags, ended_of_written

__all__ = ["ChartRound", "ChartSheet", "chart_rounds", "player_names", "player_of", "sheets_of"]


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


def sheets_of(rounds: Sequence[ChartRound]) -> list[ChartSheet]:
    """Sort rounds into sheets; soft and loud, pad and hat are never pooled."""
    groups: dict[tuple[Any, ...], list[ChartRound]] = {}
    for found in rounds:
        groups.setdefault(_sheet_key(found.row.tags), []).append(found)
    return [_sheet(key, groups[key]) for key in sorted(groups, key=_sheet_place)]


def _rounds_query() -> Select[*tuple[Any, ...]]:
    """Ask for rounds with the reading and the correction in force: one query for any chart."""
    last_reading = (
        select(func.max(Reading.id)).where(Reading.take_id == Take.id).correlate(Take)
    ).scalar_subquery()
    last_correction = (
        select(func.max(Correction.id)).where(Correction.round_id == Round.id).correlate(Round)
    ).scalar_subquery()
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
        .select_from(Round)
        .join(Day, Round.day_id == Day.id)
        .join(Player, Day.player_id == Player.id)
        .outerjoin(Take, Take.round_id == Round.id)
        .outerjoin(Reading, and_(Reading.take_id == Take.id, Reading.id == last_reading))
        .outerjoin(Correction, Correction.id == last_correction)
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
            tags=_tags(found),
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
    )


def _in_force(found: Row[Any]) -> tuple[int | None, str | None]:
    """Count held and how it ended: the person's if there is one, else the reading's."""
    if found.correction_id is not None:
        return found.count_corrected, found.ended_corrected
    if found.take_id is None:
        return found.count_written, found.ended_written
    return found.count_read, found.ended_written or found.ended_read


def _tags(found: Row[Any]) -> RoundTags:
    """Tags of a row of the query."""
    return RoundTags(
        hand=found.hand,
        tempo_bpm=found.tempo_bpm,
        places_per_count=found.places_per_count,
        round_s=found.round_s,
        technique=found.technique,
        surface=found.surface,
        loudness=found.loudness,
        feel=found.feel,
    )


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
