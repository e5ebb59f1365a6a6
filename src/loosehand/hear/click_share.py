"""Whether the click sounds on every place, so loud that no stroke could be told from it."""

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.bleed import Bleed, segments_at

__all__ = ["least_click_share"]

Float32Array = NDArray[np.float32]

_BEFORE_S = 0.002
_LONG_S = 0.030
_FEWEST_CLICKS = 8


def least_click_share(
    samples: Float32Array, bleed: Bleed, *, places_per_count: int, sample_rate_hz: int
) -> float:
    """Share of the sound that comes again exactly, at the place where that share is least.

    Parameters
    ----------
    samples : float32 array, shape (n,)
    bleed : the click, one a count
    places_per_count : places in a count
    sample_rate_hz : rate of the samples

    Returns
    -------
    share : in [0, 1]; near 1 where a click drowns all else on every place, near 0 where any
        place has no click of its own; 0 where there are too few counts to say

    Source
    ------
    Ours: power of the median waveform over the median power, high notes raised so that no
    hum in step with the places counts as a click.
    """
    raised = np.diff(samples, prepend=samples[:1])
    period, phase = bleed.period_s * sample_rate_hz, bleed.phase_s * sample_rate_hz
    clicks = int((samples.size - phase) / period)
    if clicks < _FEWEST_CLICKS:
        return 0.0
    shares = []
    for place in range(places_per_count):
        fit = np.array([phase + place * period / places_per_count, period])
        rows = segments_at(
            raised,
            fit,
            clicks,
            lead=int(_BEFORE_S * sample_rate_hz),
            length=int(_LONG_S * sample_rate_hz),
        )
        power = float(np.median(np.sum(np.square(rows), axis=1)))
        again = float(np.sum(np.square(np.median(rows, axis=0))))
        shares.append(min(again / (power + 1e-20), 1.0))
    return min(shares)
