"""The tempo of a take that nobody told: from the rate of the strokes, then from the click."""

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.bleed import find_click_phase

__all__ = ["StrokeRate", "candidate_tempos", "stroke_rate", "tempo_with_click"]

from dataclasses import dataclass

FloatArray = NDArray[np.float64]
Peaks = list[tuple[FloatArray, FloatArray]]

_SHORTEST_S, _LONGEST_S = 0.045, 1.1
_STEADY = (0.72, 1.38)
_FEWEST = 5
_STILL_ON = 0.3
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
    """Rate by a line that is followed from the start of the stretch."""
    stretch = stroke_s[start : start + length + 1]
    number = np.concatenate(([0.0], np.cumsum(np.maximum(np.round(np.diff(stretch) / usual), 1))))
    end = min(stretch.size, 3 * _FEWEST)
    while True:
        slope, offset = np.polyfit(number[:end], stretch[:end], 1)
        # The number of each stroke is read off the line again, so that a bounce or a missed
        # stroke does not shift all that follow.
        again = np.round((stretch - offset) / slope)
        off = np.abs((stretch - offset) / slope - again)
        further = end
        while further < stretch.size and off[further] < _STILL_ON:
            further += 1
        if further == end or further - end < 2:
            break
        number, end = again, further
    spread = float(np.std((stretch[:end] - offset) / slope - number[:end]))
    return StrokeRate(float(slope), end, spread, end / stroke_s.size)


def candidate_tempos(tempo_bpm: float) -> FloatArray:
    """Tempos that a click may have been set to, near one that was measured.

    A whole tempo comes first where it is near enough, then tenths by their distance; last
    the measured one itself.

    Examples
    --------
    >>> candidate_tempos(104.03)[:2]
    array([104. , 104.1])
    """
    reach = max(0.004 * tempo_bpm, 0.12)
    whole = round(tempo_bpm)
    tenths = np.arange(np.ceil((tempo_bpm - reach) * 10), (tempo_bpm + reach) * 10) / 10
    roundness = np.where(tenths % 1 == 0, 0, np.where(tenths % 0.5 == 0, 1, 2))
    off = np.abs(tenths - tempo_bpm)
    # Strokes alone tell a tempo to a few hundredths: a whole tempo further off is not it.
    unlikely = (roundness == 0) & (np.abs(whole - tempo_bpm) > _WHOLE_WITHIN_BPM)
    near_first = np.where(unlikely | (roundness == 1), 2, roundness)
    ordered = tenths[np.lexsort((off, near_first))]
    return np.concatenate((ordered, [tempo_bpm]))


def tempo_with_click(peaks: Peaks, tempo_bpm: float, *, duration_s: float) -> tuple[float, float]:
    """Tempo near ``tempo_bpm`` at which a click stands out most, and its score (0: none)."""
    best = (tempo_bpm, 0.0)
    for tempo in candidate_tempos(tempo_bpm):
        phase = find_click_phase(peaks, period_s=60.0 / tempo, duration_s=duration_s)
        least = max(best[1] * 1.02, _LEAST_SCORE)
        if phase is not None and phase.score > least:
            best = (float(tempo), phase.score)
    return best
