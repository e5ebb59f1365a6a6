"""How loud and how late the places of a cycle are on average, and how uncertain that is.

A cycle is so many places that every place of the count and every phase of a drive of 1, 2, 3 or 4
strokes comes round in it a whole number of times: 12 places at 3, 4 or 6 places a count. A slow
bend is taken out first, and strokes far off are drawn in.

The noise of the means is what the strokes between the lines say: residuals are fitted by an
autoregression of up to four strokes, and its spectrum at the frequencies of the cycle, divided by
the cycles, is the variance of what the means show there (so the covariance is circulant).
Neighbouring asynchronies of people are correlated by 0.4 to 0.85; a pattern from place to place is
then far better known than white noise would have it, and a slow one far worse.

Source: ours.
"""

from dataclasses import dataclass
from math import lcm

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.evenness import HeldStrokes

__all__ = ["LEAST_CYCLES", "CycleProfile", "cycle_of", "cycle_profile", "straight_part"]

FloatArray = NDArray[np.float64]

LEAST_CYCLES = 3
"""Cycles needed for a profile. Ours, chosen, not validated."""

_ALL_DRIVES = lcm(1, 2, 3, 4)
_CYCLES_A_BEND = 6
_MOST_BENDS = 24
_FAR = 3.0
_LARGEST_ORDER = 4
_STROKES_PER_LAG = 30


@dataclass(frozen=True)
class CycleProfile:
    """Mean of each place of a cycle, and how uncertain the means are.

    Attributes
    ----------
    mean : float array, shape (cycle,), around their own mean
    covariance : float array, shape (cycle, cycle), of chance alone
    spread : standard deviation of a single stroke around its mean and the slow bend
    cycles : how often the cycle was played, as strokes over places
    """

    mean: FloatArray
    covariance: FloatArray
    spread: float
    cycles: float


def cycle_of(places_per_count: int) -> int:
    """Places of a cycle in which counts and drives of 1 to 4 strokes all come out even.

    Examples
    --------
    >>> cycle_of(4), cycle_of(3), cycle_of(8)
    (12, 12, 24)
    """
    return lcm(places_per_count, _ALL_DRIVES)


def cycle_profile(held: HeldStrokes, series: FloatArray, *, cycle: int) -> CycleProfile | None:
    """Profile of a series over the places of a cycle.

    Parameters
    ----------
    held : strokes matched before the break
    series : float array, one number a stroke
    cycle : places of a cycle

    Returns
    -------
    profile : CycleProfile, or None where a place was played fewer than `LEAST_CYCLES` times
    """
    place = held.place_index
    number = np.bincount(place % cycle, minlength=cycle)
    if place.size == 0 or number.min() < LEAST_CYCLES:
        return None
    design = np.column_stack([np.eye(cycle)[place % cycle], _bends(place, cycle)])
    solve = np.linalg.pinv(design.T @ design) @ design.T
    fitted = design @ (solve @ series)
    away = series - fitted
    middle = float(np.median(away))
    reach = _FAR * 1.4826 * float(np.median(np.abs(away - middle))) + 1e-9
    tamed = fitted + np.clip(away, middle - reach, middle + reach)
    weights = solve @ tamed
    residual = tamed - design @ weights
    freedom = max(place.size - design.shape[1], 1)
    residual *= np.sqrt(place.size / freedom)
    mean = weights[:cycle]
    return CycleProfile(
        mean=mean - mean.mean(),
        covariance=_covariance(place, residual, number),
        spread=float(np.sqrt(np.mean(residual**2))),
        cycles=float(place.size / cycle),
    )


def straight_part(profile: CycleProfile, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Linear sums of the means, each with its standard error.

    Parameters
    ----------
    profile : the means
    rows : float array, shape (n, cycle), weights of each sum; a row sums to nought

    Returns
    -------
    sums, errors : float arrays, shape (n,)
    """
    variance = np.einsum("ni,ij,nj->n", rows, profile.covariance, rows)
    return rows @ profile.mean, np.sqrt(np.maximum(variance, 0.0))


def _bends(place: NDArray[np.int64], cycle: int) -> FloatArray:
    """Slow cosines over the take, none of them as fast as a few cycles."""
    span = int(place[-1] - place[0]) + 1
    bends = min(max(span // (_CYCLES_A_BEND * cycle // 2), 1), _MOST_BENDS)
    at = (place - place[0] + 0.5) / span
    return np.cos(np.pi * np.outer(at, np.arange(1, bends + 1)))


def _covariance(
    place: NDArray[np.int64], residual: FloatArray, number: NDArray[np.int64]
) -> FloatArray:
    """Covariance of the means: the residuals' spectrum at the frequencies of the cycle."""
    cycle = number.size
    whole = np.interp(np.arange(place[0], place[-1] + 1), place, residual)
    order = int(np.clip(residual.size // _STROKES_PER_LAG, 1, _LARGEST_ORDER))
    lags, white = _autoregression(whole, order)
    turn = np.exp(-2j * np.pi * np.outer(np.arange(cycle), np.arange(1, order + 1)) / cycle)
    spectrum = white / np.abs(1.0 - turn @ lags) ** 2
    spectrum[0] = spectrum[1:].max()
    row = np.real(np.fft.ifft(spectrum))
    index = np.arange(cycle)
    share = 1.0 / np.sqrt(number)
    covariance: FloatArray = row[(index[:, None] - index) % cycle] * np.outer(share, share)
    return covariance


def _autoregression(series: FloatArray, order: int) -> tuple[FloatArray, float]:
    """Lag coefficients, and the variance of what they do not foretell."""
    lagged = np.column_stack([series[order - lag : -lag] for lag in range(1, order + 1)])
    ridge = 1e-9 * float(np.dot(series, series)) + 1e-12
    normal = lagged.T @ lagged + ridge * np.eye(order)
    lags = np.asarray(np.linalg.solve(normal, lagged.T @ series[order:]), dtype=np.float64)
    rest = series[order:] - lagged @ lags
    return lags, float(np.dot(rest, rest)) / max(rest.size - order, 1)
