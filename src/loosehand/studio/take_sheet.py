"""All that a page shows of one take: whose it was, what stands, what was read, what was said.

Both the machine's numbers and the person's are here, with when and why; the sound itself is only
named by its path.
"""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import joinedload, selectinload

from loosehand.errors import NotFound
from loosehand.studio.database import Studio
from loosehand.studio.filing import RoundPlace
from loosehand.studio.hearing import Told
from loosehand.studio.models import Correction, Day, Reading, Round, Take
from loosehand.studio.round_tags import RoundTags, tags_of_row
from loosehand.studio.sound import path_of_content

__all__ = ["NumberGiven", "TakeSheet", "load_take"]

Json = dict[str, Any]

_HIGHEST_ID = 2**63 - 1
"""The database holds no higher number."""


@dataclass(frozen=True)
class NumberGiven:
    """A number that somebody gave the round.

    Attributes
    ----------
    by_person : whether a person gave it, and not the machine
    count_held : the number, None where the take was not judged
    ended : how the hold ended, or None where nobody said
    given_at : when
    why : the person's reason, None for the machine
    judge_version : the machine's version, None for a person
    """

    by_person: bool
    count_held: int | None
    ended: str | None
    given_at: datetime
    why: str | None
    judge_version: str | None


@dataclass(frozen=True)
class TakeSheet:
    """One take.

    Attributes
    ----------
    take_id : its number
    place : player, day and place in the day of its round
    tags : what the round was
    standing : counts, warm-up or void
    why_void : why a void round is void, or None
    kind : sound or midi
    told : what the judge was told
    filed_at : when the take was filed
    sound_deleted_at : when its sound was deleted, or None
    sound_path : where the sound or MIDI lies, None where it is gone
    body : the reading in force as JSON, None where there is none yet
    read : the machine's numbers, the one in force last
    corrected : the person's numbers, the one in force last
    ended_written : how the round ended as the person said when it was filed, or None
    """

    take_id: int
    place: RoundPlace
    tags: RoundTags
    standing: str
    why_void: str | None
    kind: str
    told: Told
    filed_at: datetime
    sound_deleted_at: datetime | None
    sound_path: Path | None
    body: Json | None
    read: tuple[NumberGiven, ...]
    corrected: tuple[NumberGiven, ...]
    ended_written: str | None

    @property
    def in_force(self) -> NumberGiven | None:
        """The number that stands: a person's last one, else the machine's last one."""
        return next(reversed(self.corrected or self.read), None)

    @property
    def count_held(self) -> int | None:
        """Count held as it stands."""
        return None if self.in_force is None else self.in_force.count_held

    @property
    def ended(self) -> str | None:
        """How the hold ended, as it stands: what the person said goes above the reading."""
        if self.in_force is None:
            return self.ended_written
        if self.in_force.by_person:
            return self.in_force.ended
        return self.ended_written or self.in_force.ended

    @property
    def numbers(self) -> tuple[NumberGiven, ...]:
        """Every number given, the one that stands first, a person's above the machine's."""
        return (*reversed(self.corrected), *reversed(self.read))


def load_take(studio: Studio, take_id: int) -> TakeSheet:
    """Load all of one take.

    Parameters
    ----------
    studio : the studio
    take_id : number of the take

    Raises
    ------
    NotFound   if there is no such take
    """
    with studio.look() as session:
        take = None if take_id > _HIGHEST_ID else session.scalar(_take_query(take_id))
        if take is None:
            raise NotFound(
                f"there is no take {str(take_id)[:20]} in this studio: open one from the chart"
            )
        return _sheet(studio, take)


def _take_query(take_id: int) -> Any:
    """Ask for a take with its round, day and player, its readings and corrections."""
    of_round = joinedload(Take.round)
    return (
        select(Take)
        .where(Take.id == take_id)
        .options(
            of_round.joinedload(Round.day).joinedload(Day.player),
            of_round.selectinload(Round.corrections),
            selectinload(Take.readings),
        )
    )


def _sheet(studio: Studio, take: Take) -> TakeSheet:
    """Build the sheet of a take that is loaded."""
    found = take.round
    return TakeSheet(
        take_id=take.id,
        place=RoundPlace(found.day.player.name, found.day.date, found.order_in_day),
        tags=tags_of_row(found),
        standing=found.standing,
        why_void=found.why_void,
        kind=take.kind,
        told=Told.from_json(take.told),
        filed_at=take.filed_at,
        sound_deleted_at=take.sound_deleted_at,
        sound_path=_sound_path(studio, take),
        body=take.readings[-1].body if take.readings else None,
        read=tuple(_of_reading(reading) for reading in take.readings),
        corrected=tuple(_of_correction(correction) for correction in found.corrections),
        ended_written=found.ended_written,
    )


def _sound_path(studio: Studio, take: Take) -> Path | None:
    """Where the take's file lies, None where it was deleted or is not there any more."""
    if take.sound_deleted_at is not None:
        return None
    path = path_of_content(studio.folder, kind=take.kind, content_sha256=take.content_sha256)
    return path if path.is_file() else None


def _of_reading(reading: Reading) -> NumberGiven:
    """A number that the machine gave."""
    return NumberGiven(
        by_person=False,
        count_held=reading.count_held,
        ended=reading.ended,
        given_at=reading.made_at,
        why=None,
        judge_version=reading.judge_version,
    )


def _of_correction(correction: Correction) -> NumberGiven:
    """A number that a person gave."""
    return NumberGiven(
        by_person=True,
        count_held=correction.count_held,
        ended=correction.ended,
        given_at=correction.made_at,
        why=correction.why,
        judge_version=None,
    )
