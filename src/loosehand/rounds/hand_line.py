"""What one hand plays over a whole tune, and the stretches that tire it or let it rest.

Strokes that follow each other within half a second are one run; a longer gap is a rest (ours). In
a run every stroke takes the time to the next, the last one the same again. Within a
bar a run is taken at its mean rate, so that single gaps of a pattern are no rests of their own.
"""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from loosehand.parts.part import Bar, Limb, Part, Section, place_positions
from loosehand.rounds.tune_reserve import Stretches

__all__ = [
    "REST_S",
    "HandLine",
    "SectionPlayed",
    "hand_line",
    "leading_hand",
    "longest_run",
    "stretches_of",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

REST_S = 0.5
"""A gap between two strokes that is longer is a rest. Ours."""
_SIXTEENTHS_A_MINUTE = 15.0
"""Counts of sixteenths a minute in one stroke a second."""
_TINY_S = 1e-6


@dataclass(frozen=True)
class SectionPlayed:
    """A section of the part with all its repeats.

    Attributes
    ----------
    name : as the part has it
    start_s, length_s : seconds
    first_bar, bars : of the whole tune, from 0, repeats played out
    """

    name: str
    start_s: float
    length_s: float
    first_bar: int
    bars: int


@dataclass(frozen=True)
class HandLine:
    """The strokes of one hand.

    Attributes
    ----------
    limb : which hand
    at_s : float array, shape (n,), seconds from the start, increasing
    bar : int array, shape (n,), bar of the whole tune
    order : int array, shape (n,), place among the hand's strokes of that bar, from 0
    is_accent : bool array, shape (n,)
    bar_start_s : float array, shape (b,), of every bar of the tune
    end_s : where the tune ends
    sections : of the part, in order
    """

    limb: Limb
    at_s: FloatArray
    bar: IntArray
    order: IntArray
    is_accent: BoolArray
    bar_start_s: FloatArray
    end_s: float
    sections: tuple[SectionPlayed, ...]


def hand_line(part: Part, limb: Limb) -> HandLine:
    """Strokes of a limb over the whole tune.

    Parameters
    ----------
    part : checked
    limb : usually a hand
    """
    lines: list[_SectionLine] = []
    sections: list[SectionPlayed] = []
    tempo_bpm, at, bars = part.tempo_bpm, Fraction(0), 0
    for section in part.sections:
        tempo_bpm = section.tempo_bpm or tempo_bpm
        whole_s = Fraction(60) / (tempo_bpm * part.beat)
        line, once_s = _section_line(section, limb, part.swing_percent, whole_s)
        in_all = len(section.bars) * section.times
        lines.append(
            _SectionLine(
                line.at_s + float(at),
                line.bar + bars,
                line.order,
                line.is_accent,
                line.bar_start_s + float(at),
            )
        )
        length_s = once_s * section.times
        sections.append(SectionPlayed(section.name, float(at), float(length_s), bars, in_all))
        at += length_s
        bars += in_all
    return HandLine(
        limb=limb,
        at_s=np.concatenate([line.at_s for line in lines]),
        bar=np.concatenate([line.bar for line in lines]),
        order=np.concatenate([line.order for line in lines]),
        is_accent=np.concatenate([line.is_accent for line in lines]),
        bar_start_s=np.concatenate([line.bar_start_s for line in lines]),
        end_s=float(at),
        sections=tuple(sections),
    )


def leading_hand(part: Part) -> Limb:
    """The hand with the longest unbroken run; the right one where they are equal."""
    left, right = (hand_line(part, hand) for hand in ("left hand", "right hand"))
    return "left hand" if longest_run(left)[1] > longest_run(right)[1] + 1e-9 else "right hand"


def longest_run(line: HandLine) -> tuple[float, float]:
    """Start and length of the longest run, seconds; (0, 0) without strokes."""
    if not len(line.at_s):
        return 0.0, 0.0
    slot_s, run = _slots(line.at_s, line.end_s)
    length_s = np.bincount(run, weights=slot_s)
    longest = int(np.argmax(length_s))
    return float(line.at_s[np.searchsorted(run, longest)]), float(length_s[longest])


def stretches_of(
    line: HandLine, *, plays: BoolArray | None = None, technique: IntArray | None = None
) -> Stretches:
    """Stretches of one rate, with the rests between them.

    Parameters
    ----------
    line : strokes of a hand
    plays : bool array, shape (n,), which of its strokes are played; None for all
    technique : int array, shape (s,), which technique each section has; None for 0
    """
    kept = np.ones(len(line.at_s), dtype=np.bool_) if plays is None else plays
    at_s, bar = line.at_s[kept], line.bar[kept]
    start_s, length_s, rate_bpm = _played(at_s, bar, line.end_s)
    rest_start_s, rest_end_s = _rests(line, start_s, start_s + length_s)
    starts = np.concatenate([start_s, rest_start_s])
    in_order = np.argsort(starts, kind="stable")
    lengths = np.concatenate([length_s, rest_end_s - rest_start_s])
    rates = np.concatenate([rate_bpm, np.zeros(len(rest_start_s))])
    section_start_s = np.array([each.start_s for each in line.sections])
    starts = starts[in_order]
    section = np.searchsorted(section_start_s, starts + 1e-6, side="right") - 1
    return _merged(starts, lengths[in_order], rates[in_order], section, technique)


@dataclass(frozen=True)
class _SectionLine:
    """A section with its repeats, seconds and bars from its start."""

    at_s: FloatArray
    bar: IntArray
    order: IntArray
    is_accent: BoolArray
    bar_start_s: FloatArray


def _section_line(
    section: Section, limb: Limb, swing_percent: int, whole_s: Fraction
) -> tuple[_SectionLine, Fraction]:
    """Strokes of a section, and how long it takes to play once."""
    starts = [Fraction(0)]
    for bar in section.bars:
        starts.append(starts[-1] + bar.meter.bar_length * whole_s)
    bar_start_s = np.array([float(start) for start in starts[:-1]])
    once = [_strokes(bar, limb, swing_percent, whole_s) for bar in section.bars]
    at_s = np.concatenate(
        [each + start for (each, _), start in zip(once, bar_start_s, strict=True)]
    )
    strokes = [len(each) for each, _ in once]
    bar_of = np.repeat(np.arange(len(once)), strokes)
    time = np.arange(section.times)[:, None]
    once_s = float(starts[-1])
    line = _SectionLine(
        at_s=(at_s[None, :] + time * once_s).ravel(),
        bar=(bar_of[None, :] + time * len(once)).ravel(),
        order=np.tile(np.concatenate([np.arange(number) for number in strokes]), section.times),
        is_accent=np.tile(np.concatenate([accent for _, accent in once]), section.times),
        bar_start_s=(bar_start_s[None, :] + time * once_s).ravel(),
    )
    return line, starts[-1]


def _strokes(
    bar: Bar, limb: Limb, swing_percent: int, whole_s: Fraction
) -> tuple[FloatArray, BoolArray]:
    """Seconds from the start of a bar to a limb's strokes, and which of them are accents."""
    own = [stroke for stroke in bar.strokes if stroke.limb == limb]
    positions = place_positions(bar, swing_percent=swing_percent) if own else ()
    at_s = [float(positions[stroke.place] * whole_s) for stroke in own]
    accents = ["accent" in stroke.marks for stroke in own]
    return np.array(at_s, dtype=float), np.array(accents, dtype=np.bool_)


def _slots(at_s: FloatArray, end_s: float) -> tuple[FloatArray, IntArray]:
    """Time that each stroke takes, and the run that it belongs to."""
    gap_s = np.diff(at_s)
    is_last = np.append(gap_s > REST_S, True)
    before_s = np.minimum(np.concatenate([[REST_S], gap_s]), REST_S)
    slot_s = np.where(is_last, before_s, np.append(gap_s, 0.0))
    slot_s[-1] = min(slot_s[-1], end_s - at_s[-1])
    return slot_s, np.concatenate([[0], np.cumsum(is_last[:-1])]).astype(np.int64)


def _played(
    at_s: FloatArray, bar: IntArray, end_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Starts, lengths and rates of the pieces of runs that lie in one bar."""
    if not len(at_s):
        return np.zeros(0), np.zeros(0), np.zeros(0)
    slot_s, run = _slots(at_s, end_s)
    is_new = np.concatenate([[True], (np.diff(run) > 0) | (np.diff(bar) > 0)])
    piece = np.cumsum(is_new) - 1
    length_s = np.bincount(piece, weights=slot_s)
    rate_bpm = _SIXTEENTHS_A_MINUTE * np.bincount(piece) / length_s
    return at_s[is_new], length_s.astype(np.float64), np.round(rate_bpm, 6)


def _rests(line: HandLine, start_s: FloatArray, end_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Starts and ends of all that is not played, split where sections begin."""
    starts = np.concatenate([[0.0], end_s])
    ends = np.concatenate([start_s, [line.end_s]])
    is_rest = ends - starts > _TINY_S
    starts, ends = starts[is_rest], ends[is_rest]
    cuts = np.array([each.start_s for each in line.sections])
    rest = np.searchsorted(starts, cuts - _TINY_S, side="right") - 1
    inside = rest >= 0
    inside[inside] = cuts[inside] < ends[rest[inside]] - _TINY_S
    cuts = cuts[inside]
    return np.sort(np.concatenate([starts, cuts])), np.sort(np.concatenate([ends, cuts]))


def _merged(
    start_s: FloatArray,
    length_s: FloatArray,
    rate_bpm: FloatArray,
    section: IntArray,
    technique: IntArray | None,
) -> Stretches:
    """Join neighbours of one rate in one section."""
    same = (np.diff(rate_bpm) == 0.0) & (np.diff(section) == 0)
    is_new = np.concatenate([[True], ~same])
    group = np.cumsum(is_new) - 1
    sections = section[is_new]
    which = np.zeros(len(sections), dtype=np.int64) if technique is None else technique[sections]
    return Stretches(
        start_s=start_s[is_new],
        length_s=np.bincount(group, weights=length_s).astype(np.float64),
        rate_bpm=rate_bpm[is_new],
        section=sections,
        technique=which,
    )
