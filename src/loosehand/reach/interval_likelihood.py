"""The chance of a count that is known only between two bounds, and how it bends.

A hold ended after its lower bound and not after its upper one. With ``z(t)`` the margin by which
the hand outlasts a time, the chance of that is ``Phi(z_low) - Phi(z_high)``; a hold that was still
on has no upper bound, one of not even a count no lower one. A small share of rounds ends for no
reason of reach (a slip, a door): their chance is handed in.

Source
------
Likelihood of interval-censored data: Turnbull (1976), The empirical distribution function with
arbitrarily grouped, censored and truncated data, Journal of the Royal Statistical Society B
38:290-295 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["IntervalChance", "interval_chance"]

FloatArray = NDArray[np.float64]
_ROOT_TWO_PI = float(np.sqrt(2.0 * np.pi))
_LEAST = 1e-290


@dataclass(frozen=True)
class IntervalChance:
    """Log chance of each interval, and its derivatives by the two margins.

    All are float arrays of one shape.

    Attributes
    ----------
    log_chance : natural logarithm of the chance
    by_low, by_high : its first derivatives by ``z_low`` and ``z_high``
    bend_low, bend_high, bend_both : minus its second derivatives (low-low, high-high, low-high),
        without the part of the lapses that could turn them: never indefinite
    """

    log_chance: FloatArray
    by_low: FloatArray
    by_high: FloatArray
    bend_low: FloatArray
    bend_high: FloatArray
    bend_both: FloatArray


def interval_chance(
    z_low: FloatArray, z_high: FloatArray, *, lapse_share: float, lapse_chance: FloatArray
) -> IntervalChance:
    """Chance that holds ended between two bounds.

    Parameters
    ----------
    z_low : float array, margin by which the lower bound is outlasted; +inf for no lower bound
    z_high : float array of that shape, <= z_low; -inf for no upper bound
    lapse_share : share of rounds that end for no reason of reach, in [0, 1)
    lapse_chance : float array of that shape: chance of the interval in such a round

    Examples
    --------
    >>> none = np.zeros(1)
    >>> even = interval_chance(none, none - np.inf, lapse_share=0.0, lapse_chance=none)
    >>> float(np.exp(even.log_chance[0]))
    0.5
    """
    from scipy.special import ndtr

    # Both tails far out on the right are told from the left, where nothing is lost to rounding.
    turned = z_high > 0.0
    chance = np.where(turned, ndtr(-z_high) - ndtr(-z_low), ndtr(z_low) - ndtr(z_high))
    chance = np.maximum(chance, _LEAST)
    total = (1.0 - lapse_share) * chance + lapse_share * lapse_chance
    weight = (1.0 - lapse_share) * chance / total
    low = _density(z_low) / chance
    high = _density(z_high) / chance
    finite_low = np.where(np.isfinite(z_low), z_low, 0.0)
    finite_high = np.where(np.isfinite(z_high), z_high, 0.0)
    return IntervalChance(
        log_chance=np.log(total),
        by_low=weight * low,
        by_high=-weight * high,
        bend_low=weight * low * (finite_low + low),
        bend_high=weight * high * (high - finite_high),
        bend_both=-weight * low * high,
    )


def _density(z: FloatArray) -> FloatArray:
    """Standard normal density."""
    return np.asarray(np.exp(-0.5 * z * z) / _ROOT_TWO_PI)
