"""The leading hand of a tune: its runs, its rests, and where it comes back after a fill.

A run is a row of strokes without a rest. The hand's step in a section is the gap between its
strokes that is most often found there, as written (the shorter one where two are as frequent,
and a quarter at most); a gap of more than one and a half steps is a rest. Source: ours.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.parts.instruments import SURFACES
from loosehand.parts.part import LIMBS, Limb
from loosehand.parts.unroll import INSTRUMENT_NAMES, UnrolledPart

__all__ = [
    "HandLine",
    "ReEntry",
    "Rest",
    "Run",
    "Spot",
    "hand_line",
    "longest_run",
    "main_surfaces",
    "re_entries",
    "rests_of_section",
    "section_slice",
    "spot_of",
    "surface_numbers",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

REST_STEPS = 1.5
"""Steps from which a gap is a rest. Ours: a place left out breaks a run, swing does not."""
LONGEST_STEP = 0.25
"""Whole notes of the longest step: quarters are a run, half notes are not. Ours."""
FEWEST_RE_ENTRY = 4
"""Strokes of a run that make a re-entry. Ours."""
_EXACTLY = 1_000_000
_MOST_PLACES = 256
_MOST_BARS = 100_001

SURFACE_NAMES: tuple[str, ...] = tuple(dict.fromkeys(SURFACES.values()))
_SURFACE_OF = np.array(
    [SURFACE_NAMES.index(SURFACES[name]) if name in SURFACES else -1 for name in INSTRUMENT_NAMES]
)


@dataclass(frozen=True)
class Spot:
    """A written place of the part.

    Attributes
    ----------
    section : its name
    section_number : its number in the part, from 1, since names may come twice
    bar : written bar of the section, from 1
    count : from 1
    place : place of the count, from 0
    """

    section: str
    section_number: int
    bar: int
    count: int
    place: int


@dataclass(frozen=True)
class Run:
    """A row of strokes without a rest.

    Attributes
    ----------
    start : where it starts
    strokes : how many
    duration_s : from its first stroke to its last
    strokes_a_second : (strokes - 1) / duration_s; None for a single stroke
    """

    start: Spot
    strokes: int
    duration_s: float
    strokes_a_second: float | None


@dataclass(frozen=True)
class Rest:
    """A rest of the leading hand.

    Attributes
    ----------
    after : the stroke before it
    gap_s : from that stroke to the next, the longest where it is played more than once
    times : how often it comes
    """

    after: Spot
    gap_s: float
    times: int


@dataclass(frozen=True)
class ReEntry:
    """The leading hand comes back to its surface and stays for four strokes or more.

    Attributes
    ----------
    at : its first stroke
    surface : what it comes back to
    after : ``rest`` of a quarter or longer, or ``other surface``
    strokes : length of the run there, the longest where it comes more than once
    times : how often it comes
    """

    at: Spot
    surface: str
    after: Literal["rest", "other surface"]
    strokes: int
    times: int


@dataclass(frozen=True)
class HandLine:
    """Strokes of one hand over the tune, as arrays of equal length.

    Attributes
    ----------
    limb : which hand
    time_s, position, bar, bar_place, count, count_place, accent : as in UnrolledPart
    section : number of each stroke's section, from 0
    surface : number in SURFACE_NAMES
    step : whole notes between strokes as is usual in the stroke's section
    starts_run : whether nothing, or a rest, comes before the stroke
    """

    limb: Limb
    time_s: FloatArray
    position: FloatArray
    bar: IntArray
    bar_place: IntArray
    count: IntArray
    count_place: IntArray
    accent: BoolArray
    section: IntArray
    surface: IntArray
    step: FloatArray
    starts_run: BoolArray


def surface_numbers(instrument: IntArray) -> IntArray:
    """Number in SURFACE_NAMES of what each stroke of a hand is played on."""
    return _SURFACE_OF[instrument]


def hand_line(played: UnrolledPart, limb: Limb) -> HandLine:
    """All strokes of one hand, with its steps and the starts of its runs."""
    of_hand = np.flatnonzero(played.limb == LIMBS.index(limb))
    bar = played.bar[of_hand]
    section = played.bar_section[bar]
    position = played.position[of_hand]
    step = _steps(position, section)
    starts_run = np.ones(of_hand.size, np.bool_)
    starts_run[1:] = np.diff(position) > REST_STEPS * step[1:] * (1 + 1 / _EXACTLY)
    return HandLine(
        limb=limb,
        time_s=played.time_s[of_hand],
        position=position,
        bar=bar,
        bar_place=played.bar_place[of_hand],
        count=played.count[of_hand],
        count_place=played.count_place[of_hand],
        accent=played.accent[of_hand],
        section=section,
        surface=surface_numbers(played.instrument[of_hand]),
        step=step,
        starts_run=starts_run,
    )


def section_slice(line: HandLine, section: int) -> slice:
    """Strokes of a section among those of the hand."""
    low, high = np.searchsorted(line.section, (section, section + 1))
    return slice(int(low), int(high))


def _steps(position: FloatArray, section: IntArray) -> FloatArray:
    """Usual gap of each stroke's section, in whole notes."""
    step = np.full(position.size, LONGEST_STEP)
    edges = np.flatnonzero(np.diff(section)) + 1
    for low, high in zip([0, *edges], [*edges, position.size], strict=True):
        gaps = np.rint(np.diff(position[low:high]) * _EXACTLY)
        if gaps.size:
            lengths, often = np.unique(gaps, return_counts=True)
            usual = lengths[np.argmax(often)] / _EXACTLY
            step[low:high] = min(usual, LONGEST_STEP)
    return step


