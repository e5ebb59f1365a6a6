"""The first count at which a hand leaves its own early range in spread, level or drift.

One sequential test over the three. Going count by count, the strokes so far are compared with a
steady hand: is there a count from which on spread has grown, level has moved, or asynchrony has
moved, in one step or on a slope, by more than chance? The evidence is a generalised likelihood
ratio, its largest value over all onsets that leave `EARLY_COUNTS` counts before and
`LEAST_AFTER` from there on. The first series to cross its threshold is named. Its onset is
estimated eight counts later: for spread where the ratio is largest; for level and drift, which
leave gradually, where the likelihood over onsets is halved.

Strokes are correlated: asynchronies of people have a lag-1 correlation of 0.4 to 0.85. So
asynchronies and levels are first whitened by an autoregression of up to one count, fitted to the
whole take with a slow bend taken out (lest tiring itself pass for correlation). Spread is the log
of the mean size of a count's whitened asynchronies.

The thresholds hold false alarms of the three together to `FALSE_ALARM_SHARE` of steady takes.
They were found by simulation (bench/tiring.py --calibrate): steady minutes of 60 to 140 counts of
four places, autoregressive with a lag-1 correlation of 0.4 to 0.85, normal and heavy-tailed, and
players who correct to the click once a count. A take's
``confidence`` is the share of steady takes that show less, by the exponential tail of the same
simulation.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.evenness import HeldStrokes, check_held

__all__ = [
    "EARLY_COUNTS",
    "FALSE_ALARM_SHARE",
    "LEAST_AFTER",
    "LEAST_COUNTS",
    "Evidence",
    "Tiring",
    "find_tiring",
    "tiring_evidence",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Sign = Literal["spread", "level", "drift"]

EARLY_COUNTS = 8
"""Counts that make the early range before anything can leave it. Ours, chosen, not validated."""

LEAST_AFTER = 3
"""Counts that must have left it. Ours, chosen, not validated."""

LEAST_COUNTS = 16
"""A shorter hold says nothing of tiring. Ours, chosen, not validated."""

FALSE_ALARM_SHARE = 0.05
"""Stated share of steady one-minute takes that are called tiring."""

_LARGEST_ORDER = 4
_STROKES_PER_LAG = 40
_BENDS = 4
_FAR = 3.0
_SETTLE_COUNTS = 8
_MANY_COUNTS = 200


@dataclass(frozen=True)
class _Tail:
    """What evidence of one series a steady hand shows.

    ``threshold`` holds at 100 counts and grows by ``growth`` with the natural logarithm of the
    counts; beyond it, evidence falls off exponentially with ``scale``.
    """

    threshold: float
    growth: float
    scale: float


# From bench/tiring.py --calibrate, 2,400 steady minutes: about the 97.7, 99.3 and 99.1 % points, so
# that the three together stay within the stated share. Spread is given most of it, being hardest
# to see.
_TAILS: dict[Sign, _Tail] = {
    "spread": _Tail(threshold=13.1, growth=2.5, scale=2.2),
    "level": _Tail(threshold=19.8, growth=0.5, scale=2.3),
    "drift": _Tail(threshold=23.5, growth=0.0, scale=4.0),
}


@dataclass(frozen=True)
class Evidence:
    """Evidence of one series, count by count.

    Attributes
    ----------
    sign : which of the three
    ratio : float array, shape (counts,), largest likelihood ratio (chi-squared scale) by the end
        of each count, 0 where there is none yet
    onset : int array, shape (counts,), count from 0 where that ratio is reached
    rising : bool array, shape (counts,), whether the series grows from there
    """

    sign: Sign
    ratio: FloatArray
    onset: IntArray
    rising: NDArray[np.bool_]


@dataclass(frozen=True)
class Tiring:
    """Where the hand left its early range.

    Attributes
    ----------
    onset_count : count, from 1, or None where it stayed in its range or nothing can be said
    sign : ``spread``, ``level`` or ``drift``, or None
    rising : True where the series grew (wider, louder, later), None where no onset
    found_by_count : count, from 1, by whose end this was plain
    confidence : share of steady takes that show less, or None where no onset
    notes : sentences about what could not be told
    """

    onset_count: int | None
    sign: Sign | None
    rising: bool | None
    found_by_count: int | None
    confidence: float | None
    notes: tuple[str, ...]


def find_tiring(held: HeldStrokes) -> Tiring:
    """Find the first count at which spread, level or drift leaves its own early range.

    Parameters
    ----------
    held : strokes matched before the break

    Returns
    -------
    tiring : Tiring

    Raises
    ------
    BadTimes
        If the strokes are not one finite row in order.

    Source
    ------
    Ours: a generalised likelihood ratio test for a change, thresholds by simulation.
    """
    check_held(held)
    counts = _counts(held)
    if counts < LEAST_COUNTS or held.time_s.size < 2 * counts:
        note = f"Tiring needs a hold of {LEAST_COUNTS} counts with two strokes or more in each."
        return Tiring(None, None, None, None, None, (note,))
    evidence = tiring_evidence(held)
    excess = np.stack([_excess(one) for one in evidence])
    crossed = np.flatnonzero((excess > 0.0).any(axis=0))
    if crossed.size == 0:
        return Tiring(None, None, None, None, None, ())
    found = int(crossed[0])
    first = int(np.argmax(excess[:, found]))
    one = evidence[first]
    settled = min(found + _SETTLE_COUNTS, counts - 1)
    sure = 1.0 - FALSE_ALARM_SHARE * float(np.exp(-excess[first].max()))
    return Tiring(
        onset_count=int(one.onset[settled]) + 1,
        sign=one.sign,
        rising=bool(one.rising[settled]),
        found_by_count=found + 1,
        confidence=sure,
        notes=(),
    )


def _counts(held: HeldStrokes) -> int:
    """Counts from the first of the take to the last that has a stroke."""
    return int(held.place_index[-1]) // held.places_per_count + 1 if held.place_index.size else 0


def _excess(evidence: Evidence) -> FloatArray:
    """Evidence beyond its threshold, in units of its tail."""
    tail = _TAILS[evidence.sign]
    threshold = tail.threshold + tail.growth * float(np.log(evidence.ratio.size / 100.0))
    return (evidence.ratio - threshold) / tail.scale


def tiring_evidence(held: HeldStrokes) -> tuple[Evidence, Evidence, Evidence]:
    """Evidence of spread, level and drift by the end of each count.

    Parameters
    ----------
    held : strokes matched before the break, `LEAST_COUNTS` counts or more

    Returns
    -------
    spread, level, drift : Evidence
    """
    timing, known = _on_places(held, 1e3 * held.asynchrony_s)
    level, _ = _on_places(held, held.level_db)
    order = max(1, min(_LARGEST_ORDER, held.time_s.size // _STROKES_PER_LAG))
    places = held.places_per_count
    lags = _autoregression(timing, order)
    white = np.where(known, _whiten(timing, lags), np.nan)
    drift = _change(timing, known, lags, places_per_count=places, gradual=True)
    level_lags = _autoregression(level, order)
    loud = _change(level, known, level_lags, places_per_count=places, gradual=True)
    size = _log_size(white, places)
    spread = _change(size, np.isfinite(size), np.zeros(0), places_per_count=1, gradual=False)
    grown = np.where(spread[2], spread[0], 0.0)
    return (
        Evidence("spread", grown, spread[1], spread[2]),
        Evidence("level", *loud),
        Evidence("drift", *drift),
    )


def _on_places(held: HeldStrokes, series: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Series on every place of whole counts, place means taken out, and which places were played.

    Places without a stroke are bridged by a straight line and later given no weight.
    """
    places = _counts(held) * held.places_per_count
    position = held.place_index % held.places_per_count
    size = np.maximum(np.bincount(position, minlength=held.places_per_count), 1)
    means = np.bincount(position, weights=series, minlength=held.places_per_count) / size
    bridged = np.interp(np.arange(places), held.place_index, series - means[position])
    known = np.zeros(places, dtype=np.bool_)
    known[held.place_index] = True
    return bridged, known


