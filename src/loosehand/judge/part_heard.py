"""A take heard against a part: which of the part's accents came, and where they did not.

Only strokes before the break count, and only as far as the part goes. Source: ours.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import EvidenceError
from loosehand.judge.accents import AccentsHeard, accents_heard
from loosehand.judge.evenness import HeldStrokes
from loosehand.judge.part_to_hear import PartToHear

__all__ = ["PartHeard", "hear_part", "part_json"]

Json = dict[str, Any]
IntArray = NDArray[np.int64]

_MOST_BARS_NAMED = 6
_FURTHEST_START_COUNTS = 8
_PLAINLY_BETTER_DB = 3.0
"""By how much more accents must stand out at another start to ask about it. Ours, chosen."""


@dataclass(frozen=True)
class PartHeard:
    """A take against a part.

    Attributes
    ----------
    asked : what it was heard against
    held_places : places of the part before the break
    played : those of them on which a stroke was heard, in order
    accents : against the map, or None where they cannot be told
    told : all of it in a sentence or two
    """

    asked: PartToHear
    held_places: int
    played: IntArray
    accents: AccentsHeard | None
    told: str


def hear_part(body: Json, asked: PartToHear, *, count_held: int | None) -> PartHeard:
    """Hear a take against a part.

    Parameters
    ----------
    body : the reading as JSON, heard at the part's places a count
    asked : what the part asks of the limb
    count_held : counts before the break, as they stand; None where the take was not judged

    Returns
    -------
    heard : PartHeard
    """
    held = _held(body, asked, count_held=count_held or 0)
    accents: AccentsHeard | None = None
    if not asked.has_accents:
        told = _no_accents(asked)
    else:
        try:
            accents = accents_heard(held, asked.accents, asked.places)
            told = _sentence(accents, asked) + _other_start(held, accents, asked)
        except EvidenceError as error:
            told = f"Accents cannot be told yet: {error}."
    places = min((count_held or 0) * asked.places_per_count, asked.places)
    return PartHeard(asked, places, held.place_index, accents, told)


def part_json(heard: PartHeard) -> Json:
    """What was heard of a part, as ``part`` of the object that is printed of a reading."""
    asked, found = heard.asked, heard.accents
    return {
        "title": asked.title,
        "limb": asked.limb,
        "accents": None if found is None else _accents(found, asked),
        "told": heard.told,
    }


def _held(body: Json, asked: PartToHear, *, count_held: int) -> HeldStrokes:
    """Strokes on the part's places before the break."""
    per_count = body["places_per_count"]
    last = min(count_held * per_count, asked.places)
    placed = _placed(body["strokes"], per_count)
    own = [(place, stroke) for place, stroke in placed if place < last]
    return HeldStrokes(
        place_index=np.array([place for place, _ in own], dtype=np.int64),
        time_s=np.array([stroke["time_s"] for _, stroke in own], dtype=float),
        asynchrony_s=np.array([stroke["asynchrony_ms"] for _, stroke in own], dtype=float) / 1e3,
        level_db=np.array([stroke["level_db"] for _, stroke in own], dtype=float),
        places_per_count=per_count,
        place_s=60.0 / body["tempo_bpm"] / per_count if body["tempo_bpm"] else 0.0,
    )


def _placed(strokes: list[Json], per_count: int) -> list[tuple[int, Json]]:
    """Strokes that have a place, with its number over the whole take, in order."""
    found = [
        ((stroke["count"] - 1) * per_count + stroke["place"], stroke)
        for stroke in strokes
        if stroke["count"] is not None
    ]
    return sorted(found, key=lambda pair: pair[0])


def _accents(found: AccentsHeard, asked: PartToHear) -> Json:
    return {
        "due": found.due,
        "hits": found.hits,
        "misses": found.misses,
        "false_accents": found.false_accents,
        "contrast_db": None if found.contrast_db is None else round(found.contrast_db, 2),
        "missed_places": found.missed_places.tolist(),
        "missed_bars": asked.bar_of_place[found.missed_places].tolist(),
        "false_places": found.false_places.tolist(),
        "note": found.note,
    }


def _no_accents(asked: PartToHear) -> str:
    """Say why no accents are compared."""
    if asked.accents:
        return (
            f"The part asks for an accent on every stroke of the {asked.limb}: none are compared."
        )
    return f"The part asks for no accents of the {asked.limb}, so none are compared."


def _other_start(held: HeldStrokes, found: AccentsHeard, asked: PartToHear) -> str:
    """Ask whether the part began on another count, where its accents would fit there only."""
    if 2 * found.hits >= found.due:
        return ""
    reach = _FURTHEST_START_COUNTS
    shifts = sorted(range(-reach, reach + 1), key=abs)
    standing_out = [_standing_out_db(held, asked, later=counts) for counts in shifts]
    best = int(np.argmax(standing_out))
    if not standing_out[best] - standing_out[0] >= _PLAINLY_BETTER_DB:
        return ""
    counts = abs(shifts[best])
    way = "later" if shifts[best] > 0 else "earlier"
    return (
        f" They would fit if the part began {counts} {'count' if counts == 1 else 'counts'} {way} "
        "than was heard: if it did, the recording must begin there."
    )


def _standing_out_db(held: HeldStrokes, asked: PartToHear, *, later: int) -> float:
    """How far the strokes on accents stand above the others if the part began so much later."""
    place = held.place_index - later * asked.places_per_count
    inside = (place >= 0) & (place < asked.places)
    accented = np.isin(place[inside], asked.accents)
    level_db = held.level_db[inside]
    if accented.sum() < 2 or (~accented).sum() < 2:
        return -np.inf
    return float(level_db[accented].mean() - level_db[~accented].mean())


def _sentence(found: AccentsHeard, asked: PartToHear) -> str:
    if not found.due:
        return f"Accents of the {asked.limb}: none was due before the break."
    if found.note is not None:
        return f"Accents of the {asked.limb}: {found.note}"
    told = f"Accents of the {asked.limb}: {found.hits} of {found.due} came"
    if found.false_accents:
        told += f", {found.false_accents} came unasked"
    told += f", {found.contrast_db:.1f} dB above the rest."
    return told + _missed_bars(asked.bar_of_place[found.missed_places].tolist(), asked)


def _missed_bars(bars: list[int], asked: PartToHear) -> str:
    """Say in which bars accents were missed, a bar named once for each."""
    times = Counter(bars)
    if not times:
        return ""
    if len(times) <= _MOST_BARS_NAMED:
        *first, last = (str(bar) for bar in sorted(times))
        named = f"bars {', '.join(first)} and {last}" if first else f"bar {last}"
        return f" Missed in {named}."
    worst, most = max(times.items(), key=lambda pair: (pair[1], -pair[0]))
    told = f" Missed in {len(times)} of {len(asked.bar_starts)} bars"
    return told + (f", most in bar {worst}." if most > 1 else ".")
