"""The click as it bled into the recording: where it lies, how it sounds, taking it out.

A click comes at exact times and sounds the same each time; strokes do neither. Its place in
the count is found from the peaks of single bands, folded at the length of a count: clicks
pile up within a millisecond, strokes spread over tens. The waveform is then averaged over
the counts, which leaves the click and cancels the strokes.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.bands import BandAnalysis

__all__ = [
    "Bleed",
    "ClickPhase",
    "ClickSound",
    "band_peaks",
    "find_click_phase",
    "learn_bleed",
    "segments_at",
]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
IntArray = NDArray[np.int64]

_CLOCK_PPM = np.arange(-60.0, 60.1, 10.0)
_BIN_S = 0.0005
_SHARP_BINS = 2
_RING_BINS = (5, 16)
_LEAST_SCORE = 9.0
_ECHO_S = 0.16
_SHARE_OF_ECHO = 0.3
_LEAST_RISE = 0.25
_MOST_RISE = 1.2
_NEAR_S = 0.003
_FEWEST_IN_PILE = 5
_WIDEST_CLOCK = 75e-6
_SHARP_S = 0.0007
_SIDES_S = (-0.006, -0.0045, -0.003, 0.003, 0.0045, 0.006)
_LEAST_SHARPNESS = 4.9
_MOST_CLOCK_PPM = 40.0
_LEAD_S = 0.004
_LONGEST_S = 0.150
_GAIN_S = 0.030
_LEARN_S = 150.0
_MOST_SHIFT_S = 0.0006
_CYCLES = (2, 3, 4, 5, 6, 7, 8)
_LEAST_F_RATIO = 4.0


@dataclass(frozen=True)
class ClickPhase:
    """Where the clicks lie.

    Attributes
    ----------
    phase_s : time of one click, in [0, period_s)
    period_s : time from click to click in the take's own clock
    score : how far the pile of peaks stands out, in standard deviations
    """

    phase_s: float
    period_s: float
    score: float


@dataclass(frozen=True)
class Bleed:
    """The click in the recording.

    Attributes
    ----------
    phase_s : time of the click that is numbered 0 (it may lie before the recording)
    period_s : time from click to click
    waveform : float32 array, shape (cycle, samples), click number k sounds as
        ``waveform[k % cycle]``; it starts ``lead_samples`` before the click's time
    lead_samples : samples of the waveform before the click's time
    gain : float array, shape (clicks,), by how much each click stands in the recording
    heard : bool array, shape (clicks,), whether that click could be told from the rest
    """

    phase_s: float
    period_s: float
    waveform: Float32Array
    lead_samples: int
    gain: FloatArray
    heard: NDArray[np.bool_]

    @property
    def cycle(self) -> int:
        """Clicks until the sound of the click comes round again."""
        return int(self.waveform.shape[0])

    def time_s(self, number: IntArray) -> FloatArray:
        """Times of clicks by number."""
        return np.asarray(self.phase_s + self.period_s * number, dtype=np.float64)


def band_peaks(rise: Float32Array, *, hop_s: float) -> list[tuple[FloatArray, FloatArray]]:
    """Peaks of the rise of each band: (times in s, heights), one pair a band.

    Parameters
    ----------
    rise : float32 array, shape (frames, bands), rectified growth of band level
    hop_s : seconds from frame to frame
    """
    peaks = []
    for band in rise.T:
        middle = band[1:-1]
        at = 1 + np.flatnonzero(
            (middle > _LEAST_RISE) & (middle >= band[:-2]) & (middle > band[2:])
        )
        left, here, right = (band[at + k].astype(np.float64) for k in (-1, 0, 1))
        bend = left - 2 * here + right
        shift = np.where(bend < 0, 0.5 * (left - right) / np.minimum(bend, -1e-9), 0.0)
        peaks.append(((at + np.clip(shift, -0.5, 0.5)) * hop_s, here))
    return peaks


def find_click_phase(
    peaks: list[tuple[FloatArray, FloatArray]], *, period_s: float, duration_s: float
) -> ClickPhase | None:
    """Where in the count a click sounds, or None where none stands out.

    Parameters
    ----------
    peaks : peaks of each band, from ``band_peaks``
    period_s : length of a count as told
    duration_s : length of the take

    Returns
    -------
    phase : with the clock difference that makes the pile sharpest
    """
    best: ClickPhase | None = None
    for ppm in _CLOCK_PPM if duration_s > 5.0 else (0.0,):
        stretched = period_s * (1 + ppm * 1e-6)
        scores = sum(
            (_pile_scores(*peak, stretched) for peak in peaks if peak[0].size),
            start=np.zeros(round(stretched / _BIN_S)),
        )
        top = _earliest(scores, round(_ECHO_S / _BIN_S))
        if best is None or scores[top] > best.score:
            best = ClickPhase(top * stretched / scores.size, stretched, float(scores[top]))
    if best is None or best.score < _LEAST_SCORE:
        return None
    steadied = _steadied(peaks, best)
    if abs(steadied.period_s / period_s - 1) > _WIDEST_CLOCK:
        return None
    return steadied if _sharpness(peaks, steadied) >= _LEAST_SHARPNESS else None


def _sharpness(peaks: list[tuple[FloatArray, FloatArray]], phase: ClickPhase) -> float:
    """How many counts have a peak right on the click against those a little off it.

    Clicks come to a fraction of a millisecond, strokes to several: a pile that is as wide as
    a hand's own spread is no click. A count tells only where two bands agree.
    """
    on: set[int] = set()
    off: list[set[int]] = [set() for _ in _SIDES_S]
    seen: dict[tuple[int, int], int] = {}
    windows = (0.0, *_SIDES_S)
    for at_s, _ in peaks:
        number = np.round((at_s - phase.phase_s) / phase.period_s).astype(np.int64)
        late = at_s - phase.phase_s - number * phase.period_s
        lag = _mode(late[np.abs(late) < _NEAR_S]) if np.any(np.abs(late) < _NEAR_S) else 0.0
        for which, side_s in enumerate(windows):
            for count in np.unique(number[np.abs(late - lag - side_s) < _SHARP_S]):
                seen[which, int(count)] = seen.get((which, int(count)), 0) + 1
    for (which, count), bands in seen.items():
        if bands >= 2:
            (off[which - 1] if which else on).add(count)
    around = float(np.mean([len(side) for side in off]))
    return float((len(on) - around) / np.sqrt(around + 1.0))


def _steadied(peaks: list[tuple[FloatArray, FloatArray]], phase: ClickPhase) -> ClickPhase:
    """Phase and period from a line through the peaks of the pile, each band's lag apart."""
    numbers, offs, heights = [], [], []
    for at_s, height in peaks:
        number = np.round((at_s - phase.phase_s) / phase.period_s)
        off = at_s - phase.phase_s - number * phase.period_s
        near = np.abs(off) < _NEAR_S
        if np.count_nonzero(near) < _FEWEST_IN_PILE:
            continue
        middle = _mode(off[near])
        inside = np.abs(off - middle) < 0.5 * _NEAR_S
        numbers.append(number[inside])
        offs.append(off[inside] - middle)
        heights.append(np.minimum(height[inside], _MOST_RISE))
    if not numbers:
        return phase
    number, off, height = (np.concatenate(part) for part in (numbers, offs, heights))
    slope, middle = 0.0, 0.0
    for width in (0.5, 0.35, 0.25):
        keep = np.abs(off - middle - slope * number) < width * _NEAR_S
        if np.ptp(number[keep]) < _FEWEST_IN_PILE:
            return phase
        slope, middle = np.polyfit(number[keep], off[keep], 1, w=np.sqrt(height[keep]))
    limit = _MOST_CLOCK_PPM * 1e-6 * phase.period_s
    return ClickPhase(
        float(np.mod(phase.phase_s + middle, phase.period_s)),
        float(phase.period_s + np.clip(slope, -limit, limit)),
        phase.score,
    )