def _autoregression(series: FloatArray, order: int) -> FloatArray:
    """Lag coefficients of a series around a slow bend, corrected for what the bend takes away."""
    number = np.arange(series.size)
    bend = np.cos(np.pi * np.outer(number + 0.5, np.arange(_BENDS + 1)) / series.size)
    away = series - bend @ np.linalg.lstsq(bend, series, rcond=None)[0]
    lagged = np.column_stack([away[order - lag : -lag] for lag in range(1, order + 1)])
    ridge = 1e-9 * float(np.dot(away, away)) + 1e-12
    normal = lagged.T @ lagged + ridge * np.eye(order)
    lags: FloatArray = np.linalg.solve(normal, lagged.T @ away[order:])
    total = float(lags.sum())
    lags[0] += ((_BENDS + 1) * (1.0 + total) + 2.0 * total) / series.size
    return lags * min(1.0, 0.97 / max(float(lags.sum()), 1e-9)) if lags.sum() > 0.97 else lags


def _whiten(series: FloatArray, lags: FloatArray) -> FloatArray:
    """What each stroke adds to what its forerunners foretell; the first ones as they are."""
    white = series.copy()
    for lag, share in enumerate(lags, start=1):
        white[lag:] -= share * series[:-lag]
    return white


def _tamed(white: FloatArray, good: NDArray[np.bool_]) -> FloatArray:
    """Whitened strokes with the far ones drawn in to `_FAR` robust spreads of their median."""
    if not good.any():
        return white
    middle = float(np.median(white[good]))
    reach = _FAR * 1.4826 * float(np.median(np.abs(white[good] - middle)))
    return np.clip(white, middle - reach, middle + reach)


