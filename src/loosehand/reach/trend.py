"""The slow trend of a hand over days: a level whose slope wanders, in daily steps.

Level(d+1) = level(d) + slope(d); slope(d+1) = slope(d) + noise. It is written as the covariance of
the levels of any days, so that days may be missing and the same form goes into the fit.

Source
------
Harvey (1989), Forecasting, Structural Time Series Models and the Kalman Filter, the smooth trend
(from memory); the covariance follows from summing the steps.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["smooth_trend", "wander_covariance"]

FloatArray = NDArray[np.float64]


def wander_covariance(
    day: FloatArray, other_day: FloatArray, *, slope_sd_per_day: float
) -> FloatArray:
    """Covariance of the level between days, from the wandering of the slope alone.

    Parameters
    ----------
    day, other_day : float arrays, shapes (n,) and (m,), whole days since the first, >= 0
    slope_sd_per_day : spread of the step of the slope from day to day

    Returns
    -------
    covariance : float array, shape (n, m), unit of the level squared

    Examples
    --------
    >>> day = np.array([0.0, 1.0, 2.0, 3.0])
    >>> wander_covariance(day, day, slope_sd_per_day=1.0).diagonal().tolist()
    [0.0, 0.0, 1.0, 5.0]
    """
    least = np.minimum(day[:, None], other_day[None, :])
    apart = np.abs(day[:, None] - other_day[None, :])
    steps = np.maximum(least - 1.0, 0.0)
    squares = steps * (steps + 1.0) * (2.0 * steps + 1.0) / 6.0
    return np.asarray(slope_sd_per_day**2 * (squares + apart * steps * (steps + 1.0) / 2.0))


def smooth_trend(
    day: FloatArray,
    value: FloatArray,
    variance: FloatArray,
    *,
    slope_sd_per_day: float,
    level_sd: float,
    slope_sd: float,
    at_day: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Level of a trend on any days, given values with known variances.

    Parameters
    ----------
    day : float array, shape (n,), whole days since the first, rising
    value, variance : float arrays, shape (n,), observations of the level, variances > 0
    slope_sd_per_day : spread of the step of the slope from day to day
    level_sd, slope_sd : spread of level and slope (a day) at day 0; great where nothing is known
    at_day : float array, shape (m,), days wanted, >= 0; also after the last

    Returns
    -------
    mean, sd : float arrays, shape (m,)

    Examples
    --------
    >>> day = np.array([0.0, 1.0, 2.0])
    >>> mean, _ = smooth_trend(day, 2.0 * day, np.full(3, 1e-6), slope_sd_per_day=1e-6,
    ...     level_sd=100.0, slope_sd=100.0, at_day=np.array([5.0]))
    >>> round(float(mean[0]), 3)
    10.0
    """

    def covariance(one: FloatArray, two: FloatArray) -> FloatArray:
        start = level_sd**2 + slope_sd**2 * np.outer(one, two)
        return np.asarray(start + wander_covariance(one, two, slope_sd_per_day=slope_sd_per_day))

    across = covariance(at_day, day)
    gain = np.linalg.solve(covariance(day, day) + np.diag(variance), across.T).T
    left = covariance(at_day, at_day) - gain @ across.T
    return gain @ value, np.sqrt(np.maximum(np.diag(left), 0.0))
