"""Where count 1 is, when nobody says: from the click's bleed, else from the strokes.

A start is found by evidence: silence before, the figure after, the next two counts first. A
count-in of four or eight clicks, where the first click is heard, speaks for the count that
follows it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.bleed import Bleed, ClickPhase
from loosehand.hear.heard import CountGrid, ListenRequest

__all__ = ["ClickEvidence", "counts_of_minute", "find_grid", "steady_start"]

FloatArray = NDArray[np.float64]

_COUNT_IN_ODDS = {4: 2.0, 8: 1.6, 2: 0.8, 3: 0.0, 6: 0.0}
_ODD_COUNT_IN = -1.5
_PLAYING_LEAST = 0.02
_FIRST_GAPS = ((0.6, 1.5), (1.75, 2.25))
"""Gaps, in places, that may follow the first stroke: the second may have been missed."""
_FILLED = 0.65
_WEIGHT_AHEAD = (1.0, 0.8, 0.5, 0.4, 0.3, 0.3)
_LAST_PLACE_TOLERANCE = 0.35
_QUIET_END_COUNTS = 2.5
_QUIET_END_S = 3.2


@dataclass(frozen=True)
class ClickEvidence:
    """The clicks of the recording, as far as they were heard.

    Attributes
    ----------
    phase_s : time of click number 0
    period_s : time from click to click
    first_number : number of the first click heard, or None where that is not certain
    last_number : number of the last click heard, or None where that is not certain
    """

    phase_s: float
    period_s: float
    first_number: int | None
    last_number: int | None


def counts_of_minute(period_s: float) -> int:
    """Counts in the usual round of a minute.

    Examples
    --------
    >>> counts_of_minute(60 / 104)
    104
    """
    return max(int(60.0 / period_s + 0.01), 1)


def click_evidence(phase: ClickPhase | None, bleed: Bleed | None) -> ClickEvidence | None:
    """What the clicks say, with the first and last of them where they stand out."""
    if phase is None or bleed is None:
        return None
    numbers = np.flatnonzero(bleed.heard)
    first = last = None
    if numbers.size >= 3 and numbers[1] - numbers[0] <= 2:
        first = int(numbers[0])
    if numbers.size >= 3 and numbers[-1] - numbers[-2] <= 2:
        last = int(numbers[-1])
    return ClickEvidence(bleed.phase_s, bleed.period_s, first, last)


def find_grid(
    stroke_s: FloatArray, click: ClickEvidence | None, request: ListenRequest, *, duration_s: float
) -> CountGrid | None:
    """Find the counts of a take.

    Parameters
    ----------
    stroke_s : float array, shape (n,), increasing
    click : the clicks heard, or None
    request : what was told; ``tempo_bpm`` must be there
    duration_s : length of the take

    Returns
    -------
    grid : or None where no stroke says where count 1 could be
    """
    assert request.tempo_bpm is not None, "the tempo is told or estimated before"
    n = request.places_per_count
    period_s = 60.0 / request.tempo_bpm if click is None else click.period_s
    if request.first_count_s is not None:
        first_s, source, confidence = request.first_count_s, "told", 1.0
    elif click is not None:
        found = _start_on_click(stroke_s, click, places_per_count=n)
        if found is None:
            return None
        (first_s, confidence), source = found, "click"
    else:
        start = steady_start(stroke_s, place_s=period_s / n, places_per_count=n)
        if start is None:
            return None
        (first_s, confidence), source = start, "strokes"
    counts = _counts_offered(stroke_s, click, request, first_s, period_s, duration_s)
    return CountGrid(first_s, period_s, counts, n, source, confidence)  # type: ignore[arg-type]


def _start_on_click(
    stroke_s: FloatArray, click: ClickEvidence, *, places_per_count: int
) -> tuple[float, float] | None:
    """Count 1 among the clicks: (time, chance that it is the right one)."""
    n = places_per_count
    if stroke_s.size == 0:
        return None
    place_s = click.period_s / n
    early = int(np.floor((stroke_s[0] - click.phase_s) / click.period_s)) - 1
    late = int(np.ceil((stroke_s[-1] - click.phase_s) / click.period_s)) + 1
    first = min(early, click.first_number if click.first_number is not None else early)
    counts = np.arange(first, late + 1 + len(_WEIGHT_AHEAD))
    edges = click.phase_s + counts * click.period_s - 0.5 * place_s
    heard = np.diff(np.searchsorted(stroke_s, edges)).astype(np.int64)
    before = np.concatenate(([0.0], np.cumsum(_log_chance_silent(heard))))
    ahead = _ahead(_log_chance_playing(heard, n))
    odds = before[: ahead.size] + ahead
    if click.first_number is not None:
        counted_in = first + np.arange(odds.size) - click.first_number
        odds = odds + np.array([_COUNT_IN_ODDS.get(int(c), _ODD_COUNT_IN) for c in counted_in])
    top = int(np.argmax(odds))
    chance = float(1.0 / np.sum(np.exp(np.maximum(odds - odds[top], -50.0))))
    return click.phase_s + (first + top) * click.period_s, chance


def _ahead(playing: FloatArray) -> FloatArray:
    """Evidence of the counts from each one on, the nearest with the most weight."""
    return np.convolve(playing, _WEIGHT_AHEAD[::-1], mode="valid")


def _log_chance_silent(heard: NDArray[np.int64]) -> FloatArray:
    """Log chance of so many sounds in a count in which nobody plays yet."""
    table = np.log([0.88, 0.07, 0.025, 0.01, 0.005])
    return np.asarray(table[np.minimum(heard, table.size - 1)])


def _log_chance_playing(heard: NDArray[np.int64], n: int) -> FloatArray:
    """Log chance of so many strokes in a count that is played."""
    short = np.maximum(n - heard, 0) / n
    over = np.maximum(heard - n - 1, 0)
    chance = np.where(short == 0, 0.75, np.where(short <= 0.25, 0.18, 0.06 * (1 - short)))
    return np.asarray(np.log(np.maximum(chance * 0.5**over, _PLAYING_LEAST * (1.02 - short))))


def steady_start(
    stroke_s: FloatArray, *, place_s: float, places_per_count: int
) -> tuple[float, float] | None:
    """First place of count 1 from strokes alone: (time, chance).

    The first stroke with another a place or two behind it and most of two counts filled; the
    place is then taken from the circular mean of the first four counts.
    """
    if stroke_s.size < 2:
        return None
    gap = np.diff(stroke_s) / place_s
    follows = np.any([(gap > low) & (gap < high) for low, high in _FIRST_GAPS], axis=0)
    ahead_s = 2 * places_per_count * place_s
    until = np.searchsorted(stroke_s, stroke_s + ahead_s - 0.5 * place_s)
    within = until - np.arange(stroke_s.size)
    good = np.flatnonzero(follows & (within[:-1] >= _FILLED * 2 * places_per_count))
    start = int(good[0]) if good.size else 0
    early = stroke_s[start:]
    early = early[early < stroke_s[start] + 4 * places_per_count * place_s]
    turn = np.exp(2j * np.pi * (early - stroke_s[start]) / place_s)
    shift = float(np.angle(np.mean(turn)) / (2 * np.pi)) * place_s
    return float(stroke_s[start]) + shift, 0.9 if good.size else 0.3


def _counts_offered(
    stroke_s: FloatArray,
    click: ClickEvidence | None,
    request: ListenRequest,
    first_s: float,
    period_s: float,
    duration_s: float,
) -> int:
    """Counts of the round: as planned, or the minute, as far as the recording goes."""
    place_s = period_s / request.places_per_count
    room_s = duration_s - first_s + _LAST_PLACE_TOLERANCE * place_s
    recorded = max(int((room_s + place_s * 0.3) / period_s), 0)
    if request.counts_planned is not None:
        return min(request.counts_planned, max(recorded, 1))
    minute = counts_of_minute(period_s)
    if recorded >= minute:
        return minute
    if click is not None and click.last_number is not None:
        last = round((click.phase_s + click.last_number * period_s - first_s) / period_s) + 1
        if 0 < last < recorded and duration_s - first_s - last * period_s > 0.6 * period_s:
            recorded = last
    played = stroke_s[stroke_s < duration_s]
    if played.size:
        quiet_s = duration_s - float(played[-1])
        last = int((float(played[-1]) - first_s + 0.5 * place_s) / period_s) + 1
        if quiet_s < max(_QUIET_END_COUNTS * period_s, _QUIET_END_S):
            recorded = min(recorded, max(last, 1))
    return max(recorded, 1)
