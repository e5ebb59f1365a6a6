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

from loosehand.parts.demand_runs import HandLine, Spot, spot_of
from loosehand.parts.techniques import WEAK_KINDS, StrokeKind, Technique
from loosehand.parts.unroll import UnrolledPart

__all__ = [
    "AccentPlace",
    "AccentPlaces",
    "CycleCost",
    "Meetings",
    "PhaseDemand",
    "accent_places",
    "cycle_costs",
    "least_cost",
    "phase_demands",
]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]
_Start = Literal["run", "bar"]
_NEARLY = 1e-6
_EXACTLY = 1_000_000
_MOST_LONG = 1 << 32


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


@dataclass(frozen=True)
class AccentPlace:
    """A place of the bar that asks for accents.

    Attributes
    ----------
    at : where the first of them is written
    times : how often one comes there
    """

    at: Spot
    times: int


@dataclass(frozen=True)
class AccentPlaces:
    """Where in the bar the accents of a hand fall.

    Attributes
    ----------
    stroke : int array, numbers of the strokes that have an accent
    place : int array of as many, number of the place of the bar at which each falls
    spots : of each place, where its first accent is written
    """

    stroke: IntArray
    place: IntArray
    spots: tuple[Spot, ...]


@dataclass(frozen=True)
class PhaseDemand:
    """What the part asks of one stroke of a technique's cycle.

    Attributes
    ----------
    phase : stroke of the cycle, from 0
    kind : of the stroke
    is_free : whether an accent costs nothing there
    is_weak : whether the stroke has no drive of its own
    strokes : of the tune that fall on it
    accents : of those, strokes that ask for an accent: given where it is free, fought elsewhere
    held_back : strokes louder by themselves where no accent is asked for
    on_backbeat : strokes that sound with the backbeat
    on_kick : strokes that sound with a kick
    accents_at : places of the bar at which its accents fall
    """

    phase: int
    kind: StrokeKind
    is_free: bool
    is_weak: bool
    strokes: int
    accents: int
    held_back: int
    on_backbeat: int
    on_kick: int
    accents_at: tuple[AccentPlace, ...]


def accent_places(played: UnrolledPart, line: HandLine, meetings: Meetings) -> AccentPlaces:
    """Where in the bar a hand's accents fall; places of one name and position are one place."""
    stroke = np.flatnonzero(line.accent)
    position = np.rint(meetings.bar_position[stroke] * _EXACTLY).astype(np.int64)
    key = position * _MOST_LONG + line.count[stroke]
    _, first, place = np.unique(key, return_index=True, return_inverse=True)
    spots = tuple(spot_of(played, line, int(stroke[each])) for each in first)
    return AccentPlaces(stroke, place.reshape(-1), spots)


def phase_demands(
    line: HandLine,
    meetings: Meetings,
    technique: Technique,
    start: CycleCost,
    accents: AccentPlaces,
) -> tuple[PhaseDemand, ...]:
    """What each stroke of the cycle meets, at one start of it.

    Parameters
    ----------
    line, meetings : of the hand
    technique : whose cycle is laid over the line
    start : of the cycle, see ``cycle_costs``
    accents : of the same line
    """
    length = len(technique.cycle)
    index, _ = _counted(line, meetings)[start.starts_with]
    phase = (index + start.first_stroke) % length
    strokes, with_accent, with_backbeat, with_kick = (
        np.bincount(phase[chosen], minlength=length).tolist()
        for chosen in (slice(None), line.accent, meetings.on_backbeat, meetings.on_kick)
    )
    places = len(accents.spots)
    at = np.bincount(phase[accents.stroke] * places + accents.place, minlength=length * places)
    times = at.reshape(length, places).tolist()
    return tuple(
        PhaseDemand(
            phase=number,
            kind=kind,
            is_free=number in technique.accents,
            is_weak=kind in WEAK_KINDS,
            strokes=strokes[number],
            accents=with_accent[number],
            held_back=strokes[number] - with_accent[number] if number in technique.leans_on else 0,
            on_backbeat=with_backbeat[number],
            on_kick=with_kick[number],
            accents_at=tuple(
                AccentPlace(spot, often)
                for spot, often in zip(accents.spots, times[number], strict=True)
                if often
            ),
        )
        for number, kind in enumerate(technique.cycle)
    )


def cycle_costs(line: HandLine, meetings: Meetings, technique: Technique) -> tuple[CycleCost, ...]:
    """Every start of the cycle: with the run, then with the bar, from stroke 0 on."""
    return tuple(_costs(line, meetings, technique))


def least_cost(costs: tuple[CycleCost, ...]) -> CycleCost:
    """The start that costs least; of equals the one that fights least, then the first."""
    return min(costs, key=lambda cost: (cost.cost, cost.accents_fought))


def _costs(line: HandLine, meetings: Meetings, technique: Technique) -> Iterator[CycleCost]:
    counted = _counted(line, meetings)
    length = len(technique.cycle)
    for first in range(length):
        yield _cost(line, meetings, technique, ("run", first), counted["run"])
    if length > 1:
        for first in range(length):
            yield _cost(line, meetings, technique, ("bar", first), counted["bar"])


def _counted(line: HandLine, meetings: Meetings) -> dict[_Start, tuple[IntArray, BoolArray]]:
    """Strokes counted from the start of their run, or of their bar, and where these begin."""
    index_of_bar = np.floor(meetings.bar_position / line.step + _NEARLY).astype(np.int64)
    return {
        "run": (_index_in_run(line.starts_run), line.starts_run),
        "bar": (index_of_bar, line.starts_run | _changes(line.bar)),
    }


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
    start: tuple[_Start, int],
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
