"""A take heard against a part: which of the part's accents came, and what is off besides.

Only strokes before the break count, and only as far as the part goes. The technique is told again
with the level that the part asks for taken off, and the main fault is that of a take of this part.
Source: ours.
"""

from collections import Counter
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import EvidenceError
from loosehand.judge.accents import (
    LEAST_CONTRAST_DB,
    LEAST_OF_A_CLASS,
    AccentsHeard,
    accents_heard,
    level_as_asked,
    tells_of_accents,
)
from loosehand.judge.evenness import HeldStrokes
from loosehand.judge.main_fault import MainFault
from loosehand.judge.part_fault import (
    ACCENT_FAULT_KINDS,
    accents_fault,
    larger_fault,
    spread_of_plain_db,
)
from loosehand.judge.part_to_hear import PartToHear
from loosehand.judge.technique import TechniqueHeard, hear_technique
from loosehand.judge.technique_json import main_fault_json, technique_json
from loosehand.parts.techniques import CURES

__all__ = ["PartHeard", "hear_accents", "hear_part", "part_json"]

Json = dict[str, Any]
IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

_MOST_BARS_NAMED = 6
_FURTHEST_START_COUNTS = 8
_PLAINLY_BETTER_DB = 3.0
"""By how much more accents must stand out at another start to ask about it. Ours, chosen."""
_PLAINLY_ERRORS = 4.0
"""Standard errors by which they must stand out there at all, for some of the many starts always fit
even strokes by chance. Ours, chosen."""


@dataclass(frozen=True)
class PartHeard:
    """A take against a part.

    Attributes
    ----------
    asked : what it was heard against
    held_places : places of the part before the break
    played : those of them on which a stroke was heard, in order
    accents : against the map, or None where they cannot be told
    told : of the accents, in a sentence or two
    technique : with the level that the part asks for taken off; its main fault is left to the
        accents where that is the larger; None where nothing was judged
    main_fault : of accents or technique, or None
    """

    asked: PartToHear
    held_places: int
    played: IntArray
    accents: AccentsHeard | None
    told: str
    technique: TechniqueHeard | None
    main_fault: MainFault | None

    @property
    def cure(self) -> str | None:
        """What to try where the accents are the main fault, else None."""
        main = self.main_fault
        return None if main is None or not _is_of_accents(main) else CURES[main.kind]


@dataclass(frozen=True)
class _StandingOut:
    """How accents stand above plain strokes alike if the part began at some place.

    Attributes
    ----------
    height_db, error_db : how far, with its standard error
    explained : squares of the levels that this start explains, negative where they lie below
    """

    height_db: float
    error_db: float
    explained: float


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
    held, places = _held(body, asked, count_held=count_held)
    accents, told = _accents_told(held, asked, places)
    elsewhere = "" if accents is None else _elsewhere(held, accents, asked)
    technique, main = _against(held, asked, accents, weighed=not elsewhere)
    return PartHeard(asked, places, held.place_index, accents, told + elsewhere, technique, main)


def hear_accents(body: Json, asked: PartToHear, *, count_held: int | None) -> AccentsHeard | None:
    """Hear the accents of a take alone, as `hear_part` hears them; None where they cannot be told.

    Parameters
    ----------
    body, asked, count_held : as there
    """
    held, places = _held(body, asked, count_held=count_held)
    return _accents_told(held, asked, places)[0]


def part_json(heard: PartHeard) -> Json:
    """What was heard of a part, as ``part`` of the object that is printed of a reading."""
    asked, found, technique = heard.asked, heard.accents, heard.technique
    return {
        "title": asked.title,
        "limb": asked.limb,
        "accents": None if found is None else _accents(found, asked),
        "told": heard.told,
        "technique": None if technique is None else technique_json(technique),
        "main_fault": main_fault_json(heard.main_fault),
    }


