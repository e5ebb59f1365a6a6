"""By how much the microphone's clock runs away from the click's, told from a round's own bleed."""

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.scheduled import RoundAcoustics, ScheduledClicks

__all__ = ["clock_drift_ppm"]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

_NEAR_S = 0.006
_LIKE = 0.6
_FEWEST = 10
_SHORTEST_S = 10.0


def clock_drift_ppm(samples: Float32Array, known: RoundAcoustics) -> float | None:
    """Estimate the drift of a round.

    Parameters
    ----------
    samples : float32 array, shape (n,), the stored round
    known : what its ear was told

    Returns
    -------
    drift_ppm : above 0 where clicks come later and later in the recording; None where fewer than
        ten clicks stand out from the strokes, or over less than ten seconds

    Source
    ------
    Each click is found by correlation with the click as the sound check heard it; the slope is
    the median of all slopes between two of them (Theil 1950, A rank-invariant method of linear
    and polynomial regression analysis; Sen 1968, Estimates of the regression coefficient based
    on Kendall's tau).
    """
    clicks = known.clicks
    if clicks is None:
        return None
    at_s, late_s = _found(samples, clicks, rate_hz=known.sample_rate_hz)
    if at_s.size < _FEWEST or np.ptp(at_s) < _SHORTEST_S:
        return None
    later, earlier = np.tril_indices(at_s.size, -1)
    slopes = (late_s[later] - late_s[earlier]) / (at_s[later] - at_s[earlier])
    return float(1e6 * np.median(slopes))


def _found(
    samples: Float32Array, clicks: ScheduledClicks, *, rate_hz: int
) -> tuple[FloatArray, FloatArray]:
    """Times of the clicks that stand out, and how late each is."""
    near = int(_NEAR_S * rate_hz)
    at, late = [], []
    for number, role in enumerate(clicks.roles):
        if role is None:
            continue
        wave = clicks.waves[role].astype(np.float64)
        due_s = clicks.first_s + clicks.period_s * number
        exact = due_s * rate_hz - clicks.lead_samples - near
        first = int(np.floor(exact))
        part = samples[max(first, 0) : first + wave.size + 2 * near].astype(np.float64)
        if first < 0 or part.size < wave.size + 2 * near:
            continue
        like = _likeness(part, wave)
        top = int(np.argmax(like))
        if like[top] < _LIKE or not 0 < top < like.size - 1:
            continue
        left, here, right = like[top - 1 : top + 2]
        shift = 0.5 * (left - right) / min(left - 2 * here + right, -1e-12)
        at.append(due_s)
        late.append((first + top + shift - exact - near) / rate_hz)
    return np.asarray(at), np.asarray(late)


def _likeness(part: FloatArray, wave: FloatArray) -> FloatArray:
    """Correlation coefficient of a wave with every stretch of a part."""
    matched = np.correlate(part, wave, mode="valid")
    energy = np.convolve(np.square(part), np.ones(wave.size), mode="valid")
    return np.asarray(matched / np.sqrt(np.maximum(energy * np.sum(np.square(wave)), 1e-20)))
