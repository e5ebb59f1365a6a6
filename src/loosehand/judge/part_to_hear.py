"""What of a part a take can be heard against: one limb's places, its accents, the bars.

The click counts the beat of the part's tempo, and the first place of count 1 is the first of the
part. A hold is judged where every place is played, so only the beginning of a part can be heard in
which the limb leaves out no place, at one tempo and on one grid, played straight. The click goes on
over bars that are no whole number of its counts, as 7/8 against quarters, and falls elsewhere in
the bar after them, on a place all the same. A part that begins with a pick-up of a piece of a count
is refused: its count 1 would be that of the pick-up, not of the tune. Each place has a class:
instrument, ghost note or not, and dynamic, for strokes of one class ought to sound alike but for
their accents. Source: ours.
"""

from dataclasses import asdict, dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation, InputError
from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.part import DYNAMICS, LIMBS, Limb, Part, bars_in_all
from loosehand.parts.unroll import INSTRUMENT_NAMES, UnrolledPart, unrolled

__all__ = ["LevelClass", "PartToHear", "limb_named", "part_to_hear"]

IntArray = NDArray[np.int64]
Json = dict[str, Any]

_FEWEST_PLACES = 16
_MOST_PLACES_A_COUNT = 12
_MOST_PLACES = 40_000
"""More than any take holds: seven minutes at 400 counts of twelve."""


@dataclass(frozen=True)
class LevelClass:
    """Strokes that a part wants alike in level, but for their accents.

    Attributes
    ----------
    instrument : what is struck
    ghost : whether they are ghost notes
    dynamic : how loud the section is
    """

    instrument: str
    ghost: bool
    dynamic: str


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
    last_bar_places : places of the last bar that is heard, as the part has it; 0 where that was not
        kept
    classes : of these places, each once; empty where they were not kept
    class_of_place : number of each place's class; an accent has the class of plain strokes
    """

    title: str
    limb: Limb
    tempo_bpm: float
    places_per_count: int
    places: int
    accents: tuple[int, ...]
    bar_starts: tuple[int, ...]
    bars: int
    last_bar_places: int = 0
    classes: tuple[LevelClass, ...] = ()
    class_of_place: tuple[int, ...] = ()

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
        """Whether the part is heard to the end of its last bar."""
        return len(self.bar_starts) == self.bars and not self.is_last_bar_cut

    @property
    def is_last_bar_cut(self) -> bool:
        """Whether only the beginning of the last bar is heard that is heard at all."""
        return self.bar_starts[-1] + self.last_bar_places > self.places

    @property
    def ghosts(self) -> tuple[int, ...]:
        """Places that ought to be ghost notes, from 0, in order; none where that was not kept."""
        ghost = [each.ghost for each in self.classes]
        return tuple(place for place, each in enumerate(self.class_of_place) if ghost[each])

    @cached_property
    def accented(self) -> NDArray[np.bool_]:
        """Whether each place ought to be accented, shape (places,)."""
        return np.isin(np.arange(self.places), self.accents)

    @cached_property
    def level_class(self) -> IntArray:
        """Number of each place's class, one for all where none were kept, shape (places,)."""
        if not self.class_of_place:
            return np.zeros(self.places, dtype=np.int64)
        return np.array(self.class_of_place, dtype=np.int64)

    @cached_property
    def bar_of_place(self) -> IntArray:
        """Bar of the tune of each place, from 1, shape (places,)."""
        starts = np.array(self.bar_starts)
        return np.searchsorted(starts, np.arange(self.places), side="right").astype(np.int64)

    def asks_as(self, other: "PartToHear") -> bool:
        """Whether both ask a limb for the same, whatever the parts are called, at any tempo.

        Classes of places are compared where both have kept them.
        """

        def asked(part: PartToHear) -> tuple[Any, ...]:
            return (part.limb, part.places_per_count, part.places, part.accents, part.bar_starts)

        def levels(part: PartToHear) -> tuple[LevelClass, ...]:
            return tuple(part.classes[each] for each in part.class_of_place)

        if asked(self) != asked(other):
            return False
        return not (self.classes and other.classes) or levels(self) == levels(other)

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
            "last_bar_places": self.last_bar_places,
            "classes": [asdict(each) for each in self.classes],
            "class_of_place": list(self.class_of_place),
        }

    @classmethod
    def from_json(cls, stored: Json) -> "PartToHear":
        """Return it from what is stored; one without classes was stored before they were kept.

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
                last_bar_places=_whole(stored.get("last_bar_places", 0)),
                classes=tuple(_class_of(each) for each in stored.get("classes", [])),
                class_of_place=tuple(_whole(each) for each in stored.get("class_of_place", [])),
            )
        except (AttributeError, KeyError, TypeError, ValueError) as error:
            raise InputError(f"this is not what a part asks of a limb: {error}") from error
        if not _adds_up(found):
            raise InputError(
                "what a part asks of a limb does not add up: places, accents, bars, classes"
            )
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
    BadNotation   if the part changes tempo or grid, is swung, or begins with a pick-up of a piece
        of a count, or if the limb leaves out a place soon
    """
    per_count = _places_per_count(part)
    tune = unrolled(part)
    _check_start(tune, part)
    own = tune.limb == LIMBS.index(limb)
    a_place = float(per_count / part.beat)
    filled = _filled(np.rint(tune.position[own] * a_place).astype(np.int64))
    places = min(filled, _MOST_PLACES) // per_count * per_count
    if places < _FEWEST_PLACES:
        in_all = round(float(tune.bar_length.sum()) * a_place)
        raise BadNotation(_too_few(limb, filled, places, in_all))
    bar = tune.bar[own][:places]
    starts = np.flatnonzero(np.diff(bar, prepend=-1))
    classes, class_of_place = _level_classes(tune, np.flatnonzero(own)[:places])
    return PartToHear(
        title=part.title,
        limb=limb,
        tempo_bpm=float(part.tempo_bpm),
        places_per_count=per_count,
        places=places,
        accents=tuple(np.flatnonzero(tune.accent[own][:places]).tolist()),
        bar_starts=tuple(starts.tolist()),
        bars=bars_in_all(part),
        last_bar_places=round(float(tune.bar_length[bar[-1]]) * a_place),
        classes=classes,
        class_of_place=class_of_place,
    )


