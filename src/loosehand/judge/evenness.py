"""How even a hand was until it lost the click.

All figures are of the strokes matched to places before the break. Conventions:

- asynchrony = stroke - place: early is negative. ``lead_ms`` is its median.
- An interval is taken only between strokes on adjacent places, so a slip costs the two intervals
  beside it and nothing is guessed.
- Drift is removed from intervals by taking off their mean over `DRIFT_COUNTS` counts around each.
- The profile of a place is its mean distance from its own count, over the counts with every place
  played, the steady drift within a count taken out first.
- Errors are one standard error; ranges hold four chances in five. Both allow for counts that go
  together (lag-1 correlation of count means).

What cannot be known is None, with a sentence in ``notes``.

Source: ours, but for the lag-1 correlations, which are the field's, and the split
(`loosehand.judge.variability`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadTimes, EvidenceError
from loosehand.judge.variability import (
    NORMAL_80,
    UNKNOWN,
    Figure,
    SplitRequest,
    TimingSplit,
    correction_split,
)

__all__ = [
    "DRIFT_COUNTS",
    "LEAST_COUNTS",
    "Evenness",
    "HandsEvenness",
    "HandsGap",
    "HeldStrokes",
    "PlaceProfile",
    "check_held",
    "interlock",
    "measure_evenness",
    "measure_hands",
    "slope_per_minute",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DRIFT_COUNTS = 4
"""Counts over which the local mean interval is taken. Ours: long enough to leave the stroke to
stroke variability, short enough to follow a hand that slows."""

LEAST_COUNTS = 4
"""Counts needed for a profile, a drift or a gap. Ours, chosen, not validated."""


@dataclass(frozen=True)
class HeldStrokes:
    """Strokes of one hand (or one stream) matched before the break.

    Attributes
    ----------
    place_index : int array, shape (n,), strictly increasing, place number from 0
    time_s : float array, shape (n,); the strokes of two interlocked hands may overtake
    asynchrony_s : float array, shape (n,), stroke - place
    level_db : float array, shape (n,)
    places_per_count : places in a count on this hand's own grid
    place_s : length of a place of that grid
    """

    place_index: IntArray
    time_s: FloatArray
    asynchrony_s: FloatArray
    level_db: FloatArray
    places_per_count: int
    place_s: float


@dataclass(frozen=True)
class PlaceProfile:
    """How one place of the count stands against its count. Position 0 is the count itself.

    Attributes
    ----------
    place : place in the count, from 0
    timing_ms, timing_error_ms : mean distance from the count's mean asynchrony, late positive
    level_db, level_error_db : mean distance from the count's mean level
    counts : counts that were used
    """

    place: int
    timing_ms: float
    timing_error_ms: float
    level_db: float
    level_error_db: float
    counts: int


@dataclass(frozen=True)
class Evenness:
    """Evenness of one stream of strokes.

    Attributes
    ----------
    strokes : strokes used
    lead_ms : median asynchrony, or None with no stroke
    asynchrony_sd_ms : spread of asynchronies around their mean
    interval_sd_ms, interval_cv : spread of intervals with drift removed; the second as a share of
        a place
    asynchrony_lag1, interval_lag1 : correlation of neighbours
    drift_ms_per_minute : how asynchrony grows against the click
    places : profile by place, empty where there are too few whole counts
    level_spread_db : spread of level with profile and slope removed
    level_slope_db_per_minute : how level grows
    split : timekeeper, motor part and correction, or None
    notes : sentences about what could not be told
    """

    strokes: int
    lead_ms: float | None
    asynchrony_sd_ms: float | None
    interval_sd_ms: float | None
    interval_cv: float | None
    asynchrony_lag1: float | None
    interval_lag1: float | None
    drift_ms_per_minute: Figure
    places: tuple[PlaceProfile, ...]
    level_spread_db: float | None
    level_slope_db_per_minute: Figure
    split: TimingSplit | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class HandsGap:
    """What lies between the hands: left - right, so positive is left late, left louder.

    Attributes
    ----------
    timing_ms, timing_error_ms : mean difference of asynchrony on each hand's own places; nought is
        an even interlock
    level_db, level_error_db : mean difference of level
    counts : counts in which both hands played
    """

    timing_ms: float
    timing_error_ms: float
    level_db: float
    level_error_db: float
    counts: int


@dataclass(frozen=True)
class HandsEvenness:
    """Each hand by itself, and the gap between them (None with a note where too short)."""

    left: Evenness
    right: Evenness
    gap: HandsGap | None
    notes: tuple[str, ...]


def check_held(held: HeldStrokes) -> None:
    """Refuse strokes that are not one finite row in order.

    Raises
    ------
    BadTimes
        If lengths differ, a number is not finite, or places do not increase.
    """
    sizes = {held.place_index.size, held.time_s.size, held.asynchrony_s.size, held.level_db.size}
    if len(sizes) != 1:
        raise BadTimes(f"held strokes have arrays of lengths {sorted(sizes)}; one length is needed")
    for name in ("time_s", "asynchrony_s", "level_db"):
        if not np.all(np.isfinite(getattr(held, name))):
            raise BadTimes(f"{name} of the held strokes holds a number that is not finite")
    if np.any(np.diff(held.place_index) <= 0):
        raise BadTimes("places of held strokes must increase from stroke to stroke")


def measure_evenness(held: HeldStrokes, *, split_request: SplitRequest | None) -> Evenness:
    """Measure how even one stream of strokes was.

    Parameters
    ----------
    held : strokes matched before the break
    split_request : what the timing split needs, or None where no split is to be made (one hand of
        two: the split belongs to both together)

    Returns
    -------
    evenness : Evenness

    Raises
    ------
    BadTimes
        If the strokes are not one finite row in order.

    Source
    ------
    Ours; see the module's head for the definitions.
    """
    check_held(held)
    notes: list[str] = []
    strokes = int(held.time_s.size)
    asynchrony_ms = 1e3 * held.asynchrony_s
    interval_ms, after = _adjacent_intervals(held)
    interval_sd = _interval_spread(interval_ms, DRIFT_COUNTS * held.places_per_count)
    if interval_sd is None:
        notes.append(f"Evenness of intervals needs 8 of them, got {interval_ms.size}.")
    drift, spread, slope, profile = _by_count(held, notes)
    adjacent = np.diff(held.place_index) == 1
    return Evenness(
        strokes=strokes,
        lead_ms=float(np.median(asynchrony_ms)) if strokes else None,
        asynchrony_sd_ms=float(asynchrony_ms.std(ddof=1)) if strokes >= 8 else None,
        interval_sd_ms=interval_sd,
        interval_cv=None if interval_sd is None else interval_sd / (1e3 * held.place_s),
        asynchrony_lag1=_neighbour_correlation(asynchrony_ms, adjacent),
        interval_lag1=_neighbour_correlation(interval_ms, np.diff(after) == 1),
        drift_ms_per_minute=drift,
        places=profile,
        level_spread_db=spread,
        level_slope_db_per_minute=slope,
        split=_split(held, split_request, notes),
        notes=tuple(notes),
    )


def interlock(leading: HeldStrokes, following: HeldStrokes) -> HeldStrokes:
    """Both hands of an alternating take as one stream, up to the earlier of their last places.

    Parameters
    ----------
    leading : strokes of the hand that plays place 0, on its own grid
    following : strokes of the other, on its own grid, half a place later

    Returns
    -------
    held : strokes on the grid of both together: twice the places, half as long

    Raises
    ------
    BadTimes
        If a hand's strokes are not one finite row in order.
    """
    check_held(leading)
    check_held(following)
    place = np.concatenate([2 * leading.place_index, 2 * following.place_index + 1])
    order = np.argsort(place, kind="stable")
    ends = [2 * int(hand.place_index[-1]) + 1 for hand in (leading, following) if hand.time_s.size]
    order = order[place[order] <= (min(ends) if len(ends) == 2 else -1)]

    def both(name: str) -> FloatArray:
        joined: FloatArray = np.concatenate([getattr(leading, name), getattr(following, name)])
        return joined[order]

    return HeldStrokes(
        place_index=place[order],
        time_s=both("time_s"),
        asynchrony_s=both("asynchrony_s"),
        level_db=both("level_db"),
        places_per_count=2 * leading.places_per_count,
        place_s=0.5 * leading.place_s,
    )


def measure_hands(left: HeldStrokes, right: HeldStrokes) -> HandsEvenness:
    """Measure each hand of an alternating take by itself, and the gap between them.

    Parameters
    ----------
    left, right : each hand's strokes on its own grid

    Returns
    -------
    hands : HandsEvenness, without timing splits

    Raises
    ------
    BadTimes
        If a hand's strokes are not one finite row in order.
    """
    gap = _hands_gap(left, right)
    notes: tuple[str, ...] = ()
    if gap is None:
        notes = (f"The gap between the hands needs {LEAST_COUNTS} counts with both of them.",)
    return HandsEvenness(
        left=measure_evenness(left, split_request=None),
        right=measure_evenness(right, split_request=None),
        gap=gap,
        notes=notes,
    )


def _adjacent_intervals(held: HeldStrokes) -> tuple[FloatArray, IntArray]:
    """Intervals between adjacent places in ms, and the place at which each begins."""
    adjacent = np.flatnonzero(np.diff(held.place_index) == 1)
    interval_ms = 1e3 * (held.place_s + np.diff(held.asynchrony_s)[adjacent])
    return interval_ms, held.place_index[adjacent]


def _interval_spread(interval_ms: FloatArray, window: int) -> float | None:
    """Spread of intervals around their local mean, or None with fewer than 8."""
    if interval_ms.size < 8:
        return None
    width = min(max(window, 8), interval_ms.size)
    number = np.arange(interval_ms.size)
    first = np.clip(number - width // 2, 0, interval_ms.size - width)
    total = np.concatenate([[0.0], np.cumsum(interval_ms)])
    away = interval_ms - (total[first + width] - total[first]) / width
    return float(np.sqrt(np.mean(away**2) * width / (width - 1)))


def _neighbour_correlation(series: FloatArray, adjacent: NDArray[np.bool_]) -> float | None:
    """Lag-1 correlation over the neighbours that are adjacent, or None with fewer than 16."""
    if np.count_nonzero(adjacent) < 16:
        return None
    away = series - series.mean()
    variance = float(np.mean(away**2))
    if variance <= 0.0:
        return None
    return float(np.mean((away[1:] * away[:-1])[adjacent])) / variance


def _by_count(
    held: HeldStrokes, notes: list[str]
) -> tuple[Figure, float | None, Figure, tuple[PlaceProfile, ...]]:
    """Drift, level spread, level slope and profile: what goes by whole counts."""
    table = _whole_counts(held)
    if table is None:
        notes.append(
            f"Drift, profile and level need {LEAST_COUNTS} counts with every place played."
        )
        return UNKNOWN, None, UNKNOWN, ()
    count_time_s, asynchrony_ms, level_db = table
    drift = slope_per_minute(count_time_s, asynchrony_ms.mean(axis=1))
    slope = slope_per_minute(count_time_s, level_db.mean(axis=1))
    timing, timing_error = _contrast(asynchrony_ms, drift, held.place_s)
    level, level_error = _contrast(level_db, slope, held.place_s)
    profile = tuple(
        PlaceProfile(
            place=place,
            timing_ms=float(timing[place]),
            timing_error_ms=float(timing_error[place]),
            level_db=float(level[place]),
            level_error_db=float(level_error[place]),
            counts=int(count_time_s.size),
        )
        for place in range(held.places_per_count)
    )
    return drift, _level_spread(held, level), slope, profile


def _whole_counts(held: HeldStrokes) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Time of each whole count, and its asynchronies and levels by place; None if too few."""
    count = held.place_index // held.places_per_count
    numbers, starts, sizes = np.unique(count, return_index=True, return_counts=True)
    starts = starts[sizes == held.places_per_count]
    if starts.size < LEAST_COUNTS:
        return None
    strokes = starts[:, None] + np.arange(held.places_per_count)
    whole = numbers[sizes == held.places_per_count]
    count_time_s = whole * (held.place_s * held.places_per_count)
    return count_time_s, 1e3 * held.asynchrony_s[strokes], held.level_db[strokes]


