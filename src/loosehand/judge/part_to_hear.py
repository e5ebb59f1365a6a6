"""What of a part a take can be heard against: one limb's places, its accents, the bars.

The click counts the beat of the part's tempo, and the first place of count 1 is the first of the
part. A hold is judged where every place is played, so only the beginning of a part can be heard in
which the limb leaves out no place, at one tempo and on one grid, played straight. Source: ours.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation, InputError
from loosehand.parts.part import LIMBS, Limb, Part, bars_in_all
from loosehand.parts.unroll import unrolled

__all__ = ["PartToHear", "limb_named", "part_to_hear"]

IntArray = NDArray[np.int64]
Json = dict[str, Any]

_FEWEST_PLACES = 16
_MOST_PLACES_A_COUNT = 12
_MOST_PLACES = 40_000
"""More than any take holds: seven minutes at 400 counts of twelve."""


@dataclass(frozen=True)
class PartToHear:
    """What a take is heard against.

    Attributes
    ----------
    title, limb : of the part, and which of its limbs
    tempo_bpm : counts a minute, of the beat that the part's tempo counts
    places_per_count : places in one of these counts
    places : of the part from its beginning on, as far as the limb fills whole counts of them
    accents : places that ought to be accented, from 0, in order
    bar_starts : place at which each bar of these places begins, the first of them 0
    bars : of the whole part
    """

    title: str
    limb: Limb
    tempo_bpm: float
    places_per_count: int
    places: int
    accents: tuple[int, ...]
    bar_starts: tuple[int, ...]
    bars: int

    @property
    def counts(self) -> int:
        """Counts of these places."""
        return self.places // self.places_per_count

    @property
    def has_accents(self) -> bool:
        """Whether accents can be told: some places ask for one, and not all."""
        return 0 < len(self.accents) < self.places

    @property
    def is_whole(self) -> bool:
        """Whether the part is heard to its last bar."""
        return len(self.bar_starts) == self.bars

    @cached_property
    def bar_of_place(self) -> IntArray:
        """Bar of the tune of each place, from 1, shape (places,)."""
        starts = np.array(self.bar_starts)
        return np.searchsorted(starts, np.arange(self.places), side="right").astype(np.int64)

    def asks_as(self, other: "PartToHear") -> bool:
        """Whether both ask a limb for the same, whatever the parts are called, at any tempo."""

        def asked(part: PartToHear) -> tuple[Any, ...]:
            return (part.limb, part.places_per_count, part.places, part.accents, part.bar_starts)

        return asked(self) == asked(other)

    def to_json(self) -> Json:
        """Return it as it is stored."""
        return {
            "title": self.title,
            "limb": self.limb,
            "tempo_bpm": self.tempo_bpm,
            "places_per_count": self.places_per_count,
            "places": self.places,
            "accents": list(self.accents),
            "bar_starts": list(self.bar_starts),
            "bars": self.bars,
        }

    @classmethod
    def from_json(cls, stored: Json) -> "PartToHear":
        """Return it from what is stored.

        Raises
        ------
        InputError   if it is not what ``to_json`` writes
        """
        try:
            found = cls(
                title=str(stored["title"]),
                limb=limb_named(str(stored["limb"])),
                tempo_bpm=float(stored["tempo_bpm"]),
                places_per_count=_whole(stored["places_per_count"]),
                places=_whole(stored["places"]),
                accents=tuple(_whole(place) for place in stored["accents"]),
                bar_starts=tuple(_whole(place) for place in stored["bar_starts"]),
                bars=_whole(stored["bars"]),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise InputError(f"this is not what a part asks of a limb: {error}") from error
        if not _adds_up(found):
            raise InputError("what a part asks of a limb does not add up: places, accents, bars")
        return found


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
    BadNotation   if the part changes tempo or grid or is swung, or if the limb leaves out a place
        soon
    """
    per_count = _places_per_count(part)
    tune = unrolled(part)
    own = tune.limb == LIMBS.index(limb)
    place = np.rint(tune.position[own] * float(per_count / part.beat)).astype(np.int64)
    filled = _filled(place)
    if filled < _FEWEST_PLACES:
        where = f"a place after {filled} of them" if filled else "the first place"
        raise BadNotation(
            f"the {limb} leaves out {where}: want a part in which it begins with "
            f"{_FEWEST_PLACES} strokes or more and none left out"
        )
    places = min(filled, _MOST_PLACES) // per_count * per_count
    bar = tune.bar[own][:places]
    return PartToHear(
        title=part.title,
        limb=limb,
        tempo_bpm=float(part.tempo_bpm),
        places_per_count=per_count,
        places=places,
        accents=tuple(np.flatnonzero(tune.accent[own][:places]).tolist()),
        bar_starts=tuple(np.flatnonzero(np.diff(bar, prepend=-1)).tolist()),
        bars=bars_in_all(part),
    )


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
    per_count = int(grids.pop())
    if per_count > _MOST_PLACES_A_COUNT:
        raise BadNotation(
            f"the part has {per_count} places in a count: want {_MOST_PLACES_A_COUNT} at most"
        )
    return per_count


def _filled(place: IntArray) -> int:
    """How many places are filled from the first one on."""
    if not len(place) or place[0] != 0:
        return 0
    gaps = np.flatnonzero(np.diff(place) != 1)
    return int(gaps[0]) + 1 if len(gaps) else len(place)


def _whole(value: Any) -> int:
    """Whole number of a stored object. Raises TypeError."""
    if type(value) is not int:
        raise TypeError(f"{str(value)[:40]!r} is not a whole number")
    return value


def _adds_up(asked: PartToHear) -> bool:
    """Whether places, accents and bars of a stored object fit each other."""
    ordered = all(
        all(0 <= place < asked.places for place in each)
        and all(one < other for one, other in pairwise(each))
        for each in (asked.accents, asked.bar_starts)
    )
    return (
        ordered
        and asked.bar_starts[:1] == (0,)
        and 1 <= asked.places_per_count <= min(_MOST_PLACES_A_COUNT, asked.places)
        and asked.places <= _MOST_PLACES
        and len(asked.bar_starts) <= asked.bars
        and 0.0 < asked.tempo_bpm < 1e4
    )