def _accents_told(
    held: HeldStrokes, asked: PartToHear, held_places: int
) -> tuple[AccentsHeard | None, str]:
    """Accents against the map, None where they cannot be told, with a sentence."""
    if not asked.has_accents:
        return None, _no_accents(asked)
    if not _tells_of_any(asked):
        return None, (
            f"Accents of the {asked.limb} cannot be told: each is asked for where the part has "
            f"fewer than {LEAST_OF_A_CLASS} plain strokes alike."
        )
    try:
        accents = accents_heard(
            held,
            asked.accents,
            asked.places,
            held_places=held_places,
            level_class=asked.level_class,
        )
    except EvidenceError as error:
        return None, f"Accents cannot be told yet: {error}."
    return accents, _sentence(accents, asked)


def _tells_of_any(asked: PartToHear) -> bool:
    """Whether the part has plain strokes enough beside any of its accents."""
    return bool(tells_of_accents(asked.level_class, asked.accented)[asked.accented].any())


def _against(
    held: HeldStrokes, asked: PartToHear, accents: AccentsHeard | None, *, weighed: bool
) -> tuple[TechniqueHeard | None, MainFault | None]:
    """Technique told against the part, and the main fault, accents weighed with it or not."""
    if not held.place_index.size:
        return None, None
    accented = asked.accented[held.place_index]
    level_class = asked.level_class[held.place_index]
    asked_db = level_as_asked(
        held,
        asked=accented,
        came=_came(held, asked, accents),
        level_class=level_class,
    )
    technique = hear_technique(held, asked_db=asked_db)
    fault = None
    if accents is not None and weighed:
        spread_db = spread_of_plain_db(held.level_db[~accented], level_class[~accented])
        fault = accents_fault(accents, spread_db=spread_db)
    main = larger_fault(technique.main_fault, fault, place_ms=1e3 * held.place_s)
    if main is not None and _is_of_accents(main):
        technique = replace(technique, main_fault=None, doubtful_fault=None)
    return technique, main


def _came(held: HeldStrokes, asked: PartToHear, accents: AccentsHeard | None) -> NDArray[np.bool_]:
    """Which strokes are accents, shape (strokes,).

    Where none are told, those asked for, if they are louder at all: then their level is the part's.
    """
    if accents is not None and accents.contrast_db is not None:
        told = np.concatenate([accents.hit_places, accents.false_places])
        return np.isin(held.place_index, told)
    is_louder = _standing_out(held, asked, later=0).height_db > 0.0
    return asked.accented[held.place_index] & is_louder


def _is_of_accents(fault: MainFault) -> bool:
    return fault.kind in ACCENT_FAULT_KINDS


def _held(body: Json, asked: PartToHear, *, count_held: int | None) -> tuple[HeldStrokes, int]:
    """Strokes on the part's places before the break, and how many places that are."""
    per_count = asked.places_per_count
    last = min((count_held or 0) * per_count, asked.places)
    placed = _placed(body["strokes"], per_count)
    own = [(place, stroke) for place, stroke in placed if place < last]
    held = HeldStrokes(
        place_index=np.array([place for place, _ in own], dtype=np.int64),
        time_s=np.array([stroke["time_s"] for _, stroke in own], dtype=float),
        asynchrony_s=np.array([stroke["asynchrony_ms"] for _, stroke in own], dtype=float) / 1e3,
        level_db=np.array([stroke["level_db"] for _, stroke in own], dtype=float),
        places_per_count=per_count,
        place_s=60.0 / body["tempo_bpm"] / per_count if body["tempo_bpm"] else 0.0,
    )
    return held, last


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
        "untold": int(found.untold_places.size),
        "contrast_db": None if found.contrast_db is None else round(found.contrast_db, 2),
        "missed_places": found.missed_places.tolist(),
        "missed_bars": asked.bar_of_place[found.missed_places].tolist(),
        "false_places": found.false_places.tolist(),
        "untold_places": found.untold_places.tolist(),
        "note": found.note,
    }


def _no_accents(asked: PartToHear) -> str:
    """Say why no accents are compared."""
    if asked.accents:
        return (
            f"The part asks for an accent on every stroke of the {asked.limb}: none are compared."
        )
    return f"The part asks for no accents of the {asked.limb}, so none are compared."