def slope_per_minute(count_time_s: FloatArray, mean_by_count: FloatArray) -> Figure:
    """Least-squares slope a minute; its range allows for counts that go together.

    Parameters
    ----------
    count_time_s : float array, shape (n,), n >= 3, times of the counts or groups
    mean_by_count : float array, shape (n,), what is measured of each

    Returns
    -------
    slope : Figure, in the unit measured a minute
    """
    away_minute = (count_time_s - count_time_s.mean()) / 60.0
    leverage = float(np.dot(away_minute, away_minute))
    slope = float(np.dot(away_minute, mean_by_count)) / leverage
    residual = mean_by_count - mean_by_count.mean() - slope * away_minute
    error = np.sqrt(float(np.dot(residual, residual)) / (count_time_s.size - 2) / leverage)
    reach = NORMAL_80 * float(error) * _inflation(residual) * _student_share(count_time_s.size - 2)
    return Figure(slope, slope - reach, slope + reach)


def _student_share(freedom: int) -> float:
    """Ratio of Student's 90 % point to the normal's (first terms of Fisher's expansion)."""
    return 1.0 + (NORMAL_80**2 + 1.0) / (4.0 * freedom) + 0.5 / freedom**2


def _inflation(residual: FloatArray) -> float:
    """Factor on a standard error for a lag-1 correlation, itself corrected for few counts."""
    energy = float(np.dot(residual, residual))
    if energy <= 0.0:
        return 1.0
    raw = float(np.dot(residual[1:], residual[:-1])) / energy
    correlation = min(max(raw + (1.0 + 4.0 * raw) / residual.size, 0.0), 0.9)
    return float(np.sqrt((1.0 + correlation) / (1.0 - correlation)))


