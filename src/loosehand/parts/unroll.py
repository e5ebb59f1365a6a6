"""A part played out: every stroke of the whole tune with its time, its section and its count.

Times are exact fractions until the end. ``played_strokes`` hands them out as such, one by one;
``unrolled`` does the same for arrays, in whole numbers over one denominator a section, and each
of its floats is the fraction rounded once.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import lcm
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation
from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.part import (
    LIMBS,
    MARKS,
    Bar,
    Limb,
    Mark,
    Part,
    check_part,
    count_and_place,
    place_positions,
)

__all__ = [
    "FIRST_DYNAMIC",
    "INSTRUMENT_NAMES",
    "MOST_STROKES",
    "PlayedSection",
    "PlayedStroke",
    "UnrolledPart",
    "played_sections",
    "played_strokes",
    "unrolled",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
ExactArray = NDArray[Any]

INSTRUMENT_NAMES = tuple(INSTRUMENTS)
"""Instruments in the order of their numbers in arrays."""
FIRST_DYNAMIC = "mf"
"""Dynamic before a section sets one."""
MOST_STROKES = 5_000_000
"""Strokes of the longest tune that is played out."""

_SWING_PARTS = 50
_EXACT = 2**53
_MOST_AT_ONCE = 100_000
"""Strokes timed together: fractions of many tempos are long numbers, so that a few do."""
_LIMB_NUMBER = {limb: number for number, limb in enumerate(LIMBS)}
_INSTRUMENT_NUMBER = {name: number for number, name in enumerate(INSTRUMENT_NAMES)}
_MARK_BIT = {"accent": 1, "ghost": 2, "flam": 4}
_MARKS_NUMBER = {
    marks: sum(map(_MARK_BIT.__getitem__, marks))
    for length in range(len(MARKS) + 1)
    for marks in combinations(MARKS, length)
}


@dataclass(frozen=True)
class PlayedSection:
    """A section as it comes in the tune.

    Attributes
    ----------
    name : as it is written
    first_bar : its first bar in the tune, from 0
    bars : bars with repeats played out
    start_s, end_s : when it begins and ends, exact
    tempo_bpm : the tempo that holds in it
    dynamic : the dynamic that holds in it
    """

    name: str
    first_bar: int
    bars: int
    start_s: Fraction
    end_s: Fraction
    tempo_bpm: Fraction
    dynamic: str


@dataclass(frozen=True)
class PlayedStroke:
    """One stroke of the tune, exactly.

    Attributes
    ----------
    time_s : seconds from the start of the tune
    bar : bar of the tune, from 0
    section : number of the section, from 0
    count, place : count from 1, and place of the count from 0
    limb, instrument, marks : as in the part
    dynamic : the dynamic that holds
    """

    time_s: Fraction
    bar: int
    section: int
    count: int
    place: int
    limb: Limb
    instrument: str
    marks: tuple[Mark, ...]
    dynamic: str


@dataclass(frozen=True)
class UnrolledPart:
    """All strokes of the tune in order of time, as arrays of equal length, and its bars.

    Attributes
    ----------
    time_s : float array, seconds from the start of the tune, swing applied
    position : float array, whole notes from the start, as written, without swing
    bar : bar of the tune, from 0
    bar_place : place in the bar, from 0
    count, count_place : count from 1, and place of the count from 0
    limb : number in LIMBS
    instrument : number in INSTRUMENT_NAMES
    accent, ghost, flam : the marks
    bar_start_s : float array, one longer than the bars: starts, and the end of the tune
    bar_length : float array, whole notes of each bar
    bar_section : number of each bar's section, from 0
    bar_of_section : each bar's number among the written bars of its section, from 0
    count_s : float array, when each count of the tune begins
    count_bar : bar of each count
    sections : in order
    """

    time_s: FloatArray
    position: FloatArray
    bar: IntArray
    bar_place: IntArray
    count: IntArray
    count_place: IntArray
    limb: IntArray
    instrument: IntArray
    accent: BoolArray
    ghost: BoolArray
    flam: BoolArray
    bar_start_s: FloatArray
    bar_length: FloatArray
    bar_section: IntArray
    bar_of_section: IntArray
    count_s: FloatArray
    count_bar: IntArray
    sections: tuple[PlayedSection, ...]

    @property
    def duration_s(self) -> float:
        """Length of the tune."""
        return float(self.bar_start_s[-1])


def played_sections(part: Part) -> tuple[PlayedSection, ...]:
    """Sections of a part with their times, exact."""
    start_s, first_bar = Fraction(0), 0
    tempo_bpm, dynamic = part.tempo_bpm, FIRST_DYNAMIC
    found: list[PlayedSection] = []
    for section in part.sections:
        tempo_bpm = tempo_bpm if section.tempo_bpm is None else section.tempo_bpm
        dynamic = section.dynamic or dynamic
        length = _length(section.bars) * section.times
        end_s = start_s + length * Fraction(60) / (tempo_bpm * part.beat)
        bars = len(section.bars) * section.times
        found.append(
            PlayedSection(section.name, first_bar, bars, start_s, end_s, tempo_bpm, dynamic)
        )
        start_s, first_bar = end_s, first_bar + bars
    return tuple(found)


def _length(bars: Sequence[Bar]) -> Fraction:
    """Whole notes of bars in a row."""
    often = Counter(bar.meter for bar in bars)
    return sum((meter.bar_length * times for meter, times in often.items()), Fraction(0))


def played_strokes(part: Part) -> Iterator[PlayedStroke]:
    r"""Strokes of the whole tune one by one, in order of time, with exact times.

    Examples
    --------
    >>> from loosehand.parts.text import parse_part
    >>> part = parse_part("tempo: 104\nmeter: 4/4\ngrid: 1\n[a] x2\nRF kick x.x.")
    >>> [str(stroke.time_s) for stroke in played_strokes(part)]
    ['0', '15/13', '30/13', '45/13']
    """
    check_part(part)
    for number, (section, played) in enumerate(
        zip(part.sections, played_sections(part), strict=True)
    ):
        whole_note_s = Fraction(60) / (played.tempo_bpm * part.beat)
        bar_start_s = played.start_s
        for index in range(played.bars):
            bar = section.bars[index % len(section.bars)]
            positions = place_positions(bar, swing_percent=part.swing_percent)
            for stroke in bar.strokes:
                count, place = count_and_place(bar, stroke.place)
                yield PlayedStroke(
                    bar_start_s + positions[stroke.place] * whole_note_s,
                    played.first_bar + index,
                    number,
                    count,
                    place,
                    stroke.limb,
                    stroke.instrument,
                    stroke.marks,
                    played.dynamic,
                )
            bar_start_s += bar.meter.bar_length * whole_note_s


@dataclass(frozen=True)
class _Grid:
    """A bar's grid: where its places and counts lie, in ``parts`` of a whole note."""

    parts: int
    length: int
    place_at: list[int]
    count: list[int]
    count_place: list[int]
    count_at: list[int]