def _elsewhere(held: HeldStrokes, found: AccentsHeard, asked: PartToHear) -> str:
    """Say where the accents would fit, if not where they are asked for; else nothing.

    Tried are other counts, on which the part may have begun, and other places of the count, on
    which the accents may lie or a faint click may have been heard.
    """
    if 2 * found.hits >= found.due:
        return ""
    per_count = asked.places_per_count
    counts = range(-_FURTHEST_START_COUNTS, _FURTHEST_START_COUNTS + 1)
    shifts = {per_count * each for each in counts} | set(range(1 - per_count, per_count))
    tried = sorted(shifts, key=abs)
    standing_out = [_standing_out(held, asked, later=places) for places in tried]
    best = int(np.argmax([each.explained for each in standing_out]))
    here, there = standing_out[0], standing_out[best]
    if there.height_db < max(LEAST_CONTRAST_DB, _PLAINLY_ERRORS * there.error_db):
        return ""
    if not _PLAINLY_BETTER_DB <= there.height_db - here.height_db < np.inf:
        return ""
    way = "later" if tried[best] > 0 else "earlier"
    count, place = divmod(abs(tried[best]), per_count)
    if place:
        return (
            f" They would fit {place} {'place' if place == 1 else 'places'} {way} than the part "
            "has them: they were played there, or the click was heard off by as much."
        )
    return (
        f" They would fit if the part began {count} {'count' if count == 1 else 'counts'} {way} "
        "than was heard: if it did, the recording must begin there."
    )


def _standing_out(held: HeldStrokes, asked: PartToHear, *, later: int) -> _StandingOut:
    """How far accents stand above plain strokes alike if the part began so many places later.

    Of a start with fewer than two of either kind nothing can be said: it stands out least of all.
    """
    place = held.place_index - later
    inside = (place >= 0) & (place < asked.places)
    accented, level_db = asked.accented[place[inside]], held.level_db[inside]
    level_class = asked.level_class[place[inside]]
    heights_db, errors_db, weights, explained = [], [], [], 0.0
    for each in np.unique(level_class):
        own = level_class == each
        up, down = level_db[own & accented], level_db[own & ~accented]
        if up.size >= 2 and down.size >= 2:
            around = np.concatenate([up - up.mean(), down - down.mean()])
            per_stroke = 1.0 / up.size + 1.0 / down.size
            heights_db.append(float(up.mean() - down.mean()))
            errors_db.append(float(around.std()) * np.sqrt(per_stroke))
            weights.append(min(up.size, down.size))
            explained += heights_db[-1] * abs(heights_db[-1]) / per_stroke
    if not weights:
        return _StandingOut(-np.inf, np.inf, -np.inf)
    share = np.array(weights) / sum(weights)
    error_db = float(np.sqrt(share**2 @ np.square(errors_db)))
    return _StandingOut(float(share @ heights_db), error_db, explained)


def _sentence(found: AccentsHeard, asked: PartToHear) -> str:
    """Say how many accents came, where they did not, and which cannot be told."""
    begin = f"Accents of the {asked.limb}: "
    if not found.due:
        return f"{begin}none was due before the break.{_untold(found, asked)}"
    if found.note is not None:
        return f"{begin}{found.note}{_untold(found, asked)}"
    told = f"{begin}{found.hits} of {found.due} came"
    if found.false_accents:
        told += f", {found.false_accents} came unasked"
    told += f", {found.contrast_db:.1f} dB above the rest."
    missed = _missed_bars(asked.bar_of_place[found.missed_places].tolist(), asked)
    return f"{told}{missed}{_untold(found, asked)}"


def _untold(found: AccentsHeard, asked: PartToHear) -> str:
    """Say how many accents cannot be told, and of which instruments."""
    number = found.untold_places.size
    if not number:
        return ""
    of_place = asked.level_class[found.untold_places]
    struck = sorted({asked.classes[each].instrument for each in of_place.tolist()})
    return (
        f" {number} more, on {' and '.join(struck)}, cannot be told: fewer than {LEAST_OF_A_CLASS} "
        "plain strokes alike were heard."
    )


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