def _contrast(
    by_place: FloatArray, per_minute: Figure, place_s: float
) -> tuple[FloatArray, FloatArray]:
    """Mean of each place against its count, the steady slope taken out, with its error."""
    counts, places = by_place.shape
    per_place = (per_minute.told or 0.0) * place_s / 60.0
    tilt = per_place * (np.arange(places) - 0.5 * (places - 1))
    contrast = by_place - by_place.mean(axis=1, keepdims=True) - tilt
    error = contrast.std(axis=0, ddof=1) / np.sqrt(counts)
    return contrast.mean(axis=0), error


def _level_spread(held: HeldStrokes, level_profile: FloatArray) -> float:
    """Spread of level around its profile and a straight line."""
    flat = held.level_db - level_profile[held.place_index % held.places_per_count]
    away = held.time_s - held.time_s.mean()
    flat = flat - flat.mean() - away * (np.dot(away, flat) / np.dot(away, away))
    freedom = max(flat.size - held.places_per_count - 1, 1)
    return float(np.sqrt(np.dot(flat, flat) / freedom))


def _hands_gap(left: HeldStrokes, right: HeldStrokes) -> HandsGap | None:
    """Left - right over the counts that both hands played, or None with too few."""
    check_held(left)
    check_held(right)
    tables = [_count_means(left), _count_means(right)]
    both, at_left, at_right = np.intersect1d(tables[0][0], tables[1][0], return_indices=True)
    if both.size < LEAST_COUNTS:
        return None
    timing = tables[0][1][at_left] - tables[1][1][at_right]
    level = tables[0][2][at_left] - tables[1][2][at_right]
    return HandsGap(
        timing_ms=float(timing.mean()),
        timing_error_ms=_mean_error(timing),
        level_db=float(level.mean()),
        level_error_db=_mean_error(level),
        counts=int(both.size),
    )


def _count_means(held: HeldStrokes) -> tuple[IntArray, FloatArray, FloatArray]:
    """Number of each count with strokes, its mean asynchrony in ms and its mean level."""
    numbers, which = np.unique(held.place_index // held.places_per_count, return_inverse=True)
    size = np.bincount(which)
    asynchrony_ms = np.bincount(which, weights=1e3 * held.asynchrony_s) / size
    return numbers, asynchrony_ms, np.bincount(which, weights=held.level_db) / size


def _mean_error(series: FloatArray) -> float:
    """Standard error of a mean of counts that may go together."""
    away = series - series.mean()
    return float(series.std(ddof=1) / np.sqrt(series.size)) * _inflation(away)


def _split(
    held: HeldStrokes, split_request: SplitRequest | None, notes: list[str]
) -> TimingSplit | None:
    """Timing split, or None with a note where it cannot be made; None where none was asked."""
    if split_request is None:
        return None
    try:
        split = correction_split(held.place_index, held.asynchrony_s, request=split_request)
    except EvidenceError as error:
        sentence = str(error)
        notes.append(f"{sentence[0].upper()}{sentence[1:]}.")
        return None
    return split