def _grid_of(bar: Bar, swing_percent: int) -> _Grid:
    parts = bar.meter.unit * bar.places_per_unit * _SWING_PARTS
    spots = [count_and_place(bar, place) for place in range(bar.places)]
    positions = place_positions(bar, swing_percent=swing_percent)
    return _Grid(
        parts=parts,
        length=int(bar.meter.bar_length * parts),
        place_at=[int(position * parts) for position in positions],
        count=[count for count, _ in spots],
        count_place=[place for _, place in spots],
        count_at=[int(start * parts) for start in bar.meter.count_starts()],
    )


class _WrittenBars:
    """Every written bar once, as rows of numbers; the tune refers to them by index."""

    def __init__(self, part: Part) -> None:
        self.index: dict[int, int] = {}
        self.bars: list[Bar] = []
        for section in part.sections:
            for bar in section.bars:
                if id(bar) not in self.index:
                    self.index[id(bar)] = len(self.bars)
                    self.bars.append(bar)
        grids: dict[tuple[object, int], _Grid] = {}
        self.grids: list[_Grid] = []
        for bar in self.bars:
            key = (bar.meter, bar.places_per_unit)
            if key not in grids:
                grids[key] = _grid_of(bar, part.swing_percent)
            self.grids.append(grids[key])
        rows = [
            row
            for bar, grid in zip(self.bars, self.grids, strict=True)
            for row in _rows_of(bar, grid)
        ]
        self.rows = np.array(rows, np.int64).reshape(-1, 7)
        self.strokes = np.array([len(bar.strokes) for bar in self.bars], np.int64)
        self.first_row = np.cumsum(self.strokes) - self.strokes
        self.counts = np.array([len(grid.count_at) for grid in self.grids], np.int64)
        self.first_count = np.cumsum(self.counts) - self.counts
        self.count_at = np.array([at for grid in self.grids for at in grid.count_at], np.int64)


def _rows_of(bar: Bar, grid: _Grid) -> list[tuple[int, ...]]:
    return [
        (
            stroke.place,
            grid.place_at[stroke.place],
            grid.count[stroke.place],
            grid.count_place[stroke.place],
            _LIMB_NUMBER[stroke.limb],
            _INSTRUMENT_NUMBER[stroke.instrument],
            _MARKS_NUMBER[stroke.marks],
        )
        for stroke in bar.strokes
    ]


def _rows_in(first: IntArray, length: IntArray, of_bar: IntArray) -> tuple[IntArray, IntArray]:
    """Indices of the rows of each played bar, and the played bar of each."""
    lengths = length[of_bar]
    bar = np.repeat(np.arange(of_bar.size), lengths)
    ends = np.cumsum(lengths)
    within = np.arange(bar.size) - np.repeat(ends - lengths, lengths)
    return first[of_bar][bar] + within, bar