def _check_start(tune: UnrolledPart, part: Part) -> None:
    """Refuse a pick-up that holds a piece of a count.

    A pick-up is a first bar shorter than half of the second, or shorter than it and than a count.

    Raises
    ------
    BadNotation   then
    """
    first, *rest = (Fraction(each).limit_denominator(10_000) for each in tune.bar_length[:2])
    counts = first / part.beat
    is_pick_up = bool(rest) and (2 * first < rest[0] or (first < rest[0] and counts < 1))
    if is_pick_up and counts.denominator > 1:
        raise BadNotation(
            f"the part begins with a pick-up of {counts} {'counts' if counts > 1 else 'of a count'}"
            ", and the click would lie between its places: want a part that begins on a count, so "
            "leave the pick-up out of the text and of the recording"
        )


def _too_few(limb: Limb, filled: int, places: int, in_all: int) -> str:
    """Say that a limb plays too few places to be heard."""
    if filled == in_all:
        where = f"has {filled} strokes in all"
    elif filled:
        where = f"leaves out a place after {filled} of them"
    else:
        where = "leaves out the first place"
    whole = f", {places} in whole counts" if filled >= _FEWEST_PLACES else ""
    return (
        f"the {limb} {where}{whole}: want a part in which it begins with {_FEWEST_PLACES} strokes "
        "or more in whole counts and none left out"
    )


def _level_classes(
    tune: UnrolledPart, own: IntArray
) -> tuple[tuple[LevelClass, ...], tuple[int, ...]]:
    """Classes of some strokes, and the number of each stroke's."""
    dynamics = [DYNAMICS.index(section.dynamic) for section in tune.sections]
    of_stroke = np.column_stack(
        [
            tune.instrument[own],
            tune.ghost[own],
            np.array(dynamics, dtype=np.int64)[tune.bar_section[tune.bar[own]]],
        ]
    )
    found, number = np.unique(of_stroke, axis=0, return_inverse=True)
    classes = tuple(
        LevelClass(INSTRUMENT_NAMES[instrument], bool(ghost), DYNAMICS[dynamic])
        for instrument, ghost, dynamic in found.tolist()
    )
    return classes, tuple(number.reshape(-1).tolist())


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


def _class_of(stored: Any) -> LevelClass:
    """Class of a stored object. Raises KeyError, TypeError, ValueError."""
    found = LevelClass(stored["instrument"], stored["ghost"], stored["dynamic"])
    if found.instrument not in INSTRUMENTS or found.dynamic not in DYNAMICS:
        raise ValueError("a class has an instrument or a dynamic that is not known")
    if type(found.ghost) is not bool:
        raise TypeError("a class says neither true nor false of ghost notes")
    return found


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
        and _classes_add_up(asked)
    )


def _classes_add_up(asked: PartToHear) -> bool:
    """Whether every place has a class, or none, and the last bar ends where it may."""
    numbers, last = asked.class_of_place, asked.places - asked.bar_starts[-1]
    if bool(numbers) != bool(asked.classes) or len(numbers) not in (0, asked.places):
        return False
    known = all(0 <= number < len(asked.classes) for number in numbers)
    return known and (asked.last_bar_places == 0 or asked.last_bar_places >= last)
