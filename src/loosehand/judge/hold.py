"""Where the hand lost the click: the count held, by a fixed rule.

A place is good when its matched stroke lies within the leeway. A slip is a run of one or
two bad places; with n places a count it is forgiven when at least n good places come before
it (or it is the first slip) and n after it (at the end of the take at least one will do).
The first bad run that is not forgiven is the break.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.alignment import NO_STROKE, match_in_order

__all__ = [
    "GALLOP_LIMIT",
    "LEEWAY",
    "LONGEST_SLIP",
    "BadRun",
    "Hold",
    "HoldGrid",
    "bad_runs",
    "find_break",
    "judge_hold",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

LEEWAY = 0.30
"""How far from its place a stroke may lie, in places (44 runs of sixteenths by people to a
click, spread 0.06 to 0.11 of a place, all read as held at 0.30)."""
GALLOP_LIMIT = 0.25
"""Most of a place that a place's own habit may take out before the break is looked for."""
LONGEST_SLIP = 2
_MOST_ROUNDS = 8
_FEWEST_FOR_HABIT = 5


class BadRun(NamedTuple):
    """A run of bad places: ``start`` to ``end`` (not included)."""

    start: int
    end: int


@dataclass(frozen=True)
class HoldGrid:
    """The places that one hand is judged against.

    Attributes
    ----------
    first_place_s : time of place 0
    place_s : length of a place
    places : how many places there are
    places_per_count : places in a count
    leeway : how far from its place a stroke may lie, in places
    """

    first_place_s: float
    place_s: float
    places: int
    places_per_count: int
    leeway: float


@dataclass(frozen=True)
class Hold:
    """How long one hand held the click.

    Attributes
    ----------
    count_held : counts before the break, or all that were offered
    last_locked_count : last count with every place good, never less than ``count_held``
    clean_counts : counts inside the hold with every place good
    first_bad_place : place of the break, or None where the hand held to the end
    lead_s : median asynchrony before the break (early is negative)
    habit_s : float array, shape (places_per_count,), what each place of the figure was
        allowed for; zeros unless the hand gallops
    gallops : True where the break was found with the habit of each place taken out
    stroke_of_place : int array, shape (places,), index of the matched stroke or NO_STROKE
    good : bool array, shape (places,)
    """

    count_held: int
    last_locked_count: int
    clean_counts: int
    first_bad_place: int | None
    lead_s: float
    habit_s: FloatArray
    gallops: bool
    stroke_of_place: IntArray
    good: BoolArray

    @property
    def held_places(self) -> int:
        """Places before the break, or all of them."""
        return int(self.good.size) if self.first_bad_place is None else self.first_bad_place


def judge_hold(stroke_s: FloatArray, grid: HoldGrid, *, presumed: BoolArray | None = None) -> Hold:
    """Find where one hand lost the click.

    Parameters
    ----------
    stroke_s : float array, shape (n,), seconds, increasing: the strokes of this hand
    grid : the places
    presumed : bool array, shape (places,): places that are good although no stroke was heard
        in them, since the recording hid it; None where there are none

    Returns
    -------
    hold : the count held and what it rests on

    Source
    ------
    Ours: the definition at the head of this module; the lead is found by iterating from the
    first two counts until the break stays.
    """
    n = grid.places_per_count
    taken = np.zeros(grid.places, dtype=np.bool_) if presumed is None else presumed
    plain = _settle(stroke_s, grid, taken, _first_lead_s(stroke_s, grid), np.zeros(n))
    habit_s = _habit_s(stroke_s, grid, plain)
    if np.max(np.abs(habit_s), initial=0.0) <= 0.5 * grid.leeway * grid.place_s:
        return plain
    habit_s = np.clip(habit_s, -GALLOP_LIMIT * grid.place_s, GALLOP_LIMIT * grid.place_s)
    return _settle(stroke_s, grid, taken, plain.lead_s, habit_s)


def find_break(good: BoolArray, *, places_per_count: int) -> int | None:
    """First place of the break, or None where there is none.

    Parameters
    ----------
    good : bool array, shape (places,)
    places_per_count : places in a count

    Examples
    --------
    >>> find_break(np.array([True] * 8 + [False] + [True] * 7), places_per_count=4) is None
    True
    >>> find_break(np.array([True] * 8 + [False] * 3 + [True] * 5), places_per_count=4)
    8
    """
    runs = bad_runs(good)
    for index, run in enumerate(runs):
        before = run.start - (runs[index - 1].end if index else 0)
        last = index + 1 == len(runs)
        after = (good.size if last else runs[index + 1].start) - run.end
        is_slip = run.end - run.start <= LONGEST_SLIP
        enough_before = index == 0 or before >= places_per_count
        enough_after = after >= (1 if last else places_per_count)
        if not (is_slip and enough_before and enough_after):
            return run.start
    return None


