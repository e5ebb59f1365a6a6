"""Two hands, or two techniques of one hand, held side by side.

Both were fitted apart, so their draws are taken as independent of each other: every answer pairs
the draws of one with shuffled draws of the other.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import InputError
from loosehand.reach.reach import Interval, Reach, check_time_s
from loosehand.reach.seen import hand_rate_factor

__all__ = [
    "HIGHEST_CROSSING_BPM",
    "LOWEST_CROSSING_BPM",
    "Crossover",
    "chance_faster",
    "crossover",
    "crossover_bpm",
    "gap_bpm",
]

FloatArray = NDArray[np.float64]
_SEED = 20270301
_PAIRS = 4000
LOWEST_CROSSING_BPM = 40.0
HIGHEST_CROSSING_BPM = 200.0
"""Tempos between which a crossing is looked for. Chosen, not validated."""
_TIMES_S = np.geomspace(5.0, 480.0, 65)
"""Holds among which it is looked for: shorter and longer ones are nobody's question. Ours."""
_LEAST_PAIRS = 50
_LOW, _HIGH = 0.1, 0.9


@dataclass(frozen=True)
class Crossover:
    """Where the curves of two techniques cross.

    Attributes
    ----------
    chance : that they cross at a tempo from 40 to 200, for holds from 5 seconds to 8 minutes
    tempo_bpm : where, if they do; None where too few draws cross to tell
    one_above : chance, if they cross, that the one is held longer above that tempo and the other
        below it
    one_throughout : chance that they do not cross and the one is held longer throughout
    """

    chance: float
    tempo_bpm: Interval | None
    one_above: float
    one_throughout: float


def gap_bpm(one: Reach, other: Reach, time_s: float) -> Interval:
    """Tempo that the one holds for a time, less what the other holds, on days of average form.

    Parameters
    ----------
    one, other : hands with the same strokes a count in a hand
    time_s : how long, seconds

    Raises
    ------
    InputError   if their counts are not the same, or the time is not one of a round
    """
    _check_alike(one, other)
    return _interval(_gaps(one, other, np.array([check_time_s(time_s)]))[:, 0] / _factor(one))


def chance_faster(one: Reach, other: Reach, time_s: float) -> float:
    """Chance that the one holds a higher tempo for a time than the other.

    Raises
    ------
    InputError   as ``gap_bpm``
    """
    _check_alike(one, other)
    return float((_gaps(one, other, np.array([check_time_s(time_s)])) > 0.0).mean())


def crossover_bpm(one: Reach, other: Reach) -> Interval | None:
    """Tempo at which the curves cross, if they do; None where too few draws cross to tell."""
    return crossover(one, other).tempo_bpm


def crossover(one: Reach, other: Reach) -> Crossover:
    """Find where the curves of two techniques cross, and which is held longer above that tempo.

    Of several crossings of a pair of draws, the one nearest to a hold of a minute counts.

    Parameters
    ----------
    one, other : hands with the same strokes a count in a hand

    Raises
    ------
    InputError   if their counts are not the same
    """
    _check_alike(one, other)
    first, second = _paired(one, other, _TIMES_S)
    gap = first - second
    step, tempo = _crossings(gap, first / _factor(one))
    found = step >= 0
    rows = np.flatnonzero(found)
    # Short holds stand first and are held at the higher tempos.
    one_above = gap[rows, step[rows]] > 0.0
    middle = int(np.argmin(np.abs(np.log(_TIMES_S / 60.0))))
    return Crossover(
        chance=float(found.mean()),
        tempo_bpm=_interval(tempo[rows]) if len(rows) >= _LEAST_PAIRS else None,
        one_above=float(one_above.mean()) if len(rows) else 0.0,
        one_throughout=float((~found & (gap[:, middle] > 0.0)).mean()),
    )


def _crossings(gap: FloatArray, tempo_bpm: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    """Step of the times in which each pair crosses (-1 for none), and the tempo there."""
    changes = np.signbit(gap[:, :-1]) != np.signbit(gap[:, 1:])
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(changes, gap[:, :-1] / (gap[:, :-1] - gap[:, 1:]), 0.0)
    at_bpm = tempo_bpm[:, :-1] + share * (tempo_bpm[:, 1:] - tempo_bpm[:, :-1])
    inside = changes & (at_bpm >= LOWEST_CROSSING_BPM) & (at_bpm <= HIGHEST_CROSSING_BPM)
    middles = np.array([np.log(a * b / 3600.0) / 2.0 for a, b in pairwise(_TIMES_S)])
    far = np.where(inside, np.abs(middles), np.inf)
    step = np.argmin(far, axis=1)
    tempo = at_bpm[np.arange(len(step)), step]
    return np.where(inside.any(axis=1), step, -1), tempo


def _gaps(one: Reach, other: Reach, time_s: FloatArray) -> FloatArray:
    first, second = _paired(one, other, time_s)
    return np.asarray(first - second)


def _paired(one: Reach, other: Reach, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Tempos held by both, as many draws of each, in an order that has nothing in common."""
    rng = np.random.default_rng(_SEED)
    first, second = one.draws.tempo_at(time_s), other.draws.tempo_at(time_s)
    return first[_spread(len(first), rng)], second[_spread(len(second), rng)]


def _spread(draws: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Places of draws, each as often as any other (or once more), shuffled."""
    rounds = -(-_PAIRS // draws)
    return np.concatenate([rng.permutation(draws) for _ in range(rounds)])[:_PAIRS]


def _factor(reach: Reach) -> float:
    return hand_rate_factor(reach.kind)


def _check_alike(one: Reach, other: Reach) -> None:
    if _factor(one) != _factor(other):
        raise InputError(
            f"{one.kind.hand} at {one.kind.places_per_count} places a count and {other.kind.hand} "
            f"at {other.kind.places_per_count} cannot be compared by tempo; want the same strokes "
            "a count in a hand"
        )


def _interval(values: FloatArray) -> Interval:
    """Median and bounds of 80 chances in 100."""
    low, median, high = (float(each) for each in np.quantile(values, (_LOW, 0.5, _HIGH)))
    return Interval(median, low, high)
