"""By how much a hand outlasts a time at a tempo, in units of its unsteadiness from round to round.

A round may go better or worse by some bpm (tempo noise), and end sooner or later by some share of
its time (time noise). Each alone gives a margin, ``z_tempo`` or ``z_time``; together they are taken
as ``1/z**2 = 1/z_tempo**2 + 1/z_time**2``, which is exact where one of the noises is nought, is
nought where both are, and falls steadily as time or tempo grows. Source: ours.

Near and under the sustainable tempo the hold time has no end; there it is bent smoothly into a
time that grows fast, so that no edge stands in the way of a fit.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.laws import Law, shape_of_time

__all__ = ["Margin", "Noise", "margin"]

FloatArray = NDArray[np.float64]
_MINUTE_S = 60.0
_SOFT = 0.1
"""Width of the bend at the sustainable tempo, in units of the steepness."""
_SOFT_S = 0.1
"""Width of the bend where a hold of no time begins, in seconds."""
_TINY = 1e-12


@dataclass(frozen=True)
class Noise:
    """Spreads from round to round: as a tempo (bpm), and of the log of hold time."""

    tempo_bpm: float | FloatArray
    time_share: float | FloatArray


@dataclass(frozen=True)
class Margin:
    """Margins, shape (n,), and their slopes.

    Attributes
    ----------
    z : margin; -inf for a time without end, +inf for no time
    by_minute, by_log_steepness, by_log_top : its slopes by the tempo held for a minute and by the
        logs of steepness and of the top rate's time constant
    """

    z: FloatArray
    by_minute: FloatArray
    by_log_steepness: FloatArray
    by_log_top: FloatArray


def margin(
    law: Law,
    *,
    time_s: FloatArray,
    tempo_bpm: FloatArray,
    minute_bpm: FloatArray,
    steepness_bpm: float | FloatArray,
    top_s: float | FloatArray,
    noise: Noise,
) -> Margin:
    """Margins of rounds or of draws.

    Parameters
    ----------
    law : of the curve
    time_s, tempo_bpm, minute_bpm : float arrays of one shape (n,)
    steepness_bpm, top_s : of the curve, one for all or of that shape
    noise : likewise
    """
    inside = (time_s > 0.0) & np.isfinite(time_s)
    time = np.where(inside, time_s, 1.0)
    shape = shape_of_time(law, time, top_s=top_s)
    excess = (tempo_bpm - minute_bpm) / steepness_bpm
    z_tempo = (shape - excess) * steepness_bpm / noise.tempo_bpm
    own, own_by_over, own_by_top = _log_time(law, excess, top_s)
    bound, bound_by_over, bound_by_top = _log_time(law, shape, top_s)
    z_time = (own - bound) / noise.time_share
    length = np.hypot(z_tempo, z_time) + _TINY
    tempo_part = np.abs(z_time / length) ** 3 / noise.tempo_bpm
    time_part = np.abs(z_tempo / length) ** 3 / noise.time_share
    shape_by_top = 0.0 * shape
    if law == "top rate":
        shape_by_top = top_s * (time - _MINUTE_S) / (time + top_s) ** 2
    edge = np.where(time_s > 0.0, -np.inf, np.inf)
    return Margin(
        z=np.where(inside, np.abs(z_tempo) * z_time / length, edge),
        by_minute=np.where(inside, tempo_part - time_part * own_by_over / steepness_bpm, 0.0),
        by_log_steepness=np.where(
            inside, tempo_part * steepness_bpm * shape - time_part * own_by_over * excess, 0.0
        ),
        by_log_top=np.where(
            inside,
            tempo_part * steepness_bpm * shape_by_top
            + time_part * (own_by_top - bound_by_top - bound_by_over * shape_by_top),
            0.0,
        ),
    )


def _log_time(
    law: Law, excess: FloatArray, top_s: float | FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Log of hold time, bent smoothly, and its slopes by the excess and by the log of ``top_s``."""
    if law == "log-linear":
        return -excess, -np.ones_like(excess), np.zeros_like(excess)
    over, over_by_excess = _softly_positive(1.0 + excess, _SOFT)
    if law == "hyperbolic":
        return -np.log(over), -over_by_excess / over, np.zeros_like(excess)
    span = _MINUTE_S + top_s
    time, softened = _softly_positive(span / over - top_s, _SOFT_S)
    scale = softened / time
    return (
        np.log(time),
        -scale * span / over**2 * over_by_excess,
        scale * top_s * (1.0 / over - 1.0),
    )


def _softly_positive(value: FloatArray, width: float) -> tuple[FloatArray, FloatArray]:
    """The value where it is well over 0, a little over 0 where it is not; and its slope."""
    scaled = np.maximum(value / width, -60.0)
    fallen = np.exp(-np.abs(scaled))
    soft = np.maximum(scaled, 0.0) + np.log1p(fallen)
    slope = np.where(scaled > 0.0, 1.0, fallen) / (1.0 + fallen)
    return width * soft, slope
