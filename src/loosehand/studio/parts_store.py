"""Parts in the studio: kept as text, changed by one person at a time, deleted when told to.

What is kept can be played: a text that ``parse_part`` refuses is not stored. Every change names
the version that it was made from; where another change came first, it is refused and nothing of
either is lost.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from loosehand.errors import BadNotation, Conflict, NotFound
from loosehand.parts.part import Part
from loosehand.parts.text import parse_part
from loosehand.studio.chart import player_of
from loosehand.studio.database import Studio
from loosehand.studio.models import Part as PartRow
from loosehand.studio.models import Player

__all__ = [
    "MOST_CHARACTERS",
    "NO_TITLE",
    "PartListed",
    "StoredPart",
    "add_part",
    "change_part",
    "check_part_text",
    "delete_part",
    "list_parts",
    "load_part",
]

MOST_CHARACTERS = 400_000
"""Length of the longest text that is kept: some ten thousand bars written out (ours)."""

NO_TITLE = "Part without a title"


@dataclass(frozen=True)
class PartListed:
    """A part as it stands in a list.

    Attributes
    ----------
    part_id : number of the part
    title : what it is called; never empty
    player : whose it is; None for the whole studio's
    changed_at : the moment of the last change, with its zone
    """

    part_id: int
    title: str
    player: str | None
    changed_at: datetime


@dataclass(frozen=True)
class StoredPart(PartListed):
    """A part with its text.

    Attributes
    ----------
    text : as it was typed
    version : counts the changes, from 1
    """

    text: str
    version: int


def check_part_text(text: str) -> Part:
    """The part of a text that may be kept.

    Raises
    ------
    BadNotation    in one sentence with line and column
    """
    if len(text) > MOST_CHARACTERS:
        raise BadNotation(
            f"the text is {len(text)} characters long: want {MOST_CHARACTERS} at most"
        )
    return parse_part(text)


def list_parts(studio: Studio) -> list[PartListed]:
    """All parts, the last changed first."""
    query = _query().order_by(PartRow.changed_at.desc(), PartRow.id.desc())
    with studio.look() as session:
        return [
            PartListed(row.id, row.title, player, row.changed_at)
            for row, player in session.execute(query)
        ]


def load_part(studio: Studio, part_id: int) -> StoredPart:
    """Find a part.

    Raises
    ------
    NotFound   if there is none of that number
    """
    with studio.look() as session:
        found = session.execute(_query().where(PartRow.id == part_id)).first()
        if found is None:
            raise _no_part(part_id)
        row, player = found
        return StoredPart(row.id, row.title, player, row.changed_at, row.text, row.version)


def add_part(studio: Studio, text: str, *, player: str | None, now: datetime) -> int:
    """Keep a new part; return its number.

    Parameters
    ----------
    studio : the studio
    text : of the part
    player : whose it is; None for the whole studio's
    now : the moment, with its zone

    Raises
    ------
    BadNotation   if the text is no part
    NotFound      if there is no such player
    """
    title = _title_of(text)
    with studio.act() as session:
        owner = None if player is None else player_of(session, player).id
        row = PartRow(
            player_id=owner, title=title, text=text, version=1, added_at=now, changed_at=now
        )
        session.add(row)
        session.flush()
        return row.id


def change_part(studio: Studio, part_id: int, text: str, *, seen: int, now: datetime) -> int:
    """Keep another text for a part; return its version. The same text is no change.

    Parameters
    ----------
    studio : the studio
    part_id : number of the part
    text : the new text
    seen : the version that the change was made from
    now : the moment, with its zone

    Raises
    ------
    BadNotation   if the text is no part
    NotFound      if there is no such part any more
    Conflict      if it was changed meanwhile
    """
    title = _title_of(text)
    with studio.act() as session:
        row = _row(session, part_id)
        if row.text == text:
            return row.version
        if row.version != seen:
            raise Conflict(
                "this part was changed elsewhere since you opened it, so yours was not saved: "
                "your text stands below, and the page of the part has the other one"
            )
        row.title, row.text, row.version, row.changed_at = title, text, seen + 1, now
        return row.version


def delete_part(studio: Studio, part_id: int) -> None:
    """Delete a part. Raises NotFound if there is none."""
    with studio.act() as session:
        session.delete(_row(session, part_id))


def _title_of(text: str) -> str:
    """What a part is called. Raises BadNotation if the text is no part."""
    return check_part_text(text).title or NO_TITLE


def _query() -> Select[*tuple[Any, ...]]:
    """Parts with the names of those whose they are."""
    return select(PartRow, Player.name).outerjoin(Player, PartRow.player_id == Player.id)


def _row(session: Session, part_id: int) -> PartRow:
    row = session.get(PartRow, part_id)
    if row is None:
        raise _no_part(part_id)
    return row


def _no_part(part_id: int) -> NotFound:
    return NotFound(f"there is no part {part_id} in this studio: go on from the page Parts")
