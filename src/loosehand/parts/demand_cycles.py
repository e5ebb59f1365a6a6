"""What a technique pays for in a hand's line, and what it must fight.

A technique goes round in a cycle, one drive a cycle. The cycle may start anew with every run, or
with every bar, and on any of its strokes; each such start is tried. An accent is given for
nothing where it falls on a stroke of the cycle that allows it, and fought elsewhere. A stroke
that comes out louder by itself, where no accent is asked for, must be held back. The start that
costs least has the fewest of the two together. Source: ours.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.parts.demand_runs import HandLine
from loosehand.parts.techniques import WEAK_KINDS, Technique

__all__ = ["CycleCost", "Meetings", "cycle_costs", "least_cost"]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]
_NEARLY = 1e-6


@dataclass(frozen=True)
class Meetings:
    """What else sounds with each stroke of the hand.

    Attributes
    ----------
    bar_position : whole notes from the start of the bar to the stroke
    on_backbeat : the other hand's snare or cross-stick, no ghost note, sounds with it
    on_kick : a kick sounds with it
    """

    bar_position: FloatArray
    on_backbeat: BoolArray
    on_kick: BoolArray


@dataclass(frozen=True)
class CycleCost:
    """What one start of a technique's cycle gives and costs over the tune.

    Attributes
    ----------
    starts_with : ``run`` or ``bar``
    first_stroke : stroke of the cycle, from 0, that the run or bar starts with
    drives : drives in all: one for each cycle that is begun
    accents_given : accents that fall where one costs nothing
    accents_fought : accents that fall elsewhere
    held_back : strokes louder by themselves where no accent is asked for
    weak_on_backbeat : up strokes, taps and pulls that sound with the backbeat
    weak_on_kick : those that sound with a kick
    """

    starts_with: Literal["run", "bar"]
    first_stroke: int
    drives: int
    accents_given: int
    accents_fought: int
    held_back: int
    weak_on_backbeat: int
    weak_on_kick: int

    @property
    def cost(self) -> int:
        """Strokes at which the hand works against its own motion."""
        return self.accents_fought + self.held_back


def cycle_costs(line: HandLine, meetings: Meetings, technique: Technique) -> tuple[CycleCost, ...]:
    """Every start of the cycle: with the run, then with the bar, from stroke 0 on."""
    return tuple(_costs(line, meetings, technique))


def least_cost(costs: tuple[CycleCost, ...]) -> CycleCost:
    """The start that costs least; of equals the one that fights least, then the first."""
    return min(costs, key=lambda cost: (cost.cost, cost.accents_fought))


def _costs(line: HandLine, meetings: Meetings, technique: Technique) -> Iterator[CycleCost]:
    length = len(technique.cycle)
    index_of_run = _index_in_run(line.starts_run)
    index_of_bar = np.floor(meetings.bar_position / line.step + _NEARLY).astype(np.int64)
    new_bar = _changes(line.bar)
    for first in range(length):
        yield _cost(line, meetings, technique, ("run", first), (index_of_run, line.starts_run))
    if length > 1:
        restarts = line.starts_run | new_bar
        for first in range(length):
            yield _cost(line, meetings, technique, ("bar", first), (index_of_bar, restarts))


def _changes(numbers: IntArray) -> BoolArray:
    """Whether each number differs from the one before it."""
    changed = np.ones(numbers.size, np.bool_)
    changed[1:] = numbers[1:] != numbers[:-1]
    return changed


def _index_in_run(starts_run: BoolArray) -> IntArray:
    index = np.arange(starts_run.size)
    return index - np.maximum.accumulate(np.where(starts_run, index, 0))


def _cost(
    line: HandLine,
    meetings: Meetings,
    technique: Technique,
    start: tuple[Literal["run", "bar"], int],
    counted: tuple[IntArray, BoolArray],
) -> CycleCost:
    index, restarts = counted
    cycle, phase = np.divmod(index + start[1], len(technique.cycle))
    begins = restarts | _changes(cycle)
    allowed = _phases(technique, technique.accents)[phase]
    leans = _phases(technique, technique.leans_on)[phase]
    weak = np.array([kind in WEAK_KINDS for kind in technique.cycle])[phase]
    return CycleCost(
        starts_with=start[0],
        first_stroke=start[1],
        drives=int(np.count_nonzero(begins)),
        accents_given=int(np.count_nonzero(line.accent & allowed)),
        accents_fought=int(np.count_nonzero(line.accent & ~allowed)),
        held_back=int(np.count_nonzero(leans & ~line.accent)),
        weak_on_backbeat=int(np.count_nonzero(weak & meetings.on_backbeat)),
        weak_on_kick=int(np.count_nonzero(weak & meetings.on_kick)),
    )


def _phases(technique: Technique, phases: tuple[int, ...]) -> BoolArray:
    marked = np.zeros(len(technique.cycle), np.bool_)
    marked[list(phases)] = True
    return marked
