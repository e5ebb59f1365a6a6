"""What one hand plays over a whole tune, and the stretches that tire it or let it rest.

Strokes that follow each other within half a second are one stretch without rest; a longer gap is a
rest (ours; for the form of a line, a place left out is a rest already, see
``loosehand.parts.demand_runs``). Every stroke takes the time to the next, the one before a rest the
same again as the one before it. Within a bar a stretch is taken at its mean rate, so that single
gaps of a pattern are no rests of their own.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loosehand.parts.part import LIMBS, Limb
from loosehand.parts.unroll import PlayedSection, UnrolledPart
from loosehand.rounds.tune_reserve import Stretches

__all__ = [
    "REST_S",
    "HandLoad",
    "fast_stretch",
    "hand_load",
    "stretches_of",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

REST_S = 0.5
"""A gap between two strokes that is longer is a rest. Ours."""
_SIXTEENTHS_A_MINUTE = 15.0
"""Counts of sixteenths a minute in one stroke a second."""
_NEARLY_FULL = 0.8
_TINY_S = 1e-6


@dataclass(frozen=True)
class HandLoad:
    """The strokes of one hand.

    Attributes
    ----------
    limb : which hand
    at_s : float array, shape (n,), seconds from the start, increasing
    bar : int array, shape (n,), bar of the whole tune
    bar_place : int array, shape (n,), place in the bar, from 0
    order : int array, shape (n,), place among the hand's strokes of that bar, from 0
    is_accent : bool array, shape (n,)
    bar_start_s : float array, shape (b,), of every bar of the tune
    bar_eighths : float array, shape (b,), length of every bar in eighths
    end_s : where the tune ends
    sections : of the part, in order
    """

    limb: Limb
    at_s: FloatArray
    bar: IntArray
    bar_place: IntArray
    order: IntArray
    is_accent: BoolArray
    bar_start_s: FloatArray
    bar_eighths: FloatArray
    end_s: float
    sections: tuple[PlayedSection, ...]


def hand_load(tune: UnrolledPart, limb: Limb) -> HandLoad:
    """Strokes of a limb over the whole tune."""
    own = tune.limb == LIMBS.index(limb)
    bar = tune.bar[own]
    first_of_bar = np.searchsorted(bar, bar, side="left")
    return HandLoad(
        limb=limb,
        at_s=tune.time_s[own],
        bar=bar,
        bar_place=tune.bar_place[own],
        order=np.arange(len(bar)) - first_of_bar,
        is_accent=tune.accent[own],
        bar_start_s=tune.bar_start_s[:-1],
        bar_eighths=8.0 * tune.bar_length,
        end_s=tune.duration_s,
        sections=tune.sections,
    )


def fast_stretch(stretches: Stretches) -> tuple[float, float]:
    """Length (seconds) and mean rate of the longest row of stretches near the highest rate.

    Near it are those of four fifths and more (ours): what is slower is no part of the hard run.

    Returns
    -------
    length_s, rate_bpm : both 0 where the hand plays nothing
    """
    is_fast = stretches.rate_bpm >= _NEARLY_FULL * stretches.rate_bpm.max(initial=1.0)
    if not is_fast.any():
        return 0.0, 0.0
    row = np.cumsum(~is_fast)[is_fast]
    length_s = np.bincount(row, weights=stretches.length_s[is_fast])
    counts = np.bincount(row, weights=(stretches.length_s * stretches.rate_bpm)[is_fast])
    longest = int(np.argmax(np.round(length_s, 6)))
    return float(length_s[longest]), float(counts[longest] / length_s[longest])


def stretches_of(
    line: HandLoad, *, plays: BoolArray | None = None, technique: IntArray | None = None
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
    section_start_s = np.array([float(each.start_s) for each in line.sections])
    starts = starts[in_order]
    section = np.searchsorted(section_start_s, starts + 1e-6, side="right") - 1
    merged = _merged(starts, lengths[in_order], rates[in_order], section, technique)
    return replace(merged, sections=len(line.sections))


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


def _rests(line: HandLoad, start_s: FloatArray, end_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Starts and ends of all that is not played, split where sections begin."""
    starts = np.concatenate([[0.0], end_s])
    ends = np.concatenate([start_s, [line.end_s]])
    is_rest = ends - starts > _TINY_S
    starts, ends = starts[is_rest], ends[is_rest]
    cuts = np.array([float(each.start_s) for each in line.sections])
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
        sections=int(sections.max(initial=-1)) + 1,
    )
