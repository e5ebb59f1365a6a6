"""Where timing variability comes from: a timekeeper, a motor part, and a correction to the click.

Two models of the research field, both linear.

Open loop (no click to lean on): interval = T(n) + M(n) - M(n-1), with independent timekeeper
intervals T and motor delays M (Wing and Kristofferson 1973, Perception & Psychophysics 14:5-12).

With a click on every k-th place, the asynchrony A (stroke - place, early is negative) follows

    A(n+1) = A(n) - a c(n) A(n) + T(n) + M(n+1) - M(n),    c(n) = 1 where a click sounds, else 0

so that a share ``a`` of what was off at the last click is put right by the next stroke, and
between clicks nothing is (for k = 1 the model of Vorberg and Wing 1996). The ear's own noise adds
to the motor part and is taken off it.

How the second is fitted. The increments A(n+1) - A(n) + a c(n) A(n) have a tridiagonal covariance
whose eigenvectors are sines, so the exact restricted likelihood (steady start, place means taken
out) costs a few sums for each pair of correction and lag-1 share, and is taken on a whole grid of
them. What is told is the middle of the weight on that grid. The bounds of Jacoby and others
(2015, Timing & Time Perception 3:52-87) are kept: no variance below nought, the correction in a
stable range and, where a click sounds at every place, motor variance not above timekeeper
variance: without that bound their two parts cannot be told apart there. Where clicks are further
apart the strokes between them tell the parts, and the bound is not needed.

A figure is told only if the likelihood leaves `LEAST_SURE` of its weight within `TOLERANCE_SHARE`
of it. Otherwise it is None, with a sentence that says so, and its range stands alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import NotIdentifiable, TooFewStrokes

__all__ = [
    "CORRECTION_TOLERANCE",
    "LEAST_STROKES",
    "LEAST_SURE",
    "NORMAL_80",
    "TOLERANCE_SHARE",
    "Figure",
    "SplitRequest",
    "TimingSplit",
    "correction_split",
    "open_loop_parts",
    "steady_variance",
    "wing_kristofferson",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOLERANCE_SHARE = 0.15
"""A figure is told if it is sure to this share of itself. Ours."""

CORRECTION_TOLERANCE = 0.05
"""Least tolerance of a correction, so that one of nought can be told. Ours."""

LEAST_SURE = 0.9
"""Weight that must lie within the tolerance. Ours; what it costs is in bench/timing_split.py."""

LEAST_STROKES = 40
"""Fewer strokes than this tell no split. Ours, chosen, not validated."""

NORMAL_80 = 1.2816
"""Errors of a normal to each side of which four chances in five lie."""

_CORRECTIONS: FloatArray = np.concatenate(
    [np.arange(0.0025, 0.1, 0.005), np.arange(0.1125, 1.5, 0.025)]
)
_CORRECTION_WIDTHS: FloatArray = np.where(_CORRECTIONS < 0.1, 0.005, 0.025)
_LAG_CELLS = 40
_LEAST_SPREAD_S = 1e-9
_LARGEST_LAG_SHARE = 0.5
_LARGEST_LAG_SHARE_BOUNDED = 1.0 / 3.0
# Nodes and weights of five-point Gauss-Hermite quadrature for a standard normal.
_NORMAL_NODES: FloatArray = np.array([-2.856970, -1.355626, 0.0, 1.355626, 2.856970])
_NORMAL_WEIGHTS: FloatArray = np.array([0.011257, 0.222076, 0.533333, 0.222076, 0.011257])


@dataclass(frozen=True)
class Figure:
    """One figure and the range in which four chances in five lie.

    Attributes
    ----------
    told : the figure, or None where it cannot be told
    low80, high80 : ends of the range, or None where there is none
    """

    told: float | None
    low80: float | None
    high80: float | None


UNKNOWN = Figure(told=None, low80=None, high80=None)


@dataclass(frozen=True)
class TimingSplit:
    """Timing variability taken apart.

    Attributes
    ----------
    model : ``phase correction`` or ``open loop``
    strokes : strokes that were used
    timekeeper_ms, motor_ms : standard deviations of the two parts, measurement noise taken off
    correction : share of an asynchrony put right after a click, or unknown in the open loop
    notes : sentences about what could not be told
    """

    model: Literal["phase correction", "open loop"]
    strokes: int
    timekeeper_ms: Figure
    motor_ms: Figure
    correction: Figure
    notes: tuple[str, ...]


@dataclass(frozen=True)
class SplitRequest:
    """What the split needs to know beside the strokes.

    Attributes
    ----------
    places_per_count : places that have a mean of their own (1 e & a)
    click_every_places : a click sounds at every so many places
    click_phase_places : place number, from 0, of one of the clicks
    measurement_sd_s : standard deviation of the ear's own error in a stroke's time
    """

    places_per_count: int
    click_every_places: int
    click_phase_places: int
    measurement_sd_s: float


def open_loop_parts(variance: float, lag1_covariance: float) -> tuple[float, float]:
    """Timekeeper and motor variance from the intervals' variance and lag-1 covariance.

    Parameters
    ----------
    variance : variance of the intervals, any squared unit
    lag1_covariance : their autocovariance at lag 1, same unit

    Returns
    -------
    timekeeper_variance, motor_variance : same unit

    Raises
    ------
    NotIdentifiable
        If the lag-1 correlation lies outside [-0.5, 0], where one part would be negative, or the
        intervals have no spread.

    Source
    ------
    Wing and Kristofferson (1973), Perception & Psychophysics 14:5-12: var(I) = t + 2 m,
    cov at lag 1 = -m.

    Examples
    --------
    >>> open_loop_parts(150.0, -25.0)
    (100.0, 25.0)
    """
    if variance <= 0.0:
        raise NotIdentifiable(
            "the open-loop split cannot be told: the intervals have no spread at all"
        )
    if lag1_covariance > 0.0:
        raise NotIdentifiable(
            "the open-loop split cannot be told: neighbouring intervals go together (lag-1 "
            f"correlation {lag1_covariance / variance:+.2f}), which would need a negative motor "
            "variance"
        )
    timekeeper = variance + 2.0 * lag1_covariance
    if timekeeper < 0.0:
        raise NotIdentifiable(
            "the open-loop split cannot be told: the lag-1 correlation of intervals is "
            f"{lag1_covariance / variance:+.2f}, below the model's bound of -0.50"
        )
    return timekeeper, -lag1_covariance


def wing_kristofferson(interval_s: FloatArray, *, measurement_sd_s: float) -> TimingSplit:
    """Split open-loop intervals: for stretches where the click is silent, and only for them.

    Parameters
    ----------
    interval_s : float array, shape (n,), intervals between adjacent places, seconds
    measurement_sd_s : standard deviation of the ear's own error in a stroke's time

    Returns
    -------
    split : TimingSplit. Both parts unknown, with a note, where a bound is hit.

    Raises
    ------
    TooFewStrokes
        If there are fewer than `LEAST_STROKES` intervals.

    Source
    ------
    Wing and Kristofferson (1973), Perception & Psychophysics 14:5-12. Departs: the measurement
    variance is taken off the motor variance. The ranges come from the large-sample error of the
    first two autocovariances under the fitted model (Bartlett's formula).
    """
    if interval_s.size < LEAST_STROKES:
        raise TooFewStrokes(
            f"the open-loop split needs {LEAST_STROKES} intervals with the click silent, "
            f"got {interval_s.size}"
        )
    deviation = interval_s - interval_s.mean()
    variance = float(np.mean(deviation**2))
    covariance = float(np.dot(deviation[1:], deviation[:-1])) / interval_s.size
    try:
        timekeeper, motor = open_loop_parts(variance, covariance)
    except NotIdentifiable as error:
        return _open_loop(interval_s.size + 1, UNKNOWN, UNKNOWN, (str(error) + ".",))
    spread = _open_loop_errors(variance, covariance, interval_s.size)
    beyond = motor - measurement_sd_s**2
    notes: tuple[str, ...] = ()
    if beyond <= 0.0:
        notes = ("The motor part is no larger than the ear's own error and cannot be told.",)
    return _open_loop(
        interval_s.size + 1,
        _variance_figure(timekeeper, spread[0]),
        _variance_figure(beyond, spread[1]) if beyond > 0.0 else UNKNOWN,
        notes,
    )


def _open_loop(
    strokes: int, timekeeper: Figure, motor: Figure, notes: tuple[str, ...]
) -> TimingSplit:
    """Open-loop split of the parts given."""
    return TimingSplit("open loop", strokes, timekeeper, motor, UNKNOWN, notes)


def _open_loop_errors(variance: float, covariance: float, intervals: int) -> tuple[float, float]:
    """Standard errors of timekeeper and motor variance by Bartlett's formula for an MA(1)."""
    of_variance = 2.0 * (variance**2 + 2.0 * covariance**2)
    of_covariance = variance**2 + 3.0 * covariance**2
    between = 4.0 * variance * covariance
    timekeeper = of_variance + 4.0 * of_covariance + 4.0 * between
    return float(np.sqrt(max(timekeeper, 0.0) / intervals)), float(
        np.sqrt(of_covariance / intervals)
    )


def _variance_figure(variance_s2: float, error_s2: float) -> Figure:
    """Standard deviation in ms with its range, from a variance and its standard error."""
    low, high = variance_s2 - NORMAL_80 * error_s2, variance_s2 + NORMAL_80 * error_s2
    sd_ms, low_ms, high_ms = 1e3 * np.sqrt(np.maximum([variance_s2, low, high], 0.0))
    return Figure(float(sd_ms), float(low_ms), float(high_ms))


def correction_split(
    place_index: IntArray, asynchrony_s: FloatArray, *, request: SplitRequest
) -> TimingSplit:
    """Split asynchronies to a click into timekeeper, motor part and correction.

    Parameters
    ----------
    place_index : int array, shape (n,), strictly increasing: place of each stroke, from 0
    asynchrony_s : float array, shape (n,), stroke - place, seconds
    request : what else must be known

    Returns
    -------
    split : TimingSplit. What the strokes do not tell is None, with a note and its range.

    Raises
    ------
    TooFewStrokes
        If fewer than `LEAST_STROKES` strokes stand in runs of three or more adjacent places.
    NotIdentifiable
        If the asynchronies have no spread.

    Source
    ------
    Model: Vorberg and Wing (1996), with the correction at clicks only. Bounds: Jacoby, Tishby,
    Repp, Ahissar, Keller (2015), Timing & Time Perception 3:52-87. Restricted likelihood near a
    correction of nought: Chen and Deo (2009), Econometric Theory 25 (from memory). Departs: an
    exact restricted likelihood on a grid in place of iterated least squares.
    """
    runs = [run for run in _adjacent_runs(place_index) if run.size >= 3]
    strokes = sum(run.size for run in runs)
    if strokes < LEAST_STROKES:
        raise TooFewStrokes(
            f"the timing split needs {LEAST_STROKES} strokes on adjacent places, got {strokes}"
        )
    if _spread_beside_means_s(place_index, asynchrony_s, request) < _LEAST_SPREAD_S:
        raise NotIdentifiable("the timing split cannot be told: the asynchronies have no spread")
    lag_share = _lag_shares(request.click_every_places)
    residual, log_likelihood = _restricted_likelihood(
        [(place_index[run], 1e3 * asynchrony_s[run]) for run in runs], lag_share, request
    )
    columns = min(request.places_per_count, np.unique(place_index % request.places_per_count).size)
    weight = np.exp(log_likelihood - log_likelihood.max()) * _CORRECTION_WIDTHS
    weight /= weight.sum()
    freedom = strokes - columns
    doubt = np.exp(_NORMAL_NODES * np.sqrt(2.0 / freedom))[:, None, None]
    return _told(weight, doubt * residual / freedom, lag_share, strokes, request)


def _spread_beside_means_s(
    place_index: IntArray, asynchrony_s: FloatArray, request: SplitRequest
) -> float:
    """Greatest distance of a stroke from its place's mean."""
    position = place_index % request.places_per_count
    size = np.maximum(np.bincount(position), 1)
    means = np.bincount(position, weights=asynchrony_s) / size
    return float(np.abs(asynchrony_s - means[position]).max())


def _adjacent_runs(place_index: IntArray) -> list[IntArray]:
    """Stroke numbers of each run of adjacent places."""
    breaks = np.flatnonzero(np.diff(place_index) != 1) + 1
    return [run.astype(np.int64) for run in np.split(np.arange(place_index.size), breaks)]


def _lag_shares(click_every_places: int) -> FloatArray:
    """Middles of the cells of -(lag-1 correlation) of increments, within the bounds."""
    largest = _LARGEST_LAG_SHARE_BOUNDED if click_every_places == 1 else _LARGEST_LAG_SHARE
    return largest * (np.arange(_LAG_CELLS) + 0.5) / _LAG_CELLS


def _restricted_likelihood(
    runs: Sequence[tuple[IntArray, FloatArray]], lag_share: FloatArray, request: SplitRequest
) -> tuple[FloatArray, FloatArray]:
    """Residual sum of squares and log restricted likelihood, shape (lag shares, corrections)."""
    places = np.unique(np.concatenate([place for place, _ in runs]) % request.places_per_count)
    gram = np.zeros((lag_share.size, _CORRECTIONS.size, places.size + 1, places.size + 1))
    log_determinant = np.zeros(gram.shape[:2])
    for place, asynchrony_ms in runs:
        means = (place[:, None] % request.places_per_count == places).astype(np.float64)
        table = np.column_stack([means, asynchrony_ms])
        click = (place - request.click_phase_places) % request.click_every_places == 0
        since = (place[0] - 1 - request.click_phase_places) % request.click_every_places + 1
        steady = steady_variance(
            _CORRECTIONS,
            1.0 - 2.0 * lag_share[:, None],
            lag_share[:, None],
            every=request.click_every_places,
            since=int(since),
        )
        run_gram, run_determinant = _run_likelihood(table, click, lag_share, steady - 1.0)
        gram += run_gram
        log_determinant += run_determinant
    factor = np.linalg.cholesky(gram)
    diagonal = np.diagonal(factor, axis1=-2, axis2=-1)
    residual = diagonal[..., -1] ** 2
    strokes = sum(place.size for place, _ in runs)
    log_likelihood = (
        -0.5 * log_determinant
        - np.log(diagonal[..., :-1]).sum(axis=-1)
        - 0.5 * (strokes - places.size) * np.log(residual)
    )
    return residual, log_likelihood


def steady_variance(
    correction: FloatArray,
    timekeeper_variance: FloatArray,
    motor_variance: FloatArray,
    *,
    every: int,
    since: int,
) -> FloatArray:
    """Variance of asynchrony in the steady state of the phase-correction model.

    Parameters
    ----------
    correction : float array in (0, 2), share put right after a click
    timekeeper_variance, motor_variance : float arrays that broadcast with it, any squared unit
    every : a click sounds at every so many places
    since : places since the last click, 1 to ``every``; ``every`` is a place with a click

    Returns
    -------
    variance : float array, same unit

    Source
    ------
    Vorberg and Wing (1996) for a click at every place; else our own recursion from click to click.

    Examples
    --------
    >>> a, timekeeper, motor = np.array([0.5]), np.array([100.0]), np.array([25.0])
    >>> steady_variance(a, timekeeper, motor, every=1, since=1).round(4).tolist()
    [166.6667]
    """
    kept = (1.0 - correction) ** 2
    put_back = correction**2 * motor_variance
    at_click = (every * timekeeper_variance + put_back) / (1.0 - kept)
    clock = kept * at_click + put_back + since * timekeeper_variance
    variance: FloatArray = clock + motor_variance
    return variance


def _run_likelihood(
    table: FloatArray, click: NDArray[np.bool_], lag_share: FloatArray, start: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Weighted cross products and log determinant of one run, by sines."""
    strokes, columns = table.shape
    corrected = np.zeros_like(table)
    corrected[1:] = click[:-1, None] * table[:-1]
    increments = np.diff(table, axis=0, prepend=np.zeros((1, columns)))
    waves = _sine_transform(np.column_stack([increments, corrected]))
    angle = np.pi * np.arange(1, strokes + 1) / (strokes + 1)
    first = np.sqrt(2.0 / (strokes + 1)) * np.sin(angle)
    eigenvalue = 1.0 - 2.0 * lag_share[:, None] * np.cos(angle)
    products = (waves[:, :, None] * waves[:, None, :]).reshape(strokes, -1)
    weight = 1.0 / eigenvalue
    gram = (weight @ products).reshape(-1, 2 * columns, 2 * columns)
    edge = weight @ (waves * first[:, None])
    edge_norm = (weight @ first**2)[:, None]
    grow = _CORRECTIONS[:, None, None]
    plain, both = gram[:, None, :columns, :columns], gram[:, None, :columns, columns:]
    combined = (
        plain
        + grow * (both + np.swapaxes(both, -1, -2))
        + grow**2 * gram[:, None, columns:, columns:]
    )
    reach = edge[:, None, :columns] + _CORRECTIONS[:, None] * edge[:, None, columns:]
    inflation = 1.0 + start * edge_norm
    share = (start / inflation)[..., None, None]
    combined = combined - share * reach[..., :, None] * reach[..., None, :]
    return combined, np.log(eigenvalue).sum(axis=1)[:, None] + np.log(inflation)


def _sine_transform(table: FloatArray) -> FloatArray:
    """Orthonormal sine transform (type I) of each column."""
    strokes, columns = table.shape
    zero = np.zeros((1, columns))
    odd = np.concatenate([zero, table, zero, -table[::-1]])
    wave: FloatArray = -np.fft.rfft(odd, axis=0).imag[1 : strokes + 1]
    wave *= np.sqrt(0.5 / (strokes + 1))
    return wave


def _told(
    weight: FloatArray,
    increment_ms2: FloatArray,
    lag_share: FloatArray,
    strokes: int,
    request: SplitRequest,
) -> TimingSplit:
    """Figures, ranges and notes from the weight and the increments' variance on the grid."""
    many = _NORMAL_WEIGHTS[:, None, None] * weight
    measurement_ms2 = (1e3 * request.measurement_sd_s) ** 2
    motor_ms2 = increment_ms2 * lag_share[:, None] - measurement_ms2
    timekeeper_ms = np.sqrt(increment_ms2 * (1.0 - 2.0 * lag_share[:, None]))
    motor_ms = np.sqrt(np.maximum(motor_ms2, 0.0))
    corrections = np.broadcast_to(_CORRECTIONS, weight.shape)
    correction = _figure(corrections, weight, least_tolerance=CORRECTION_TOLERANCE)
    timekeeper = _figure(timekeeper_ms, many, least_tolerance=0.0)
    motor = _figure(motor_ms, many, least_tolerance=0.0)
    notes = [
        *_parts_notes(weight.sum(axis=1), lag_share, timekeeper, motor),
        *_correction_notes(correction, strokes),
    ]
    return TimingSplit("phase correction", strokes, timekeeper, motor, correction, tuple(notes))


def _figure(values: FloatArray, weight: FloatArray, *, least_tolerance: float) -> Figure:
    """Middle of the weight, told if enough of the weight lies close, and its range."""
    order = np.argsort(values, axis=None, kind="stable")
    sorted_values, sorted_weight = values.ravel()[order], weight.ravel()[order]
    below = np.cumsum(sorted_weight) - 0.5 * sorted_weight
    low, middle, four_fifths, high = np.interp([0.1, 0.5, 0.8, 0.9], below, sorted_values)
    if middle <= least_tolerance:
        low, high = np.float64(0.0), four_fifths
    tolerance = max(TOLERANCE_SHARE * middle, least_tolerance)
    near = float(sorted_weight[np.abs(sorted_values - middle) <= tolerance].sum())
    told = float(middle) if near >= LEAST_SURE and middle > 0.0 else None
    return Figure(told, float(low), float(high))


def _parts_notes(
    lag_weight: FloatArray, lag_share: FloatArray, timekeeper: Figure, motor: Figure
) -> list[str]:
    """Say why a part is not told, and which bound it leans on."""
    if timekeeper.told is not None and motor.told is not None:
        return []
    peak = int(np.argmax(lag_weight))
    if peak == 0:
        return [f"The motor part cannot be told from nought (at most {motor.high80:.1f} ms)."]
    if peak == lag_share.size - 1 and lag_share[-1] < _LARGEST_LAG_SHARE_BOUNDED:
        return [
            "The split leans on its bound, a motor part as large as the timekeeper's; with a "
            "click at every stroke the two cannot be told apart here."
        ]
    if peak == lag_share.size - 1:
        high = f"at most {timekeeper.high80:.1f} ms"
        return [f"The timekeeper part cannot be told from nought ({high})."]
    ranges = {"timekeeper": timekeeper, "motor": motor}
    return [
        f"The {name} part cannot be told within 15 %: it lies between {figure.low80:.1f} and "
        f"{figure.high80:.1f} ms."
        for name, figure in ranges.items()
        if figure.told is None
    ]


def _correction_notes(correction: Figure, strokes: int) -> list[str]:
    """Say that the correction is not told, with its range."""
    if correction.told is not None:
        return []
    return [
        f"The correction to the click cannot be told from {strokes} strokes: it lies between "
        f"{correction.low80:.2f} and {correction.high80:.2f}."
    ]
