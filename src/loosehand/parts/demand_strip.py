"""Each hand over the tune: where it runs, where it plays a fill, where it rests.

A stroke lasts to the next one of its run; the last before a rest lasts one step of its section. A
fill is what a hand plays on another surface than the one that it plays most in the section.
Source: ours.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.parts.demand_runs import HandLine, hand_line, main_surfaces
from loosehand.parts.part import LIMBS, Limb
from loosehand.parts.unroll import UnrolledPart

__all__ = ["HandStrip", "hand_strips"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class HandStrip:
    """What one hand does through the tune; all that is in no stretch is rest.

    Attributes
    ----------
    limb : which hand
    start_s, end_s : float arrays, shape (n,), seconds from the start of the tune, of each stretch
        without a rest on one surface or off it; each ends before the next starts, or there
    is_fill : bool array, shape (n,), whether it is a fill
    duration_s : length of the tune
    """

    limb: Limb
    start_s: FloatArray
    end_s: FloatArray
    is_fill: BoolArray
    duration_s: float

    @property
    def run_s(self) -> float:
        """Seconds in which it runs on its surface."""
        return float(np.sum((self.end_s - self.start_s)[~self.is_fill]))

    @property
    def fill_s(self) -> float:
        """Seconds in which it plays fills."""
        return float(np.sum((self.end_s - self.start_s)[self.is_fill]))

    @property
    def rest_s(self) -> float:
        """Seconds in which it rests."""
        return self.duration_s - self.run_s - self.fill_s


def hand_strips(played: UnrolledPart) -> tuple[HandStrip, ...]:
    """Strips of the hands that play, the right one first."""
    lines = [hand_line(played, limb) for limb in LIMBS[:2]]
    return tuple(_strip(played, line) for line in lines if line.time_s.size)


def _strip(played: UnrolledPart, line: HandLine) -> HandStrip:
    is_fill = line.surface != main_surfaces(line)
    begins = line.starts_run.copy()
    begins[1:] |= is_fill[1:] != is_fill[:-1]
    first = np.flatnonzero(begins)
    last = np.append(first[1:], begins.size) - 1
    return HandStrip(
        limb=line.limb,
        start_s=line.time_s[first],
        end_s=_ends(played, line)[last],
        is_fill=is_fill[first],
        duration_s=played.duration_s,
    )


def _ends(played: UnrolledPart, line: HandLine) -> FloatArray:
    """When each stroke is over."""
    whole_note_s = (np.diff(played.bar_start_s) / played.bar_length)[line.bar]
    next_s = np.append(line.time_s[1:], played.duration_s)
    before_rest = np.append(line.starts_run[1:], True)
    step_over_s = np.minimum(line.time_s + line.step * whole_note_s, next_s)
    ends: FloatArray = np.where(before_rest, step_over_s, next_s)
    return ends
