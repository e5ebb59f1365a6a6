"""What a drive sounds like: contrast, decay, stretch, how the taps change, push against pull.

- Contrast: level of the accent - mean level of the taps of its drive; and against each tap alone.
- Decay: how much softer each further tap is than the one before it (drives of 3 and 4).
- Stretch: how late the stroke after the accent comes, against all other strokes.
- Taps over the take: the slope of their level against their own accent (they swell or sink), and
  of the mean gap within the drive (they are crushed or spread out).
- Push and pull: strokes on odd places - strokes on even places, places counted from 0 over the
  whole take, in level and timing. Which of the two is the push cannot be heard.

Ranges hold four chances in five; errors are one standard error. Source: ours.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.cycle_profile import CycleProfile, straight_part
from loosehand.judge.evenness import HeldStrokes, slope_per_minute
from loosehand.judge.variability import NORMAL_80, UNKNOWN, Figure

__all__ = ["DriveShape", "PushPull", "drive_shape", "push_pull"]

FloatArray = NDArray[np.float64]

LEAST_DRIVES = 8
"""Whole drives needed for how taps change. Ours, chosen, not validated."""

UNEVEN_ERRORS = 3.0
"""Standard errors from which push and pull are called uneven: 3 in 1,000 by chance in each."""

UNEVEN_LEVEL_DB = 0.75
UNEVEN_TIMING_MS = 3.0
"""Smaller differences are not called uneven: half of what ought to be found. Ours, chosen."""


@dataclass(frozen=True)
class DriveShape:
    """How the strokes of one drive differ; unknown figures where the drive has one stroke.

    Attributes
    ----------
    contrast_db : accent above taps
    taps_db : how far each further stroke lies below the accent, in their order; none where there
        is no drive
    decay_db : how much softer each further tap is, unknown with fewer than two taps
    accent_stretch_ms : how late the stroke after the accent comes
    tap_trend_db_per_minute : how the taps grow against their accent
    tap_gap_trend_ms_per_minute : how the gap within the drive grows: crushed taps are below nought
    """

    contrast_db: Figure
    taps_db: tuple[Figure, ...]
    decay_db: Figure
    accent_stretch_ms: Figure
    tap_trend_db_per_minute: Figure
    tap_gap_trend_ms_per_minute: Figure


@dataclass(frozen=True)
class PushPull:
    """Odd strokes - even strokes, and whether that is more than chance and more than small.

    Attributes
    ----------
    level_db, level_error_db : positive is odd louder
    timing_ms, timing_error_ms : positive is odd later
    level_uneven, timing_uneven : whether the difference is found
    """

    level_db: float
    level_error_db: float
    timing_ms: float
    timing_error_ms: float
    level_uneven: bool
    timing_uneven: bool


NO_SHAPE = DriveShape(UNKNOWN, (), UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)
"""Of a drive of one stroke, or of one that cannot be told."""


def drive_shape(
    held: HeldStrokes, level: CycleProfile, timing: CycleProfile, *, strokes: int, phase: int
) -> DriveShape:
    """Measure the strokes of a drive of two or more.

    Parameters
    ----------
    held : strokes matched before the break
    level, timing : profiles over the cycle, dB and ms
    strokes, phase : length of the drive, and the place on which it falls

    Returns
    -------
    shape : DriveShape
    """
    within = (np.arange(level.mean.size) - phase) % strokes
    accent, second = _mean_of(within == 0), _mean_of(within == 1)
    tap_trend, gap_trend = _trends(held, strokes, phase)
    return DriveShape(
        contrast_db=_figure(level, accent - _mean_of(within > 0)),
        taps_db=tuple(
            _figure(level, accent - _mean_of(within == stroke)) for stroke in range(1, strokes)
        ),
        decay_db=_figure(level, _decay_row(within, strokes)) if strokes > 2 else UNKNOWN,
        accent_stretch_ms=_figure(timing, second - _mean_of(within != 1)),
        tap_trend_db_per_minute=tap_trend,
        tap_gap_trend_ms_per_minute=gap_trend,
    )


def push_pull(level: CycleProfile, timing: CycleProfile) -> PushPull:
    """Compare the strokes on odd places with those on even ones.

    Parameters
    ----------
    level, timing : profiles over a cycle of an even number of places, dB and ms

    Returns
    -------
    push_pull : PushPull
    """
    odd = np.arange(level.mean.size) % 2 == 1
    row = (_mean_of(odd) - _mean_of(~odd))[None]
    (level_db,), (level_error,) = straight_part(level, row)
    (timing_ms,), (timing_error,) = straight_part(timing, row)
    return PushPull(
        level_db=float(level_db),
        level_error_db=float(level_error),
        timing_ms=float(timing_ms),
        timing_error_ms=float(timing_error),
        level_uneven=bool(abs(level_db) > max(UNEVEN_ERRORS * level_error, UNEVEN_LEVEL_DB)),
        timing_uneven=bool(abs(timing_ms) > max(UNEVEN_ERRORS * timing_error, UNEVEN_TIMING_MS)),
    )


def _mean_of(which: NDArray[np.bool_]) -> FloatArray:
    """Weights that take the mean of some places."""
    weights: FloatArray = which / which.sum(dtype=np.float64)
    return weights


def _decay_row(within: NDArray[np.int64], strokes: int) -> FloatArray:
    """Weights of the least-squares fall from tap to tap."""
    away = np.where(within > 0, 0.5 * strokes - within, 0.0)
    row: FloatArray = away / float(np.dot(away, away))
    return row


def _figure(profile: CycleProfile, row: FloatArray) -> Figure:
    """Weighted sum of the means with its range."""
    (told,), (error,) = straight_part(profile, row[None])
    reach = NORMAL_80 * float(error)
    return Figure(float(told), float(told) - reach, float(told) + reach)


def _trends(held: HeldStrokes, strokes: int, phase: int) -> tuple[Figure, Figure]:
    """How the taps' level and gap change against their accent, over the whole drives.

    The gap is taken against the line from an accent to the next one. Neighbouring strokes go
    together, so what the whole drive shares would otherwise stand in the error.
    """
    row_of = np.full(int(held.place_index[-1]) + strokes + 1, -1, dtype=np.int64)
    row_of[held.place_index] = np.arange(held.place_index.size)
    first = np.arange(phase, row_of.size - strokes, strokes)
    rows = row_of[first[:, None] + np.arange(strokes + 1)]
    rows = rows[np.all(rows >= 0, axis=1)]
    if rows.shape[0] < LEAST_DRIVES:
        return UNKNOWN, UNKNOWN
    level = held.level_db[rows]
    late_ms = 1e3 * held.asynchrony_s[rows]
    at_s = held.place_index[rows[:, 0]] * held.place_s
    taps_db = level[:, 1:-1].mean(axis=1) - level[:, 0]
    share = (strokes - 1) / strokes
    line_ms = (1.0 - share) * late_ms[:, 0] + share * late_ms[:, -1]
    gap_ms = (late_ms[:, -2] - line_ms) / (strokes - 1)
    return slope_per_minute(at_s, taps_db), slope_per_minute(at_s, gap_ms)
