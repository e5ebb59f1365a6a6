"""Takes of parts: which part a take was of, whether it changed since, and the takes of one part.

What a part asked when the take was filed is kept with the take, so an old take is never compared
with a newer text.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from sqlalchemy import func, select

from loosehand.errors import BadNotation
from loosehand.judge.part_heard import hear_accents
from loosehand.judge.part_to_hear import PartToHear, part_to_hear
from loosehand.parts.text import parse_part
from loosehand.studio.database import Studio
from loosehand.studio.models import Day, Player, Round, Take
from loosehand.studio.models import Part as PartRow
from loosehand.studio.part_take_words import drive_in_words
from loosehand.studio.take_sheet import TakeSheet, load_take

__all__ = [
    "PartTake",
    "TakenPart",
    "TakesOfPart",
    "accents_in_words",
    "part_of_take",
    "takes_of_part",
]

PartNow = Literal["same", "changed", "deleted"]


@dataclass(frozen=True)
class TakenPart:
    """The part that a take was of.

    Attributes
    ----------
    part_id : its number, None once it is deleted
    asked : what it asked of the limb when the take was filed
    now : whether it still asks the same of the limb
    """

    part_id: int | None
    asked: PartToHear
    now: PartNow


@dataclass(frozen=True)
class PartTake:
    """A take as it stands in the list of its part.

    Attributes
    ----------
    take_id : its number
    day, player, limb, tempo_bpm : when, who, which limb, how fast
    technique : as the player said it, None where nothing was said
    count_held, counts : the number that stands, None where there is none, and counts asked
    accents : how many came of those due, and what else of them, or why they are not told
    drive : how the drive was heard, in a few words; may be empty
    """

    take_id: int
    day: date
    player: str
    limb: str
    tempo_bpm: float
    technique: str | None
    count_held: int | None
    counts: int
    accents: str
    drive: str


@dataclass(frozen=True)
class TakesOfPart:
    """The last takes of a part by one player, the last first, and how many there are in all."""

    takes: tuple[PartTake, ...]
    in_all: int


def part_of_take(studio: Studio, take_id: int) -> TakenPart | None:
    """Find the part that a take was of; None where it was of none."""
    query = (
        select(Take.part_asked, Take.part_version, PartRow.id, PartRow.version, PartRow.text)
        .outerjoin(PartRow, Take.part_id == PartRow.id)
        .where(Take.id == take_id)
    )
    with studio.look() as session:
        found = session.execute(query).first()
    if found is None or found[0] is None:
        return None
    stored, version_then, part_id, version, text = found
    asked = PartToHear.from_json(stored)
    if part_id is None:
        return TakenPart(None, asked, "deleted")
    is_same = version == version_then or _asks_the_same(text, asked)
    return TakenPart(part_id, asked, "same" if is_same else "changed")


def takes_of_part(studio: Studio, part_id: int, *, player: str, most: int) -> TakesOfPart:
    """List one player's takes of a part: no page shows those of several beside each other.

    Parameters
    ----------
    studio : the studio
    part_id : number of the part
    player : whose takes
    most : how many are listed; each is read in whole
    """
    query = (
        select(Take.id, Take.part_asked)
        .join(Round, Take.round_id == Round.id)
        .join(Day, Round.day_id == Day.id)
        .join(Player, Day.player_id == Player.id)
        .where(Take.part_id == part_id, Player.name == player)
    )
    last = query.order_by(Day.date.desc(), Take.id.desc()).limit(most)
    with studio.look() as session:
        found = session.execute(last).all()
        in_all = session.scalar(select(func.count()).select_from(query.subquery())) or 0
    takes = (
        _listed(load_take(studio, number), PartToHear.from_json(asked)) for number, asked in found
    )
    return TakesOfPart(tuple(takes), in_all)


def accents_in_words(sheet: TakeSheet, asked: PartToHear) -> str:
    """Tell in a few words which accents of a take came, or why they are not told.

    Missed, unasked and doubtful ones are told where there are some, so that two takes can be
    compared.

    Parameters
    ----------
    sheet : of the take
    asked : what it was heard against
    """
    if not asked.has_accents:
        return "asked on every stroke" if asked.accents else "none asked for"
    if sheet.body is None:
        return "not read yet"
    if sheet.count_held is None:
        return "not judged"
    found = hear_accents(sheet.body, asked, count_held=sheet.count_held)
    if found is None:
        return "cannot be told"
    told = f"{found.hits} of {found.due}" if found.due else "none due before the break"
    told += f", {found.false_accents} unasked" if found.false_accents else ""
    return told + (f", {found.untold_places.size} not told" if found.untold_places.size else "")


def _asks_the_same(text: str, asked: PartToHear) -> bool:
    """Whether a text asks of the limb what was asked then."""
    try:
        return part_to_hear(parse_part(text), asked.limb).asks_as(asked)
    except BadNotation:
        return False


def _listed(sheet: TakeSheet, asked: PartToHear) -> PartTake:
    """A take in a line."""
    return PartTake(
        take_id=sheet.take_id,
        day=sheet.place.day,
        player=sheet.place.player,
        limb=asked.limb,
        tempo_bpm=sheet.tags.tempo_bpm,
        technique=sheet.tags.technique,
        count_held=sheet.count_held,
        counts=sheet.tags.counts,
        accents=accents_in_words(sheet, asked),
        drive="" if sheet.body is None else drive_in_words(sheet.body, asked),
    )