def spot_of(played: UnrolledPart, line: HandLine, stroke: int) -> Spot:
    """Where a stroke of the hand is written."""
    section = int(line.section[stroke])
    return Spot(
        section=played.sections[section].name,
        section_number=section + 1,
        bar=int(played.bar_of_section[line.bar[stroke]]) + 1,
        count=int(line.count[stroke]),
        place=int(line.count_place[stroke]),
    )


def longest_run(played: UnrolledPart, line: HandLine, within: slice) -> Run | None:
    """The run of most strokes, the first where several are as long, or None."""
    starts = line.starts_run[within].copy()
    if not starts.size:
        return None
    starts[0] = True
    first = np.flatnonzero(starts)
    lengths = np.diff(np.append(first, starts.size))
    longest = int(np.argmax(lengths))
    begin = within.start + int(first[longest])
    strokes = int(lengths[longest])
    duration_s = float(line.time_s[begin + strokes - 1] - line.time_s[begin])
    return Run(
        start=spot_of(played, line, begin),
        strokes=strokes,
        duration_s=duration_s,
        strokes_a_second=(strokes - 1) / duration_s if strokes > 1 else None,
    )


def _by_spot(
    line: HandLine, bar_of_section: IntArray, strokes: IntArray
) -> tuple[IntArray, IntArray]:
    """Sort strokes by where they are written; return them, and where each place begins."""
    bar = bar_of_section[line.bar[strokes]]
    key = (line.section[strokes] * _MOST_BARS + bar) * _MOST_PLACES + line.bar_place[strokes]
    order = np.argsort(key, kind="stable")
    key = key[order]
    begins = np.flatnonzero(np.append(key.size > 0, key[1:] != key[:-1])[: key.size])
    return strokes[order], begins


def rests_of_section(played: UnrolledPart, line: HandLine, within: slice) -> tuple[Rest, ...]:
    """Rests that follow a stroke of the section, by where they are written."""
    following = np.arange(within.start + 1, min(within.stop + 1, line.starts_run.size))
    before = following[line.starts_run[following]] - 1
    if not before.size:
        return ()
    sorted_before, begins = _by_spot(line, played.bar_of_section, before)
    gap_s = np.maximum.reduceat(np.diff(line.time_s)[sorted_before], begins)
    times = np.diff(np.append(begins, before.size))
    return tuple(
        Rest(after=spot_of(played, line, stroke), gap_s=longest_s, times=often)
        for stroke, longest_s, often in zip(
            sorted_before[begins].tolist(), gap_s.tolist(), times.tolist(), strict=True
        )
    )


def re_entries(played: UnrolledPart, line: HandLine) -> tuple[ReEntry, ...]:
    """Where the hand comes back to the main surface of its section, and stays.

    It comes back from another surface, or from a rest of a quarter or longer. The first stroke
    of the tune is none.
    """
    if not line.time_s.size:
        return ()
    other = np.concatenate([[False], np.diff(line.surface) != 0])
    first = np.flatnonzero(line.starts_run | other)
    lengths = np.diff(np.append(first, line.time_s.size))
    gap = np.diff(line.position, prepend=line.position[0])
    long_rest = line.starts_run & (gap >= LONGEST_STEP * (1 - 1 / _EXACTLY))
    back = (line.surface[first] == main_surfaces(line)[first]) & (first > 0)
    back &= (lengths >= FEWEST_RE_ENTRY) & (other | long_rest)[first]
    if not back.any():
        return ()
    returns, begins = _by_spot(line, played.bar_of_section, first[back])
    of_run = np.maximum.reduceat(lengths[np.searchsorted(first, returns)], begins)
    times = np.diff(np.append(begins, returns.size))
    return tuple(
        ReEntry(
            at=spot_of(played, line, stroke),
            surface=SURFACE_NAMES[line.surface[stroke]],
            after="other surface" if other[stroke] else "rest",
            strokes=strokes,
            times=often,
        )
        for stroke, strokes, often in zip(
            returns[begins].tolist(), of_run.tolist(), times.tolist(), strict=True
        )
    )


def main_surfaces(line: HandLine) -> IntArray:
    """The surface that is most struck in each stroke's section."""
    main = np.empty(line.surface.size, np.int64)
    edges = np.flatnonzero(np.diff(line.section)) + 1
    for low, high in zip([0, *edges], [*edges, main.size], strict=True):
        main[low:high] = np.argmax(np.bincount(line.surface[low:high]))
    return main
