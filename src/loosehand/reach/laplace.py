"""One law at given noises: the most probable form of each day, and how sure that is.

Unknown are the tempo held for a minute on each day (trend and form of the day together), the log
of the steepness and, for the top rate law, the log of its time constant. Their posterior is taken
as normal about its mode (Laplace); the noises are handed in, and integrated over elsewhere.

Source
------
Rasmussen and Williams (2006), Gaussian Processes for Machine Learning, section 3.4 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.hand_data import HandData
from loosehand.reach.interval_likelihood import IntervalChance, interval_chance
from loosehand.reach.laws import Law
from loosehand.reach.margin import Margin, Noise, margin
from loosehand.reach.prior import LAPSE_SHARE

__all__ = ["Mode", "Shape", "Task", "curve_figures", "find_mode", "log_chance", "margins"]

FloatArray = NDArray[np.float64]
_MOST_STEPS = 40
_MOST_HALVINGS = 8
_NEAR_BPM = 0.02
"""A last step smaller than this is taken, and ends the climb."""
_LITTLE = 2e-3
"""So does a step that gains less than this of log chance."""
_ROUNDING = 1e-6


@dataclass(frozen=True)
class Shape:
    """Prior of what shapes the curve: means and spreads, shape (k,), k = 2 with a top rate."""

    mean: FloatArray
    sd: FloatArray


@dataclass(frozen=True)
class Task:
    """What is fitted.

    Attributes
    ----------
    data : the rounds
    law : of the curve
    low_s, high_s : float arrays, shape (n,), bounds of the hold times of a fresh hand
    minute_bpm : float, prior mean of the tempo held for a minute, on any day
    trend_values, trend_vectors : eigenvalues and -vectors of the prior covariance of the trend
    shape : prior of the log of steepness (and of the top rate's time constant)
    """

    data: HandData
    law: Law
    low_s: FloatArray
    high_s: FloatArray
    minute_bpm: float
    trend_values: FloatArray
    trend_vectors: FloatArray
    shape: Shape


@dataclass(frozen=True)
class Mode:
    """The most probable values, and the normal law about them.

    Attributes
    ----------
    day_bpm : float array, shape (d,), tempo held for a minute on each day
    log_shape : float array, shape (k,)
    log_evidence : log of the chance of the data at these noises, up to one constant for all
    precision : float array, shape (d, d), prior precision of the days
    weight, pull : float arrays, shape (d,): curvature and slope of the likelihood by day
    cross : float array, shape (d, k), curvature between day and shape
    shape_precision : float array, shape (k, k), curvature of likelihood and prior by shape
    """

    day_bpm: FloatArray
    log_shape: FloatArray
    log_evidence: float
    precision: FloatArray
    weight: FloatArray
    pull: FloatArray
    cross: FloatArray
    shape_precision: FloatArray


def find_mode(
    task: Task, *, noise: Noise, form_bpm: float, day_bpm: FloatArray, log_shape: FloatArray
) -> Mode:
    """Climb to the mode by Newton's method, from a first guess.

    Parameters
    ----------
    task : what is fitted
    noise : from round to round
    form_bpm : spread of the day's form
    day_bpm, log_shape : where to begin
    """
    values = task.trend_values + form_bpm**2
    precision = (task.trend_vectors / values) @ task.trend_vectors.T
    log_prior_scale = -0.5 * float(np.log(values).sum()) - float(np.log(task.shape.sd).sum())
    day, shape = day_bpm.copy(), log_shape.copy()
    chance, parts = _likelihood(task, noise, day, shape)
    height = _height(task, precision, chance, day, shape)
    for _ in range(_MOST_STEPS):
        step_day, step_shape = _step(task, precision, parts, day, shape)
        far = max(float(np.abs(step_day).max()), 10.0 * float(np.abs(step_shape).max()))
        length = 1.0
        for _ in range(_MOST_HALVINGS):
            new_day, new_shape = day + length * step_day, shape + length * step_shape
            chance, new_parts = _likelihood(task, noise, new_day, new_shape)
            new_height = _height(task, precision, chance, new_day, new_shape)
            if new_height >= height - _ROUNDING or far < _NEAR_BPM:
                break
            length *= 0.5
        else:
            break
        gained = new_height - height
        day, shape, parts, height = new_day, new_shape, new_parts, new_height
        if far < _NEAR_BPM or gained < _LITTLE:
            break
    weight, pull, cross, shape_bend, _ = parts
    shape_precision = shape_bend + np.diag(1.0 / task.shape.sd**2)
    half_log_det = _half_log_det(precision, weight, cross, shape_precision)
    return Mode(
        day_bpm=day,
        log_shape=shape,
        log_evidence=height + log_prior_scale - half_log_det,
        precision=precision,
        weight=weight,
        pull=pull,
        cross=cross,
        shape_precision=shape_precision,
    )


_Parts = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]


def _height(
    task: Task, precision: FloatArray, log_chance: float, day: FloatArray, shape: FloatArray
) -> float:
    """Log of likelihood times prior, without constants."""
    off = day - task.minute_bpm
    stretched = (shape - task.shape.mean) / task.shape.sd
    return float(log_chance - 0.5 * off @ precision @ off - 0.5 * stretched @ stretched)


def _step(
    task: Task, precision: FloatArray, parts: _Parts, day: FloatArray, shape: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Newton's step, days first, then what is left for the shape (Schur complement)."""
    weight, pull, cross, shape_bend, shape_pull = parts
    day_pull = pull - precision @ (day - task.minute_bpm)
    own_pull = shape_pull - (shape - task.shape.mean) / task.shape.sd**2
    bent = precision + np.diag(weight)
    solved = np.linalg.solve(bent, np.column_stack([day_pull, cross]))
    left = shape_bend + np.diag(1.0 / task.shape.sd**2) - cross.T @ solved[:, 1:]
    step_shape = np.linalg.solve(left, own_pull - cross.T @ solved[:, 0])
    step_shape = np.clip(step_shape, -1.0, 1.0)
    return solved[:, 0] - solved[:, 1:] @ step_shape, step_shape


def _half_log_det(
    precision: FloatArray, weight: FloatArray, cross: FloatArray, shape_precision: FloatArray
) -> float:
    bent = precision + np.diag(weight)
    left = shape_precision - cross.T @ np.linalg.solve(bent, cross)
    return 0.5 * float(np.linalg.slogdet(bent)[1] + np.linalg.slogdet(left)[1])


def _likelihood(
    task: Task, noise: Noise, day: FloatArray, shape: FloatArray
) -> tuple[float, _Parts]:
    """Log likelihood; by day weight and pull; cross; by shape bend and pull."""
    data = task.data
    low, high = margins(task, noise, minute_bpm=day[data.day_index], log_shape=shape)
    found = interval_chance(low.z, high.z, lapse_share=LAPSE_SHARE, lapse_chance=data.lapse_chance)
    return float(found.log_chance.sum()), _gathered(found, low, high, data, task.law)


def curve_figures(log_shape: FloatArray) -> tuple[float, float]:
    """Steepness (bpm) and time constant of the top rate (seconds; 0 where the law has none)."""
    steepness_bpm, *top_s = np.exp(log_shape).tolist()
    return steepness_bpm, top_s[0] if top_s else 0.0


def log_chance(task: Task, noise: Noise, *, minute_bpm: FloatArray, log_shape: FloatArray) -> float:
    """Log chance of all rounds.

    Parameters
    ----------
    minute_bpm : float array, shape (n,), tempo held for a minute, by round
    log_shape : float array, shape (k,)
    """
    low, high = margins(task, noise, minute_bpm=minute_bpm, log_shape=log_shape)
    lapse = task.data.lapse_chance
    found = interval_chance(low.z, high.z, lapse_share=LAPSE_SHARE, lapse_chance=lapse)
    return float(found.log_chance.sum())


def margins(
    task: Task, noise: Noise, *, minute_bpm: FloatArray, log_shape: FloatArray
) -> tuple[Margin, Margin]:
    """Margins of the rounds at their lower and upper bounds.

    Parameters
    ----------
    minute_bpm : float array, shape (n,), tempo held for a minute, by round
    log_shape : float array, shape (k,)
    """
    data = task.data
    steepness_bpm, top_s = curve_figures(log_shape)
    both = margin(
        task.law,
        time_s=np.concatenate([task.low_s, task.high_s]),
        tempo_bpm=np.concatenate([data.tempo_bpm, data.tempo_bpm]),
        minute_bpm=np.concatenate([minute_bpm, minute_bpm]),
        steepness_bpm=steepness_bpm,
        top_s=top_s,
        noise=noise,
    )
    half = len(minute_bpm)
    columns = [getattr(both, name) for name in Margin.__dataclass_fields__]
    return Margin(*(each[:half] for each in columns)), Margin(*(each[half:] for each in columns))


def _by_shape(law: Law, found: Margin) -> FloatArray:
    """Slopes by shape, shape (k, n)."""
    rows = [found.by_log_steepness, found.by_log_top]
    return np.stack(rows if law == "top rate" else rows[:1])


def _gathered(found: IntervalChance, low: Margin, high: Margin, data: HandData, law: Law) -> _Parts:
    """Sum slopes and bends by day and by shape."""
    low_by_shape, high_by_shape = _by_shape(law, low), _by_shape(law, high)
    slope_low = found.bend_low * low.by_minute + found.bend_both * high.by_minute
    slope_high = found.bend_high * high.by_minute + found.bend_both * low.by_minute
    weight = _by_day(data, slope_low * low.by_minute + slope_high * high.by_minute)
    pull = _by_day(data, found.by_low * low.by_minute + found.by_high * high.by_minute)
    cross = np.stack(
        [
            _by_day(data, slope_low * one + slope_high * two)
            for one, two in zip(low_by_shape, high_by_shape, strict=True)
        ],
        axis=1,
    )
    both = (found.bend_both * low_by_shape) @ high_by_shape.T
    bend = (
        (found.bend_low * low_by_shape) @ low_by_shape.T
        + (found.bend_high * high_by_shape) @ high_by_shape.T
        + both
        + both.T
    )
    shape_pull = low_by_shape @ found.by_low + high_by_shape @ found.by_high
    return weight, pull, cross, bend, shape_pull


def _by_day(data: HandData, values: FloatArray) -> FloatArray:
    """Sums by day of values by round."""
    return np.asarray(np.bincount(data.day_index, values, minlength=len(data.days)), dtype=float)
