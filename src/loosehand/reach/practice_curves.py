"""How practice may bend the trend of a tempo: curves that level off, beside the straight line.

Each is fitted to the tempos that a hand held on the days of its chart, each with its variance, and
says what it expects of a later day. They are alternatives to be compared with the straight line,
which goes on for ever; over a few months a chart seldom tells them apart.

With d the days since the first and s the level there:

- straight: level = s + slope d
- exponential: level = s + gain (1 - exp(-d / scale)), so with asymptote = s + gain the law
  level = asymptote - gain exp(-d / scale)
- power: level = s + gain (1 - (1 + d / earlier)^-rate), so with asymptote = s + gain and
  B = -gain earlier^rate the law level = asymptote + B (d + earlier)^-rate

Source
------
Heathcote, Brown and Mewhort (2000), The power law repealed: the case for an exponential law of
practice, Psychonomic Bulletin and Review 7:185-207; Newell and Rosenbloom (1981), Mechanisms of
skill acquisition and the law of practice (from memory). Both speak of times that fall; that a
tempo rises likewise is taken over. The priors are ours, no source.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadTimes, InputError, NotIdentifiable
from loosehand.reach.reach import Interval

__all__ = [
    "PRACTICE_CURVES",
    "PracticeFit",
    "compare_practice_curves",
    "exponential_practice",
    "fit_practice_curve",
    "power_practice",
]

FloatArray = NDArray[np.float64]
PRACTICE_CURVES = ("straight", "exponential", "power")
_START_SD_BPM = 30.0
_MOST_STEPS = 500


def exponential_practice(
    trial: FloatArray, *, asymptote: float, gain: float, scale: float
) -> FloatArray:
    """Exponential law of practice: asymptote - gain exp(-trial / scale).

    Parameters
    ----------
    trial : float array, amount of practice, in the unit of ``scale``
    asymptote : level after endless practice
    gain : asymptote minus the level at 0; below 0 for a time that falls
    scale : practice in which all but 1/e of what is left is gained, > 0

    Examples
    --------
    >>> exponential_practice(np.array([0.0, 90.0]), asymptote=100.0, gain=10.0, scale=90.0).round(3)
    array([90.   , 96.321])
    """
    return np.asarray(asymptote - gain * np.exp(-trial / scale))


def power_practice(
    trial: FloatArray, *, asymptote: float, distance: float, earlier: float, rate: float
) -> FloatArray:
    """General power law of practice: asymptote + distance (trial + earlier)^-rate.

    Parameters
    ----------
    trial : float array, amount of practice
    asymptote : level after endless practice, A
    distance : B; above 0 for a time that falls, below 0 for a tempo that rises
    earlier : practice before trial 0, E; trial + earlier > 0
    rate : a, > 0

    Examples
    --------
    >>> power_practice(np.array([1.0, 2.0]), asymptote=0, distance=10, earlier=0, rate=0.4).round(4)
    array([10.    ,  7.5786])
    """
    return np.asarray(asymptote + distance * (trial + earlier) ** -rate)


@dataclass(frozen=True)
class _Family:
    """A curve with its prior: normal, on the level at day 0 and on what follows it."""

    level: Callable[[FloatArray, FloatArray], FloatArray]
    prior_mean: tuple[float, ...]
    prior_sd: tuple[float, ...]


def _straight(day: FloatArray, free: FloatArray) -> FloatArray:
    return np.asarray(free[0] + free[1] * day)


def _exponential(day: FloatArray, free: FloatArray) -> FloatArray:
    start, gain, scale = free[0], math.exp(free[1]), math.exp(free[2])
    return exponential_practice(day, asymptote=start + gain, gain=gain, scale=scale)


def _power(day: FloatArray, free: FloatArray) -> FloatArray:
    start, (gain, earlier, rate) = free[0], np.exp(free[1:])
    distance = -gain * earlier**rate
    return power_practice(
        day, asymptote=start + gain, distance=distance, earlier=earlier, rate=rate
    )


# Gently: a slope of 2.5 bpm a month; 10 bpm in all to be gained, a factor of e either way; most of
# it in a quarter of a year, or by a power of 0.4 after a month's earlier practice, likewise wide.
_FAMILIES = {
    "straight": _Family(_straight, (0.0,), (2.5 / 30.0,)),
    "exponential": _Family(_exponential, (math.log(10.0), math.log(90.0)), (1.0, 1.0)),
    "power": _Family(_power, (math.log(15.0), math.log(30.0), math.log(0.4)), (1.0, 1.0, 0.7)),
}


@dataclass(frozen=True)
class PracticeFit:
    """A curve as fitted: the most likely one, and a normal law around it (Laplace).

    Attributes
    ----------
    curve : one of ``PRACTICE_CURVES``
    free : float array, shape (k,): level at day 0, then slope, or logarithms of gain and scale, or
        of gain, earlier practice and rate
    covariance : float array, shape (k, k)
    log_likelihood : Gaussian, of the values, at ``free``
    bic : Bayesian information criterion, -2 log likelihood + k ln n; less is better
    log_evidence : log of the likelihood averaged over the prior (Laplace); more is better
    last_day : of the values
    """

    curve: str
    free: FloatArray
    covariance: FloatArray
    log_likelihood: float
    bic: float
    log_evidence: float
    last_day: float

    def level_bpm(self, day: float) -> Interval:
        """Level on a day, also after the last, if practice goes on as it did."""
        mean, sd = self._mean_and_sd(np.array([float(day)]))
        return Interval.of_normal(float(mean[0]), float(sd[0]))

    @property
    def asymptote_bpm(self) -> float | None:
        """Level that the curve nears; None for the straight line, which nears none."""
        return None if self.curve == "straight" else float(self.free[0] + math.exp(self.free[1]))

    def log_score(self, day: FloatArray, value_bpm: FloatArray, variance: FloatArray) -> float:
        """Mean log density of values that the fit has not seen; more is better.

        Parameters
        ----------
        day, value_bpm, variance : float arrays, shape (m,), as in ``fit_practice_curve``
        """
        mean, sd = self._mean_and_sd(day)
        return float(_log_density(value_bpm - mean, variance + sd**2).mean())

    def _mean_and_sd(self, day: FloatArray) -> tuple[FloatArray, FloatArray]:
        level = _FAMILIES[self.curve].level
        slope = _derivative(level, day, self.free)
        variance = np.einsum("ij,jk,ik->i", slope, self.covariance, slope)
        return level(day, self.free), np.sqrt(np.maximum(variance, 0.0))


def fit_practice_curve(
    day: FloatArray, value_bpm: FloatArray, variance: FloatArray, *, curve: str
) -> PracticeFit:
    """Fit one curve by weighted least squares, the prior counted in.

    Parameters
    ----------
    day : float array, shape (n,), days since the first, >= 0
    value_bpm : float array, shape (n,), tempo held on those days
    variance : float array, shape (n,), of each value, bpm squared, > 0
    curve : one of ``PRACTICE_CURVES``

    Raises
    ------
    InputError        if the curve is unknown, or a value or variance cannot be
    BadTimes          if days are not finite or below 0
    NotIdentifiable   if there are fewer than three values
    """
    from scipy.optimize import least_squares

    if curve not in _FAMILIES:
        raise InputError(f"curve = {curve!r} is not one of {', '.join(PRACTICE_CURVES)}.")
    _check(day, value_bpm, variance)
    family = _FAMILIES[curve]
    mean = np.array([float(np.average(value_bpm, weights=1.0 / variance)), *family.prior_mean])
    spread = np.array([_START_SD_BPM, *family.prior_sd])
    deviation = np.sqrt(variance)

    def misfit(free: FloatArray) -> FloatArray:
        return np.concatenate(
            [(family.level(day, free) - value_bpm) / deviation, (free - mean) / spread]
        )

    # Two starts: from the prior, and from one that levels off four times sooner.
    soon = mean - np.where(np.arange(mean.size) == 2, math.log(4.0), 0.0)
    found = [
        least_squares(misfit, start, x_scale=spread, max_nfev=_MOST_STEPS)
        for start in ((mean, soon) if mean.size > 2 else (mean,))
    ]
    best = min(found, key=lambda one: one.cost)
    covariance = np.linalg.inv(best.jac.T @ best.jac)
    likelihood = float(_log_density(value_bpm - family.level(day, best.x), variance).sum())
    prior = float(_log_density(best.x - mean, spread**2).sum())
    bend = 0.5 * float(np.linalg.slogdet(2.0 * math.pi * covariance)[1])
    return PracticeFit(
        curve=curve,
        free=best.x,
        covariance=covariance,
        log_likelihood=likelihood,
        bic=-2.0 * likelihood + mean.size * math.log(value_bpm.size),
        log_evidence=likelihood + prior + bend,
        last_day=float(day.max()),
    )


def compare_practice_curves(
    day: FloatArray, value_bpm: FloatArray, variance: FloatArray
) -> tuple[PracticeFit, ...]:
    """Fit all curves; the one with the most evidence comes first."""
    fits = [fit_practice_curve(day, value_bpm, variance, curve=curve) for curve in PRACTICE_CURVES]
    return tuple(sorted(fits, key=lambda fit: -fit.log_evidence))


def _check(day: FloatArray, value_bpm: FloatArray, variance: FloatArray) -> None:
    """Refuse values that no curve can be laid through."""
    if not day.shape == value_bpm.shape == variance.shape or day.ndim != 1:
        raise InputError(
            f"day, value_bpm and variance have shapes {day.shape}, {value_bpm.shape} and "
            f"{variance.shape}: hand in one row of each, of one length."
        )
    if day.size < 3:
        raise NotIdentifiable(f"{day.size} days tell of no practice curve: play on 3 at least.")
    if not (np.isfinite(day).all() and day.min() >= 0.0):
        raise BadTimes(f"day[{int(np.argmin(day))}] = {day.min():g} is not a day since the first.")
    if not (np.isfinite(value_bpm).all() and np.isfinite(variance).all() and variance.min() > 0.0):
        raise InputError(
            f"value_bpm must be finite and variance above 0, got {variance.min():g} at least."
        )


def _derivative(
    level: Callable[[FloatArray, FloatArray], FloatArray], day: FloatArray, free: FloatArray
) -> FloatArray:
    """Derivative of the level by each free figure, shape (m, k), by central differences."""
    columns = []
    for place in range(free.size):
        step = np.zeros(free.size)
        step[place] = 1e-5
        columns.append((level(day, free + step) - level(day, free - step)) / 2e-5)
    return np.stack(columns, axis=1)


def _log_density(away: FloatArray, variance: FloatArray) -> FloatArray:
    """Log of the normal density."""
    return np.asarray(-0.5 * (away**2 / variance + np.log(2.0 * math.pi * variance)))
