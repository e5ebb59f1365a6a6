"""How loud each stroke of a hand was, from all bands of the whole take.

The ear gives a stroke the rise of the power of all bands together. On a drum that rings, the band
that rings is the strongest, and a new stroke meets the sound of the one before: the two add up or
cancel, and a soft stroke after a loud one may seem far too soft. The bands in which nothing rings
say better how hard the stroke was.

So each band is taken as a witness: level in band = offset + slope x level of the stroke + error,
slope and spread of the error the same through the take. Levels are the means of what the bands say,
weighed by their spreads, errors of long tails (Student's t, 4 degrees) allowed. Where the sound of
all bands agrees with that but for `_AGREES_DB`, it is kept: on a dry pad it is the best witness.

Source: ours; one-factor model fitted by weighted least squares, turn about.
"""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.heard import Strokes

__all__ = ["band_levels", "levels_by_band", "with_levels_by_band"]

FloatArray = NDArray[np.float64]

_FEWEST = 24
_ROUNDS = 12
_TAILS = 4.0
_AS_LOUD = 0.1
"""Weight, in squared dB a stroke, of the belief that a band rises as the stroke does."""
_LEAST_SPREAD_DB = 0.3
_AGREES_DB = 0.7


def band_levels(level_db: FloatArray, timbre_db: FloatArray) -> FloatArray:
    """Level of each stroke in each band: the powers of the bands sum to that of all.

    Parameters
    ----------
    level_db : float array, shape (n,)
    timbre_db : float array, shape (n, bands), around the mean of the bands

    Returns
    -------
    levels : float array, shape (n, bands), dB
    """
    whole_db = 10.0 * np.log10(np.sum(10.0 ** (timbre_db / 10.0), axis=1))
    levels: FloatArray = timbre_db + (level_db - whole_db)[:, None]
    return levels


def with_levels_by_band(strokes: Strokes, hands: Iterable[NDArray[np.int64]]) -> Strokes:
    """Strokes with the levels that their bands tell, every hand by itself.

    Parameters
    ----------
    strokes : of a whole take
    hands : int arrays, which strokes are of one hand
    """
    level_db = strokes.level_db.copy()
    for own in hands:
        level_db[own] = levels_by_band(strokes.level_db[own], strokes.timbre_db[own])
    return replace(strokes, level_db=level_db)


def levels_by_band(level_db: FloatArray, timbre_db: FloatArray) -> FloatArray:
    """Levels of the strokes of one hand, told from the bands that tell them best.

    Parameters
    ----------
    level_db : float array, shape (n,), rise of the power of all bands
    timbre_db : float array, shape (n, bands), rise of each band, around the mean of the bands

    Returns
    -------
    level_db : float array, shape (n,), on the same scale and around the same median; as they were
        where there are fewer than 24 strokes, or no bands to tell them from

    Examples
    --------
    >>> levels_by_band(np.array([-20.0, -30.0]), np.zeros((2, 11))).tolist()
    [-20.0, -30.0]
    """
    if level_db.size < _FEWEST or not np.any(timbre_db):
        return level_db
    middle = float(np.median(level_db))
    heard = level_db - middle
    told = _told_by_bands(band_levels(level_db, timbre_db), heard)
    told = told * _slope(told, heard)
    apart = heard - told
    return middle + told + np.clip(apart - np.median(apart), -_AGREES_DB, _AGREES_DB)


def _told_by_bands(band_db: FloatArray, heard_db: FloatArray) -> FloatArray:
    """Levels that the bands agree on, around a median of nought."""
    told, weight = heard_db, np.ones(band_db.shape)
    for _ in range(_ROUNDS):
        total = weight.sum(axis=0)
        band_mean = np.sum(weight * band_db, axis=0) / total
        told_mean = np.sum(weight * told[:, None], axis=0) / total
        away, band_away = told[:, None] - told_mean, band_db - band_mean
        belief = _AS_LOUD * told.size
        slope = np.sum(weight * band_away * away, axis=0) + belief
        slope = np.clip(slope / (np.sum(weight * away**2, axis=0) + belief), 0.05, 2.0)
        error = band_away - slope * away
        variance = np.maximum(np.sum(weight * error**2, axis=0) / total, _LEAST_SPREAD_DB**2)
        weight = (_TAILS + 1.0) / (_TAILS + error**2 / variance)
        trust = weight * slope**2 / variance
        says = (band_away + slope * told_mean) / slope
        told = np.sum(trust * says, axis=1) / np.sum(trust, axis=1)
        told = told - np.median(told)
    return told


def _slope(told: FloatArray, heard: FloatArray) -> float:
    """Slope of what was heard on what the bands tell, strokes far off drawn in; near 1 if few."""
    weight, slope = np.ones(told.size), 1.0
    belief = 0.2 * told.size
    for _ in range(10):
        slope = (np.sum(weight * told * heard) + belief) / (np.sum(weight * told**2) + belief)
        error = heard - slope * told
        reach = 2.0 * 1.4826 * float(np.median(np.abs(error))) + 1e-6
        weight = 1.0 / (1.0 + (error / reach) ** 2)
    return float(slope)