def _weights(known: NDArray[np.bool_], order: int) -> FloatArray:
    """1 for strokes that are known with all their forerunners, else 0."""
    good = known.copy()
    good[:order] = False
    for lag in range(1, order + 1):
        good[lag:] &= known[:-lag]
    return good.astype(np.float64)


def _log_size(white: FloatArray, places_per_count: int) -> FloatArray:
    """Log of the mean size in each count, NaN where fewer than half of its places are known."""
    size = np.abs(white).reshape(-1, places_per_count)
    known = np.isfinite(size)
    number = known.sum(axis=1)
    mean = np.where(known, size, 0.0).sum(axis=1) / np.maximum(number, 1)
    enough = (2 * number >= places_per_count) & (mean > 0.0)
    return np.where(enough, np.log(np.maximum(mean, 1e-12)), np.nan)


def _change(
    series: FloatArray,
    known: NDArray[np.bool_],
    lags: FloatArray,
    *,
    places_per_count: int,
    gradual: bool,
) -> tuple[FloatArray, IntArray, NDArray[np.bool_]]:
    """Largest likelihood ratio of a change by the end of each count, its onset and direction."""
    counts = series.size // places_per_count
    weight = _weights(known, lags.size)
    filled = np.where(known, series, 0.0)
    white = _tamed(_whiten(filled, lags), weight > 0.0)
    onset = np.arange(EARLY_COUNTS, counts - LEAST_AFTER + 1, 1 + counts // _MANY_COUNTS)
    since = np.arange(counts) - onset[:, None]
    shapes = np.stack([np.ones(series.size), np.arange(1.0, series.size + 1.0) / places_per_count])
    signed = [_signed_ratio(_whiten(shape, lags), since, white, weight) for shape in shapes]
    early = np.arange(counts) - onset[:, None] + 1 < LEAST_AFTER
    ratio = np.where(early, 0.0, np.stack(signed)).reshape(2 * onset.size, counts)
    best = np.argmax(np.abs(ratio), axis=0)
    value = np.take_along_axis(ratio, best[None], axis=0)[0]
    at = _middle_onset(ratio, onset.size) if gradual else best % onset.size
    return value**2, onset[at], value > 0.0


def _middle_onset(ratio: FloatArray, onsets: int) -> IntArray:
    """Onset that halves the likelihood over onsets, both shapes together, for each count."""
    likelihood = np.exp(0.5 * (ratio**2 - np.max(ratio**2, axis=0)))
    by_onset = likelihood.reshape(-1, onsets, ratio.shape[1]).sum(axis=0)
    share = np.cumsum(by_onset, axis=0) / by_onset.sum(axis=0)
    middle: IntArray = np.argmax(share >= 0.5, axis=0)
    return middle


def _signed_ratio(
    shape: FloatArray, since: IntArray, white: FloatArray, weight: FloatArray
) -> FloatArray:
    """Normal score of the change's size for each onset (row) by the end of each count."""
    counts = since.shape[1]
    by_count = shape.reshape(counts, -1)
    after = np.where(since[..., None] >= 0, by_count[np.maximum(since, 0)], 0.0)
    table, share = white.reshape(counts, -1), weight.reshape(counts, -1)
    number = np.maximum(np.cumsum(share.sum(axis=1)), 1.0)
    total = np.cumsum((share * table).sum(axis=1))
    energy = np.cumsum((share * table**2).sum(axis=1)) - total**2 / number
    reach = np.cumsum(np.einsum("tcp,cp->tc", after, share), axis=1)
    square = np.cumsum(np.einsum("tcp,tcp,cp->tc", after, after, share), axis=1)
    product = np.cumsum(np.einsum("tcp,cp->tc", after, share * table), axis=1)
    spread = square - reach**2 / number
    spread = np.where(spread > 1e-9, spread, np.inf)
    product = product - reach * total / number
    freedom = np.maximum(number - 3.0, 1.0)
    rest = np.maximum(energy - product**2 / spread, 1e-12 * np.maximum(energy, 1e-12))
    score = np.sqrt(freedom * np.log1p(product**2 / spread / rest))
    score *= (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0)
    signed: FloatArray = np.sign(product) * score
    return signed