def bad_runs(good: BoolArray) -> list[BadRun]:
    """All runs of bad places, in order."""
    edges = np.flatnonzero(np.diff(np.concatenate(([True], good, [True])).astype(np.int8)))
    return [BadRun(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _first_lead_s(stroke_s: FloatArray, grid: HoldGrid) -> float:
    """Lead of the first two counts as a circular mean: no matching is needed for it."""
    early = (stroke_s - grid.first_place_s) / grid.place_s
    early = early[(early > -0.5) & (early < 2 * grid.places_per_count - 0.5)]
    if early.size == 0:
        return 0.0
    turn = np.mean(np.exp(2j * np.pi * early))
    return float(np.angle(turn) / (2 * np.pi) * grid.place_s)


def _settle(
    stroke_s: FloatArray,
    grid: HoldGrid,
    presumed: BoolArray,
    lead_s: float,
    habit_s: FloatArray,
) -> Hold:
    """Judge, take the median lead before the break again, until the break stays."""
    seen: list[int | None] = []
    hold = _judge_once(stroke_s, grid, presumed, lead_s, habit_s)
    for _ in range(_MOST_ROUNDS):
        seen.append(hold.first_bad_place)
        lead_s = _lead_before_break_s(stroke_s, grid, hold)
        hold = _judge_once(stroke_s, grid, presumed, lead_s, habit_s)
        if hold.first_bad_place == seen[-1]:
            break
    return hold


def _asynchrony_s(stroke_s: FloatArray, grid: HoldGrid, matched: IntArray) -> FloatArray:
    """Stroke minus place for every place, NaN where there is no stroke."""
    place_s = grid.first_place_s + grid.place_s * np.arange(grid.places)
    found = np.full(grid.places, np.nan)
    has = matched != NO_STROKE
    found[has] = stroke_s[matched[has]] - place_s[has]
    return found


def _lead_before_break_s(stroke_s: FloatArray, grid: HoldGrid, hold: Hold) -> float:
    end = max(hold.held_places, 2 * grid.places_per_count)
    lateness = _asynchrony_s(stroke_s, grid, hold.stroke_of_place)
    lateness = lateness - np.resize(hold.habit_s, grid.places)
    inside = lateness[:end]
    inside = inside[~np.isnan(inside)]
    return float(np.median(inside)) if inside.size else hold.lead_s


def _judge_once(
    stroke_s: FloatArray,
    grid: HoldGrid,
    presumed: BoolArray,
    lead_s: float,
    habit_s: FloatArray,
) -> Hold:
    n = grid.places_per_count
    gallops = bool(np.any(habit_s))
    # Matching is done against the places as this hand plays them, habit included: the
    # strokes of the nearest place say how far each is to be moved back.
    place = (stroke_s - lead_s - grid.first_place_s) / grid.place_s
    if gallops:
        nearest = np.mod(np.round(place).astype(np.int64), n)
        place = np.maximum.accumulate(place - habit_s[nearest] / grid.place_s)
    matched = match_in_order(place, places=grid.places)
    has = matched != NO_STROKE
    good = presumed.copy()
    good[has] |= np.abs(place[matched[has]] - np.flatnonzero(has)) <= grid.leeway
    first_bad = find_break(good, places_per_count=n)
    counts = grid.places // n
    held = counts if first_bad is None else first_bad // n
    whole: BoolArray = np.all(good[: counts * n].reshape(counts, n), axis=1)
    locked = np.flatnonzero(whole)
    return Hold(
        count_held=held,
        last_locked_count=max(held, int(locked[-1]) + 1 if locked.size else 0),
        clean_counts=int(np.count_nonzero(whole[:held])),
        first_bad_place=first_bad,
        lead_s=lead_s,
        habit_s=habit_s,
        gallops=gallops,
        stroke_of_place=matched,
        good=good,
    )


def _habit_s(stroke_s: FloatArray, grid: HoldGrid, hold: Hold) -> FloatArray:
    """Median departure of each place of the figure from the lead, in a steady stretch.

    The stretch is the hold, or the first eight counts where the hold is shorter. Zeros where
    any place has too few strokes or wanders by more than half the leeway around its own
    median: then it is not a habit.
    """
    n = grid.places_per_count
    end = min(max(hold.held_places, 8 * n), grid.places)
    lateness = _asynchrony_s(stroke_s, grid, hold.stroke_of_place)[:end] - hold.lead_s
    lateness = lateness[: end // n * n].reshape(-1, n)
    heard = np.count_nonzero(~np.isnan(lateness), axis=0)
    if lateness.size == 0 or np.min(heard) < _FEWEST_FOR_HABIT:
        return np.zeros(n)
    middle = np.nanmedian(lateness, axis=0)
    wander = np.nanmedian(np.abs(lateness - middle), axis=0) * 1.4826
    if np.max(wander) > 0.5 * grid.leeway * grid.place_s:
        return np.zeros(n)
    return np.asarray(middle - np.median(middle), dtype=np.float64)
