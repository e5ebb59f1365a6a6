"""The tempo of a take that nobody told: from the rate of the strokes, then from the click."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.bleed import find_click_phase

__all__ = ["StrokeRate", "candidate_tempos", "early_rate", "stroke_rate", "tempo_with_click"]

FloatArray = NDArray[np.float64]
Peaks = list[tuple[FloatArray, FloatArray]]

_SHORTEST_S, _LONGEST_S = 0.045, 1.1
_STEADY = (0.72, 1.38)
_FEWEST = 5
_STILL_ON = 0.3
_EARLY_STROKES = 24
_LOOK_AHEAD = 8
_LEAST_SCORE = 25.0
"""Many tempos are tried: a pile must stand out more than where the tempo is told."""
_WHOLE_WITHIN_BPM = 0.06


@dataclass(frozen=True)
class StrokeRate:
    """How fast strokes come where they come steadily.

    Attributes
    ----------
    place_s : time from stroke to stroke
    strokes : strokes of the stretch that it was taken from
    spread : spread of the strokes around that rate, in places
    share : strokes of the stretch as a share of all strokes
    """

    place_s: float
    strokes: int
    spread: float
    share: float


def stroke_rate(stroke_s: FloatArray) -> StrokeRate | None:
    """Find the rate of the longest steady stretch, or None where there is none.

    Parameters
    ----------
    stroke_s : float array, shape (n,), increasing

    Source
    ------
    Ours: the mode of the intervals, then a line through the strokes as long as they stay
    within 0.3 of a place of it.
    """
    gap = np.diff(stroke_s)
    inside = gap[(gap > _SHORTEST_S) & (gap < _LONGEST_S)]
    if inside.size < _FEWEST:
        return None
    usual = _mode_of(inside)
    low, high = _STEADY
    single = (gap > low * usual) & (gap < high * usual)
    start, length = _longest_run(single)
    if length < _FEWEST:
        return None
    return _line(stroke_s, start, length, usual)


def _mode_of(gap: FloatArray) -> float:
    """Interval that most intervals lie within 12 % of."""
    ordered = np.sort(gap)
    inside = np.searchsorted(ordered, ordered * 1.25) - np.arange(ordered.size)
    top = int(np.argmax(inside))
    return float(np.median(ordered[top : top + inside[top]]))


def _longest_run(single: NDArray[np.bool_]) -> tuple[int, int]:
    """Start and length of the longest run; one or two odd gaps in it do not end it."""
    best, start, length, odd = (0, 0), 0, 0, 0
    for index, good in enumerate(single):
        if good:
            length, odd = length + 1, 0
        else:
            odd += 1
        if odd > 2:
            start, length, odd = index + 1, 0, 0
        if length > best[1]:
            best = (start, index + 1 - start)
    return best


def _line(stroke_s: FloatArray, start: int, length: int, usual: float) -> StrokeRate:
    """Rate by a line that is followed from the start of the stretch.

    Strokes off the line (bounces, echoes) are passed over; where most of the next ones are
    off, the line ends.
    """
    stretch = stroke_s[start : start + length + 1]
    slope, offset = usual, _offset_of(stretch[: 3 * _FEWEST], usual)
    end = min(stretch.size, 3 * _FEWEST)
    while True:
        on, number = _on_line(stretch[:end], slope, offset)
        if np.count_nonzero(on) >= _FEWEST and np.ptp(number[on]) > 0:
            slope, offset = (float(part) for part in np.polyfit(number[on], stretch[:end][on], 1))
        ahead, _ = _on_line(stretch[end : end + _LOOK_AHEAD], slope, offset)
        if ahead.size == 0 or np.mean(ahead) < 0.5:
            break
        end += ahead.size
    on, number = _on_line(stretch[:end], slope, offset)
    spread = float(np.std(((stretch[:end] - offset) / slope - number)[on])) if on.any() else 1.0
    return StrokeRate(slope, int(np.count_nonzero(on)), spread, end / stroke_s.size)


def _offset_of(stroke_s: FloatArray, interval_s: float) -> float:
    """Where a comb of that interval best meets the strokes."""
    turn = np.mean(np.exp(2j * np.pi * stroke_s / interval_s))
    return float(np.angle(turn) / (2 * np.pi)) * interval_s


def _on_line(
    stroke_s: FloatArray, slope: float, offset: float
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Which strokes lie near a whole number of intervals, and that number."""
    place = (stroke_s - offset) / slope
    number = np.round(place)
    return np.abs(place - number) < _STILL_ON, number


def early_rate(stroke_s: FloatArray) -> StrokeRate | None:
    """Find the rate at which the strokes began: a hand starts with the click, then may leave it.

    The first dozen or two of the strokes that tell a rate at all.
    """
    for first in range(0, max(stroke_s.size - _EARLY_STROKES, 1), _EARLY_STROKES // 3):
        rate = stroke_rate(stroke_s[first : first + _EARLY_STROKES])
        if rate is not None and rate.strokes >= _EARLY_STROKES // 2:
            return rate
    return None


def candidate_tempos(tempo_bpm: float, *, reach: float = 0.004) -> FloatArray:
    """Tempos that a click may have been set to, near one that was measured.

    A whole tempo comes first where it is near enough, then tenths by their distance; last
    the measured one itself.

    Examples
    --------
    >>> candidate_tempos(104.03)[:2]
    array([104. , 104.1])
    """
    reach = max(reach * tempo_bpm, 0.12)
    whole = round(tempo_bpm)
    tenths = np.arange(np.ceil((tempo_bpm - reach) * 10), (tempo_bpm + reach) * 10) / 10
    roundness = np.where(tenths % 1 == 0, 0, np.where(tenths % 0.5 == 0, 1, 2))
    off = np.abs(tenths - tempo_bpm)
    # Strokes alone tell a tempo to a few hundredths: a whole tempo further off is not it.
    unlikely = (roundness == 0) & (np.abs(whole - tempo_bpm) > _WHOLE_WITHIN_BPM)
    near_first = np.where(unlikely | (roundness == 1), 2, roundness)
    ordered = tenths[np.lexsort((off, near_first))]
    return np.concatenate((ordered, [tempo_bpm]))


def tempo_with_click(
    peaks: Peaks, tempo_bpm: float, *, duration_s: float, reach: float = 0.004
) -> tuple[float, float]:
    """Tempo near ``tempo_bpm`` at which a click stands out most, and its score (0: none)."""
    best = (tempo_bpm, 0.0)
    for tempo in candidate_tempos(tempo_bpm, reach=reach):
        phase = find_click_phase(peaks, period_s=60.0 / tempo, duration_s=duration_s)
        least = max(best[1] * 1.02, _LEAST_SCORE)
        if phase is not None and phase.score > least:
            best = (float(tempo), phase.score)
    return best
