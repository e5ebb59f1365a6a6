"""Exact places of a grid: meters, subdivisions, groupings, tempo maps.

Positions are fractions of a whole note, so that no subdivision, however odd, gathers
rounding error. Seconds appear only where a tempo is applied, and are fractions there too;
they turn into floats in ``to_float_s`` alone.
"""

import itertools
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from loosehand.errors import BadNotation, BadTempo

__all__ = [
    "SUBDIVISIONS",
    "Meter",
    "Place",
    "TempoChange",
    "TempoMap",
    "places_of_bar",
    "steady_tempo",
    "strokes_per_second",
    "to_float_s",
]

SUBDIVISIONS: dict[str, int] = {
    "quarters": 1,
    "eighths": 2,
    "triplets": 3,
    "sixteenths": 4,
    "quintuplets": 5,
    "sextuplets": 6,
    "32nds": 8,
}
"""Places in a quarter note, by the name of the subdivision."""

TEMPO_LIMITS_BPM = (Fraction(10), Fraction(500))


@dataclass(frozen=True)
class Meter:
    """A meter with its counts grouped.

    Attributes
    ----------
    grouping : units in each count, in order: (1, 1, 1, 1) for 4/4 counted in quarters,
        (2, 2, 3) for 7/8 counted in three
    unit : the note value of a unit as the lower figure of the signature (4, 8, 16)

    Raises
    ------
    BadNotation    if a group is not a whole number of units, or the unit is no note value

    Examples
    --------
    >>> Meter((2, 2, 3), 8).signature
    '7/8'
    >>> Meter((1, 1, 1, 1), 4).bar_length
    Fraction(1, 1)
    """

    grouping: tuple[int, ...]
    unit: int

    def __post_init__(self) -> None:
        """Refuse what is no meter."""
        if not self.grouping or any(group < 1 for group in self.grouping):
            raise BadNotation(
                f"grouping = {self.grouping}: each count needs one unit or more, as in (2, 2, 3)"
            )
        if self.unit not in (1, 2, 4, 8, 16, 32):
            raise BadNotation(f"unit = {self.unit}: want one of 1, 2, 4, 8, 16, 32")

    @property
    def signature(self) -> str:
        """The time signature as it is read."""
        return f"{sum(self.grouping)}/{self.unit}"

    @property
    def bar_length(self) -> Fraction:
        """Length of a bar in whole notes."""
        return Fraction(sum(self.grouping), self.unit)

    def count_starts(self) -> tuple[Fraction, ...]:
        """Start of each count in whole notes from the start of the bar."""
        starts, units = [], 0
        for group in self.grouping:
            starts.append(Fraction(units, self.unit))
            units += group
        return tuple(starts)


@dataclass(frozen=True)
class Place:
    """One position of the grid.

    Attributes
    ----------
    count : count in the bar, from 1
    place : place in the count, from 0
    position : whole notes from the start of the bar
    """

    count: int
    place: int
    position: Fraction


def places_of_bar(meter: Meter, *, places_per_unit: int) -> tuple[Place, ...]:
    """All places of one bar.

    Parameters
    ----------
    meter : the meter, its counts grouped
    places_per_unit : places in one unit of the meter: 4 for sixteenths in 4/4, 2 for
        sixteenths in 7/8, 3 for triplets, 5 for quintuplets in 4/4

    Returns
    -------
    places : in order; a count of a longer group has more places

    Raises
    ------
    BadNotation    if there is less than one place in a unit

    Examples
    --------
    >>> len(places_of_bar(Meter((1, 1, 1, 1), 4), places_per_unit=4))
    16
    >>> [p.count for p in places_of_bar(Meter((2, 3), 8), places_per_unit=1)]
    [1, 1, 2, 2, 2]
    """
    if places_per_unit < 1:
        raise BadNotation(f"places_per_unit = {places_per_unit}: want 1 or more")
    step = Fraction(1, meter.unit * places_per_unit)
    return tuple(
        Place(count=count, place=place, position=start + place * step)
        for count, (start, group) in enumerate(
            zip(meter.count_starts(), meter.grouping, strict=True), start=1
        )
        for place in range(group * places_per_unit)
    )


@dataclass(frozen=True)
class TempoChange:
    """From ``position`` on, ``tempo_bpm`` counts of ``beat`` a minute.

    Attributes
    ----------
    position : whole notes from the start
    tempo_bpm : beats a minute
    beat : the note value that is counted, in whole notes (1/4, or 3/8 for a dotted quarter)
    """

    position: Fraction
    tempo_bpm: Fraction
    beat: Fraction

    @property
    def whole_note_s(self) -> Fraction:
        """Length of a whole note in seconds."""
        return Fraction(60) / (self.tempo_bpm * self.beat)


class TempoMap:
    """Position to seconds and back, exactly.

    Parameters
    ----------
    changes : tempo changes, the first at position 0, in order

    Raises
    ------
    BadTempo    if a tempo lies outside 10 to 500, or changes are out of order

    Examples
    --------
    >>> steady_tempo(Fraction(104)).position_to_s(Fraction(1, 4))
    Fraction(15, 26)
    """

    def __init__(self, changes: Sequence[TempoChange]) -> None:
        if not changes or changes[0].position != 0:
            raise BadTempo("a tempo map starts with a tempo at position 0")
        low, high = TEMPO_LIMITS_BPM
        for change in changes:
            if not low <= change.tempo_bpm <= high:
                raise BadTempo(f"tempo_bpm = {change.tempo_bpm}: want {low} to {high}")
        starts = [change.position for change in changes]
        if any(late <= early for early, late in itertools.pairwise(starts)):
            raise BadTempo("tempo changes must be in order, each later than the one before")
        self._changes = tuple(changes)
        self._positions = starts
        self._seconds = list(self._change_times_s())

    def _change_times_s(self) -> Iterator[Fraction]:
        at_s = Fraction(0)
        yield at_s
        for change, following in zip(self._changes, self._changes[1:], strict=False):
            at_s += (following.position - change.position) * change.whole_note_s
            yield at_s

    def position_to_s(self, position: Fraction) -> Fraction:
        """Seconds from the start, for a position in whole notes (before 0 too)."""
        index = max(bisect_right(self._positions, position) - 1, 0)
        change = self._changes[index]
        return self._seconds[index] + (position - change.position) * change.whole_note_s

    def s_to_position(self, at_s: Fraction) -> Fraction:
        """Position in whole notes, for seconds from the start."""
        index = max(bisect_right(self._seconds, at_s) - 1, 0)
        change = self._changes[index]
        return change.position + (at_s - self._seconds[index]) / change.whole_note_s


def steady_tempo(tempo_bpm: Fraction, *, beat: Fraction = Fraction(1, 4)) -> TempoMap:
    """Tempo map of one tempo throughout."""
    return TempoMap([TempoChange(Fraction(0), tempo_bpm, beat)])


def strokes_per_second(tempo_bpm: Fraction, *, places_per_count: int) -> Fraction:
    """Strokes a second when every place is played.

    Examples
    --------
    >>> strokes_per_second(Fraction(105), places_per_count=4)
    Fraction(7, 1)
    """
    return tempo_bpm * places_per_count / 60


def to_float_s(times_s: Sequence[Fraction]) -> list[float]:
    """Exact seconds as floats: the one place where exactness ends."""
    return [float(at_s) for at_s in times_s]
