"""A take heard against a part: which of the part's accents came, and where they did not.

The click counts the beat of the part's tempo, and the first place of count 1 is the first of the
part. A hold is judged where every place is played, so only the beginning of a part can be heard in
which the limb leaves out no place, at one tempo and on one grid, played straight.
"""

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation, EvidenceError, InputError
from loosehand.judge import AccentsHeard, Reading, accents_heard
from loosehand.judge.evenness import HeldStrokes
from loosehand.parts.part import LIMBS, Limb, Part
from loosehand.parts.unroll import UnrolledPart, unrolled

__all__ = ["PartToHear", "accents_of_take", "limb_named", "part_to_hear"]

IntArray = NDArray[np.int64]
_FEWEST_PLACES = 16
_MOST_MISSED_BARS = 3


@dataclass(frozen=True)
class PartToHear:
    """What a take is heard against.

    Attributes
    ----------
    title, limb : of the part, and which of its limbs
    tempo_bpm : counts a minute, of the beat that the part's tempo counts
    places_per_count : places in one of these counts
    places : of the part from its beginning on, as far as the limb fills them all
    accents : int array, places that ought to be accented, from 0
    bar_of_place : int array, shape (places,), bar of the tune, from 1
    """

    title: str
    limb: Limb
    tempo_bpm: float
    places_per_count: int
    places: int
    accents: IntArray
    bar_of_place: IntArray


def limb_named(word: str) -> Limb:
    """Return a limb by its name. Raises InputError if there is no such."""
    for limb in LIMBS:
        if word.strip().casefold() == limb:
            return limb
    raise InputError(f"limb = {word[:40]!r} is not known; want {', '.join(LIMBS)}")


def part_to_hear(part: Part, limb: Limb) -> PartToHear:
    """Find what of a part a take can be heard against.

    Raises
    ------
    BadNotation   if the part changes tempo or grid or is swung, if the limb leaves out a place
        soon, or if no accent, or each stroke, is asked for
    """
    per_count = _places_per_count(part)
    tune = unrolled(part)
    own = tune.limb == LIMBS.index(limb)
    place = np.rint(tune.position[own] * float(per_count / part.beat)).astype(np.int64)
    places = _filled(place)
    if places < _FEWEST_PLACES:
        raise BadNotation(
            f"the {limb} leaves out a place after {places} of them: want a part in which it "
            f"begins with {_FEWEST_PLACES} strokes or more and none left out"
        )
    accents = np.flatnonzero(tune.accent[own][:places])
    if not 0 < len(accents) < places:
        raise BadNotation(
            f"the part asks for {len(accents)} accents in {places} strokes of the {limb}: "
            "want some, not all of them"
        )
    return PartToHear(
        title=part.title,
        limb=limb,
        tempo_bpm=float(part.tempo_bpm),
        places_per_count=per_count,
        places=places,
        accents=accents,
        bar_of_place=_bars(tune, own, places),
    )


def accents_of_take(reading: Reading, asked: PartToHear) -> dict[str, Any]:
    """Tell of a take's accents, as an object and a sentence.

    Parameters
    ----------
    reading : of the take, heard at the part's places a count
    asked : what it is heard against

    Returns
    -------
    told : ``title``, ``limb``, ``accents`` (null where they cannot be told), ``told`` in a sentence
    """
    about = {"title": asked.title, "limb": asked.limb}
    try:
        held = _held(reading, asked)
        found = accents_heard(held, tuple(asked.accents.tolist()), asked.places)
    except EvidenceError as error:
        return {**about, "accents": None, "told": f"Accents cannot be told yet: {error}."}
    return {**about, "accents": _accents(found, asked), "told": _sentence(found, asked)}


def _places_per_count(part: Part) -> int:
    """Places in one count of the click. Raises BadNotation where that changes or is none."""
    tempos = {section.tempo_bpm for section in part.sections} - {None, part.tempo_bpm}
    if tempos:
        raise BadNotation("the part changes its tempo, and a take is heard at one: want one tempo")
    if part.swing_percent != 50:
        raise BadNotation("the part is swung, and a take is heard on an even grid: want swing 50")
    grids = {
        bar.meter.unit * bar.places_per_unit * part.beat
        for section in part.sections
        for bar in section.bars
    }
    if len(grids) > 1 or min(grids) != int(min(grids)):
        told = ", ".join(str(Fraction(each)) for each in sorted(grids))
        raise BadNotation(
            f"the part has {told} places in a count: want one whole number throughout"
        )
    return int(grids.pop())


def _filled(place: IntArray) -> int:
    """How many places are filled from the first one on."""
    if not len(place) or place[0] != 0:
        return 0
    gaps = np.flatnonzero(np.diff(place) != 1)
    return int(gaps[0]) + 1 if len(gaps) else len(place)


def _bars(tune: UnrolledPart, own: NDArray[np.bool_], places: int) -> IntArray:
    return np.asarray(tune.bar[own][:places] + 1)


def _held(reading: Reading, asked: PartToHear) -> HeldStrokes:
    """Strokes on the part's places before the break."""
    places, grid = reading.places, reading.grid
    counts = reading.count_held or 0
    last = min(counts * reading.places_per_count, asked.places)
    index = np.flatnonzero((places.place_index >= 0) & (places.place_index < last))
    index = index[np.argsort(places.place_index[index], kind="stable")]
    return HeldStrokes(
        place_index=places.place_index[index],
        time_s=reading.strokes.time_s[index],
        asynchrony_s=places.asynchrony_s[index],
        level_db=reading.strokes.level_db[index],
        places_per_count=reading.places_per_count,
        place_s=0.0 if grid is None else grid.place_s,
    )


def _accents(found: AccentsHeard, asked: PartToHear) -> dict[str, Any]:
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


def _sentence(found: AccentsHeard, asked: PartToHear) -> str:
    if found.note is not None:
        return f"Accents of the {asked.limb}: {found.note}"
    told = f"Accents of the {asked.limb}: {found.hits} of {found.due} came"
    if found.false_accents:
        told += f", {found.false_accents} came unasked"
    told += f", {found.contrast_db:.1f} dB above the rest."
    bars = Counter(asked.bar_of_place[found.missed_places].tolist()).most_common(_MOST_MISSED_BARS)
    if bars:
        named = ", ".join(str(bar) for bar, _ in sorted(bars))
        told += f" Missed most in bar {named} of the tune."
    return told
