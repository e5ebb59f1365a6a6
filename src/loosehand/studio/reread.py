"""Read every stored take again with the present judge; earlier readings are kept."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from loosehand.studio.database import Studio
from loosehand.studio.filing import RoundPlace, add_reading
from loosehand.studio.hearing import Hearing, Judged, Told, hear_stored
from loosehand.studio.models import Day, Player, Reading, Round, Take
from loosehand.studio.sound import path_of_content

__all__ = ["Reread", "reread"]


@dataclass(frozen=True)
class Reread:
    """What came of reading a take again.

    Attributes
    ----------
    place : where its round stands
    count_before, count_now : the machine's number before and now, None where not judged
    is_new : whether anything in the reading changed, so that a new one is in force
    sound_is_gone : whether the stored file could not be found, so that nothing was read
    """

    place: RoundPlace
    count_before: int | None
    count_now: int | None
    is_new: bool
    sound_is_gone: bool


def reread(studio: Studio, *, hearing: Hearing, now: datetime) -> Iterator[Reread]:
    """Read every take that has its sound again, one act a take.

    Parameters
    ----------
    studio : the studio
    hearing : what hears a file
    now : the moment, with its zone

    Yields
    ------
    reread : what came of each take, in the order filed
    """
    for take_id, place in _takes(studio):
        yield _reread_take(studio, take_id, place, hearing=hearing, now=now)


def _takes(studio: Studio) -> list[tuple[int, RoundPlace]]:
    """Find the takes whose sound is kept."""
    query = (
        select(Take.id, Player.name, Day.date, Round.order_in_day)
        .join(Round, Take.round_id == Round.id)
        .join(Day, Round.day_id == Day.id)
        .join(Player, Day.player_id == Player.id)
        .where(Take.sound_deleted_at.is_(None))
        .order_by(Take.id)
    )
    with studio.look() as session:
        return [(row[0], RoundPlace(row[1], row[2], row[3])) for row in session.execute(query)]


def _reread_take(
    studio: Studio, take_id: int, place: RoundPlace, *, hearing: Hearing, now: datetime
) -> Reread:
    """Read one take again; the ear works outside the act, so that it holds up nobody."""
    with studio.look() as session:
        take = session.get_one(Take, take_id)
        path = path_of_content(studio.folder, kind=take.kind, content_sha256=take.content_sha256)
        told = Told.from_json(take.told)
        last = session.scalars(
            select(Reading).where(Reading.take_id == take_id).order_by(Reading.id.desc())
        ).first()
        before = None if last is None else Judged(last.body, last.judge_version)
        count_before = None if last is None else last.count_held
    if not path.exists():
        return Reread(place, count_before, count_before, is_new=False, sound_is_gone=True)
    judged = hear_stored(path, told, hearing=hearing)
    if judged != before:
        with studio.act() as session:
            add_reading(session, session.get_one(Take, take_id), judged, now=now)
    return Reread(
        place,
        count_before,
        judged.body["count_held"],
        is_new=judged != before,
        sound_is_gone=False,
    )