def _mode(off_s: FloatArray) -> float:
    """Where most values lie within half a millisecond of each other."""
    ordered = np.sort(off_s)
    inside = np.searchsorted(ordered, ordered + 0.0006) - np.arange(ordered.size)
    top = int(np.argmax(inside))
    return float(np.median(ordered[top : top + inside[top]]))


def _earliest(scores: FloatArray, reach: int) -> int:
    """The highest pile, or one that comes shortly before it and is not much lower.

    Reflections and the decay of a click make piles of their own, always after it.
    """
    top = int(np.argmax(scores))
    before = scores[np.arange(top - min(reach, scores.size // 2), top + 1)]
    high = int(np.flatnonzero(before >= _SHARE_OF_ECHO * scores[top])[0])
    near = before[high : high + _RING_BINS[0]]
    return int((top - before.size + 1 + high + int(np.argmax(near))) % scores.size)


def _pile_scores(at_s: FloatArray, height: FloatArray, period_s: float) -> FloatArray:
    """How much rise falls together at each phase, against what lies around it.

    Heights count, so that the onset of a click outweighs the beats of its decay; they are
    capped, so that no few loud strokes make a pile.
    """
    bins = round(period_s / _BIN_S)
    index = np.floor(np.mod(at_s / period_s, 1.0) * bins).astype(np.int64) % bins
    capped = np.minimum(height, _MOST_RISE)
    sharp = _around(np.bincount(index, capped, bins), -_SHARP_BINS, _SHARP_BINS)
    near, far = _RING_BINS
    pile, square = np.bincount(index, capped, bins), np.bincount(index, capped**2, bins)
    width = (2 * _SHARP_BINS + 1) / (far - near + 1)
    sides = [(-far, -near), (near, far)]
    expected = width * np.max([_around(pile, *side) for side in sides], axis=0)
    variance = width * np.max([_around(square, *side) for side in sides], axis=0)
    score = (sharp - expected) / np.sqrt(variance + _MOST_RISE**2)
    return np.asarray(np.maximum(score - 2.0, 0.0))


def _around(pile: NDArray[np.floating | np.signedinteger], low: int, high: int) -> FloatArray:
    """Sum of a circular pile from ``low`` to ``high`` bins off each bin."""
    reach = max(abs(low), abs(high)) + 1
    total = np.concatenate(([0.0], np.cumsum(np.pad(pile, reach, mode="wrap"))))
    centre = np.arange(pile.size) + reach
    return np.asarray(total[centre + high + 1] - total[centre + low], dtype=np.float64)


def learn_bleed(samples: Float32Array, phase: ClickPhase, *, sample_rate_hz: int) -> Bleed:
    """Learn the waveform, exact times and gains of the clicks.

    Parameters
    ----------
    samples : float32 array, shape (n,)
    phase : where the clicks lie, to about a millisecond
    sample_rate_hz : rate of the samples

    Returns
    -------
    bleed : clicks numbered from the first whose time is not before the recording

    Source
    ------
    Ours: coherent averaging, each click weighted by the inverse of what else sounds with
    it, so that the clicks of the count-in teach most.
    """
    length = int(min(_LONGEST_S, 0.9 * phase.period_s) * sample_rate_hz)
    lead = int(_LEAD_S * sample_rate_hz)
    clicks = int((samples.size / sample_rate_hz - phase.phase_s) / phase.period_s) + 1
    clicks = min(clicks, max(int(_LEARN_S / phase.period_s), _FEWEST_IN_PILE))
    fit = np.array([phase.phase_s, phase.period_s]) * sample_rate_hz
    for _ in range(3):
        segments = segments_at(samples, fit, clicks, lead=lead, length=length)
        weights = np.full(clicks, 1.0)
        mean = segments.mean(axis=0)
        for _ in range(3):
            weights = _weights(segments, mean)
            mean = weights @ segments
        shift = _shifts(segments, mean, most=max(int(_MOST_SHIFT_S * sample_rate_hz), 1))
        fit = fit + _robust_line(shift, weights)
    segments = segments_at(samples, fit, clicks, lead=lead, length=length)
    waveform = _by_class(segments, _weights(segments, weights @ segments))
    gain, heard = _gains(segments, waveform, lead + int(_GAIN_S * sample_rate_hz))
    return Bleed(
        phase_s=float(fit[0] / sample_rate_hz),
        period_s=float(fit[1] / sample_rate_hz),
        waveform=waveform.astype(np.float32),
        lead_samples=lead,
        gain=gain,
        heard=heard,
    )


def segments_at(
    samples: Float32Array, fit: FloatArray, clicks: int, *, lead: int, length: int
) -> FloatArray:
    """Sound around every click, moved by fractions of a sample so that all align."""
    at = fit[0] + fit[1] * np.arange(clicks)
    whole = np.floor(at).astype(np.int64)
    padded = np.concatenate((np.zeros(lead + 1), samples, np.zeros(length + lead + 1)))
    rows = padded[np.minimum(whole + 1, samples.size)[:, None] + np.arange(length)]
    return _moved(rows, whole - at)


def _moved(rows: FloatArray, by_samples: FloatArray) -> FloatArray:
    """Each row moved later by a number of samples, by its spectrum."""
    size = rows.shape[1]
    spectrum = np.fft.rfft(rows, axis=1)
    turn = -2j * np.pi * np.arange(spectrum.shape[1]) / size
    return np.asarray(np.fft.irfft(spectrum * np.exp(by_samples[:, None] * turn), size, axis=1))


def _weights(segments: FloatArray, mean: FloatArray) -> FloatArray:
    """Inverse of what each segment holds beside the click; they sum to one."""
    beside = np.mean(np.square(segments - mean), axis=1)
    floor = 0.02 * float(np.median(beside)) + 1e-12
    weights = 1.0 / (beside + floor)
    return np.asarray(weights / weights.sum())


def _shifts(segments: FloatArray, mean: FloatArray, *, most: int) -> FloatArray:
    """How late each segment's click is against the mean, in samples, by cross-correlation."""
    size = segments.shape[1]
    product = np.fft.rfft(segments, axis=1) * np.conj(np.fft.rfft(mean))
    fine = 4
    lagged = np.fft.irfft(product, size * fine, axis=1)
    near = np.arange(-most * fine, most * fine + 1)
    return np.asarray(near[np.argmax(lagged[:, near], axis=1)] / fine, dtype=np.float64)


def _robust_line(shift: FloatArray, weights: FloatArray) -> FloatArray:
    """Offset and slope of the shifts over click number, outliers left out."""
    number = np.arange(shift.size, dtype=np.float64)
    keep = weights > 0
    line = np.array([np.median(shift), 0.0])
    for width in (1e9, 3.0, 2.0):
        off = np.abs(shift - line[0] - line[1] * number)
        keep = off <= max(width * float(np.median(off)), 1.0)
        root = np.sqrt(np.minimum(weights, np.median(weights) * 4))[keep]
        if np.count_nonzero(keep) < 4:
            return line
        design = np.stack((np.ones(keep.sum()), number[keep]), axis=1)
        line = np.linalg.lstsq(design * root[:, None], shift[keep] * root, rcond=None)[0]
    return line


def _by_class(segments: FloatArray, weights: FloatArray) -> FloatArray:
    """Mean waveform of each click of the cycle, the cycle chosen by an F ratio."""
    best, best_ratio = (weights @ segments / weights.sum())[None], _LEAST_F_RATIO
    total = float(weights @ np.square(segments).sum(axis=1))
    whole = weights.sum() * float(np.square(best).sum())
    for cycle in _CYCLES:
        if segments.shape[0] < 3 * cycle:
            break
        means, explained = [], 0.0
        for first in range(cycle):
            own = weights[first::cycle]
            mean = own @ segments[first::cycle] / own.sum()
            means.append(mean)
            explained += own.sum() * float(np.square(mean).sum())
        left = max(total - explained, 1e-30) / (segments.shape[0] - cycle)
        ratio = (explained - whole) / (cycle - 1) / left
        if ratio > best_ratio:
            best, best_ratio = np.stack(means), ratio
    return np.asarray(best)


def _gains(
    segments: FloatArray, waveform: FloatArray, until: int
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Gain of every click, steadied over its neighbours, and which clicks are heard."""
    known = waveform[np.arange(segments.shape[0]) % waveform.shape[0], :until]
    heard = segments[:, :until]
    energy = np.maximum(np.square(known).sum(axis=1), 1e-20)
    gain = (heard * known).sum(axis=1) / energy
    beside = np.square(heard - gain[:, None] * known).sum(axis=1)
    spread = np.sqrt(beside / energy / max(until / 24, 1.0))
    usual = float(np.median(gain))
    told = (gain > 0.35 * usual) & (gain > 3.0 * spread)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(gain, 2, mode="edge"), 5)
    steady = np.median(around, axis=1)
    own = spread < 0.15
    return np.clip(np.where(own, gain, steady), 0.0, 4.0), told


class ClickSound:
    """The clicks of a recording, as sound and as band levels, for any stretch of it.

    Parameters
    ----------
    bleed : the click that was learned; outside the clicks it was learned from, the gain of
        the nearest goes on
    analysis : how the sound is cut into frames
    """

    def __init__(self, bleed: Bleed, analysis: BandAnalysis) -> None:
        self._bleed = bleed
        self._analysis = analysis
        self._rows: dict[int, Float32Array] = {}
        self._power = [self._class_power(wave) for wave in bleed.waveform]

    def samples(self, first: int, count: int) -> Float32Array:
        """Sound of the clicks from sample ``first`` on, shape (count,)."""
        sound = np.zeros(count, dtype=np.float32)
        rate = self._analysis.sample_rate_hz
        length = self._bleed.waveform.shape[1]
        for number in self._numbers(first - length, first + count + length, per_s=rate):
            row = self._row(number)
            start = self._whole_sample(number) - self._bleed.lead_samples - first
            low, high = max(start, 0), min(start + row.size, count)
            if high > low:
                sound[low:high] += row[low - start : high - start]
        return sound

    def power(self, first: int, count: int) -> Float32Array:
        """Band power of the clicks from frame ``first`` on, shape (count, bands)."""
        total = np.zeros((count, self._power[0].shape[1]), dtype=np.float32)
        per_s = 1.0 / self._analysis.hop_s
        length = self._power[0].shape[0]
        for number in self._numbers(first - length, first + count + length, per_s=per_s):
            at_s = self._bleed.phase_s + number * self._bleed.period_s - self._analysis.middle_s
            start = round(at_s * per_s) - self._frames_before - first
            low, high = max(start, 0), min(start + length, count)
            if high > low:
                own = self._power[number % self._bleed.cycle][low - start : high - start]
                total[low:high] += np.float32(self._gain(number) ** 2) * own
        return total

    def _numbers(self, first: float, end: float, *, per_s: float) -> range:
        phase, period = self._bleed.phase_s * per_s, self._bleed.period_s * per_s
        return range(int(np.floor((first - phase) / period)), int((end - phase) / period) + 2)

    def _gain(self, number: int) -> float:
        return float(self._bleed.gain[min(max(number, 0), self._bleed.gain.size - 1)])

    def _at_sample(self, number: int) -> float:
        at_s = self._bleed.phase_s + number * self._bleed.period_s
        return at_s * self._analysis.sample_rate_hz

    def _whole_sample(self, number: int) -> int:
        return int(np.floor(self._at_sample(number)))

    def _row(self, number: int) -> Float32Array:
        """One click, moved to its fraction of a sample; the last few are kept."""
        if number not in self._rows:
            late = np.array([self._at_sample(number) - self._whole_sample(number)])
            wave = self._bleed.waveform[number % self._bleed.cycle][None].astype(np.float64)
            self._rows[number] = (_moved(wave, late)[0] * self._gain(number)).astype(np.float32)
            self._rows.pop(number - 8, None)
        return self._rows[number]

    @property
    def _frames_before(self) -> int:
        return -(-self._analysis.window // self._analysis.hop)

    def _class_power(self, wave: Float32Array) -> Float32Array:
        """Band power of one click; its time is the middle of frame ``_frames_before``."""
        analysis = self._analysis
        middle = self._frames_before * analysis.hop + analysis.window // 2
        padded = np.concatenate(
            (
                np.zeros(middle - self._bleed.lead_samples, dtype=np.float32),
                wave,
                np.zeros(analysis.window, dtype=np.float32),
            )
        )
        return analysis.whole(padded)