class _Clock:
    """Times of one section: whole numbers over one denominator, then rounded once."""

    def __init__(self, grids: Sequence[_Grid], played: PlayedSection, beat: Fraction) -> None:
        self.parts = lcm(*{grid.parts for grid in grids})
        part_s = Fraction(60) / (played.tempo_bpm * beat) / self.parts
        self.denominator = lcm(played.start_s.denominator, part_s.denominator)
        self.start = int(played.start_s * self.denominator)
        self.step = int(part_s * self.denominator)
        most = max(int(played.end_s * self.denominator), self.denominator)
        self._dtype = np.int64 if most < _EXACT else np.object_
        whole_notes = (played.end_s - played.start_s) / part_s / self.parts
        self.at_dtype = np.int64 if whole_notes * self.parts < _EXACT else np.object_

    def times_s(self, at: ExactArray) -> FloatArray:
        """Seconds of positions counted in the section's parts of a whole note."""
        times_s = np.empty(at.size)
        for low in range(0, at.size, _MOST_AT_ONCE):
            some = slice(low, low + _MOST_AT_ONCE)
            exact: ExactArray = self.start + at[some].astype(self._dtype) * self.step
            times_s[some] = exact / self.denominator
        return times_s


def unrolled(part: Part) -> UnrolledPart:
    """The whole tune as arrays, repeats played out and swing applied.

    Parameters
    ----------
    part : one that four limbs can play

    Raises
    ------
    BadNotation    if they cannot, or the tune has more than five million strokes
    """
    check_part(part)
    sections = played_sections(part)
    written = _WrittenBars(part)
    of_section = [
        np.array([written.index[id(bar)] for bar in section.bars], np.int64)
        for section in part.sections
    ]
    times = [section.times for section in part.sections]
    in_all = sum(
        int(written.strokes[bars].sum()) * often
        for bars, often in zip(of_section, times, strict=True)
    )
    if in_all > MOST_STROKES:
        raise BadNotation(f"the tune has {in_all} strokes: want {MOST_STROKES} at most")
    of_bar = np.concatenate(
        [np.tile(bars, often) for bars, often in zip(of_section, times, strict=True)]
    )
    row, bar = _rows_in(written.first_row, written.strokes, of_bar)
    count_row, count_bar = _rows_in(written.first_count, written.counts, of_bar)
    place, place_at, count, count_place, limb, instrument, marks = written.rows[row].T
    length = np.array([grid.length / grid.parts for grid in written.grids])[of_bar]
    per_place = np.array([_SWING_PARTS / grid.parts for grid in written.grids])
    starts = np.cumsum(length) - length
    timed = _Timed(written, of_bar, bar, place_at, count_bar, written.count_at[count_row])
    for played in sections:
        timed.add(played, part.beat)
    return UnrolledPart(
        time_s=np.concatenate(timed.stroke_s),
        position=starts[bar] + place * per_place[of_bar][bar],
        bar=bar,
        bar_place=place,
        count=count,
        count_place=count_place,
        limb=limb,
        instrument=instrument,
        accent=(marks & 1) > 0,
        ghost=(marks & 2) > 0,
        flam=(marks & 4) > 0,
        bar_start_s=np.append(np.concatenate(timed.bar_s), float(sections[-1].end_s)),
        bar_length=length,
        bar_section=np.repeat(np.arange(len(sections)), [played.bars for played in sections]),
        bar_of_section=np.concatenate(
            [
                np.tile(np.arange(bars.size), often)
                for bars, often in zip(of_section, times, strict=True)
            ]
        ),
        count_s=np.concatenate(timed.count_s),
        count_bar=count_bar,
        sections=sections,
    )


class _Timed:
    """Times of bars, counts and strokes, section after section."""

    def __init__(
        self,
        written: _WrittenBars,
        of_bar: IntArray,
        bar: IntArray,
        place_at: IntArray,
        count_bar: IntArray,
        count_at: IntArray,
    ) -> None:
        self._written, self._of_bar = written, of_bar
        self._bar, self._place_at = bar, place_at
        self._count_bar, self._count_at = count_bar, count_at
        self.bar_s: list[FloatArray] = []
        self.stroke_s: list[FloatArray] = []
        self.count_s: list[FloatArray] = []

    def add(self, played: PlayedSection, beat: Fraction) -> None:
        """Time the next section."""
        first, last = played.first_bar, played.first_bar + played.bars
        used, of_bar = np.unique(self._of_bar[first:last], return_inverse=True)
        grids = [self._written.grids[index] for index in used.tolist()]
        clock = _Clock(grids, played, beat)
        scales = [clock.parts // grid.parts for grid in grids]
        scale_of: ExactArray = np.array(scales, clock.at_dtype)
        lengths = [grid.length * scale for grid, scale in zip(grids, scales, strict=True)]
        length: ExactArray = np.array(lengths, clock.at_dtype)[of_bar]
        start: ExactArray = np.cumsum(length) - length
        self.bar_s.append(clock.times_s(start))
        for bars, at, found in (
            (self._bar, self._place_at, self.stroke_s),
            (self._count_bar, self._count_at, self.count_s),
        ):
            low, high = np.searchsorted(bars, (first, last))
            within = bars[low:high] - first
            offset: ExactArray = at[low:high].astype(clock.at_dtype) * scale_of[of_bar[within]]
            found.append(clock.times_s(start[within] + offset))
