"""What is known of a recording before its strokes are told: its quiet, and the click in it.

A whole file is surveyed first (``survey``); a live round brings what its sound check and
its own click schedule say. Either way the engine that follows is given the same thing.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.bands import RISE_LAG_S, BandAnalysis, power_to_db
from loosehand.hear.bleed import Bleed, ClickPhase, band_peaks, find_click_phase, learn_bleed
from loosehand.hear.heard import Background

__all__ = [
    "Acoustics",
    "above_floor",
    "background",
    "band_floor",
    "rise_peaks",
    "survey",
]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

_RISE_FRAMES = 3
_QUIET_PERCENTILE = 10
_LOUD_PERCENTILE = 99
_WIDEST_RANGE = 10**-4.5
_SILENCE = 1e-12
_EVERY = 5
_BACKGROUND_HOP = 10
_BACKGROUND_BEFORE = 25
_BACKGROUND_AFTER = 15
_BACKGROUND_SHARE = 0.3


@dataclass(frozen=True)
class Acoustics:
    """What the engine is told of the sound.

    Attributes
    ----------
    sample_rate_hz : rate of the sound
    floor : float32 array, shape (bands,), power of each band when nothing happens
    bleed : the click in the recording, or None where none is heard
    phase : where the clicks lie, or None
    """

    sample_rate_hz: int
    floor: Float32Array
    bleed: Bleed | None
    phase: ClickPhase | None


def band_floor(power: Float32Array) -> Float32Array:
    """Power of each band when nothing happens, no more than 45 dB under the loud moments."""
    some = power[::_EVERY]
    quiet = np.percentile(some, _QUIET_PERCENTILE, axis=0)
    loud = np.percentile(some, _LOUD_PERCENTILE, axis=0)
    # Bands that hold next to nothing would be all floor: they share that of the others.
    least = float(np.max(loud)) * _WIDEST_RANGE * 1e-2
    floor = np.maximum(np.maximum(quiet, loud * _WIDEST_RANGE), least + _SILENCE)
    return np.asarray(floor, dtype=np.float32)


def above_floor(power: Float32Array, floor: Float32Array) -> Float32Array:
    """How far each band stands above its floor, in tens of decibels, never negative."""
    return np.asarray(np.log10(np.float32(1.0) + power / floor))


def rise_peaks(
    power: Float32Array, floor: Float32Array, analysis: BandAnalysis
) -> list[tuple[FloatArray, FloatArray]]:
    """Peaks of the growth of every band's level, as the search for a click wants them."""
    level = above_floor(power, floor)
    rise = np.maximum(level[_RISE_FRAMES:] - level[:-_RISE_FRAMES], 0)
    return band_peaks(rise, hop_s=analysis.hop_s)


def background(power: Float32Array, analysis: BandAnalysis) -> Background:
    """What sounds beside the strokes: each band's level most of the time, every 10 ms.

    Parameters
    ----------
    power : float32 array, shape (frames, bands), from ``analysis.whole``, the click included
    analysis : how the sound is cut into frames
    """
    width = _BACKGROUND_BEFORE + _BACKGROUND_AFTER
    padded = np.pad(power, ((_BACKGROUND_BEFORE, _BACKGROUND_AFTER), (0, 0)), mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, width, axis=0)
    around = around[_BACKGROUND_HOP // 2 :: _BACKGROUND_HOP]
    quiet = int(_BACKGROUND_SHARE * width)
    level = np.partition(around, quiet, axis=2)[:, :, quiet]
    hop_s = _BACKGROUND_HOP * analysis.hop_s
    return Background(power_to_db(level), hop_s)


def survey(
    samples: Float32Array, power: Float32Array, analysis: BandAnalysis, *, period_s: float
) -> Acoustics:
    """Survey a whole take against a click of known period.

    Parameters
    ----------
    samples : float32 array, shape (n,)
    power : float32 array, shape (frames, bands), from ``analysis.whole``
    analysis : how the sound is cut into frames
    period_s : length of a count as told

    Returns
    -------
    acoustics : with the bleed where a click stands out
    """
    floor = band_floor(power)
    phase = find_click_phase(
        rise_peaks(power, floor, analysis),
        period_s=period_s,
        duration_s=samples.size / analysis.sample_rate_hz,
    )
    if phase is not None:
        phase = replace(
            phase, phase_s=float(np.mod(phase.phase_s + _seen_s(analysis), phase.period_s))
        )
    rate = analysis.sample_rate_hz
    bleed = None if phase is None else learn_bleed(samples, phase, sample_rate_hz=rate)
    return Acoustics(rate, floor, bleed, phase)


def _seen_s(analysis: BandAnalysis) -> float:
    """Time of an onset whose rise peaks at row 0."""
    return analysis.middle_s + 0.5 * _RISE_FRAMES * analysis.hop_s + RISE_LAG_S
