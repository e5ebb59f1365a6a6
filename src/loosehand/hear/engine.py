"""The engine that hears strokes: one for whole files and for live sound.

Sound goes in by chunks of any size; inside, it is cut into blocks counted from the first
sample, so that the strokes that come out are the same to the last bit. What the engine is
told beforehand (``Acoustics``) is fixed while it runs.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.acoustics import Acoustics, above_floor
from loosehand.hear.bands import (
    BAND_EDGES_HZ,
    FRAMES_PER_BLOCK,
    RISE_LAG_S,
    BandAnalysis,
)
from loosehand.hear.bleed import ClickSound
from loosehand.hear.stroke_net import (
    FRAMES_PER_OUTPUT,
    OUTPUT_OFFSET,
    SPAN,
    StrokeNet,
    load_stroke_net,
)

__all__ = ["Candidates", "Engine", "join"]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

_BANDS = len(BAND_EDGES_HZ) - 1
_OUTPUTS_PER_BLOCK = FRAMES_PER_BLOCK // FRAMES_PER_OUTPUT
_APART = 13
"""Outputs (2 ms each) within which only the likeliest of several peaks is kept."""
_LEAST_LOG_ODDS = -2.2
_NOTHING = np.array([[-99.0, 0.0]], dtype=np.float32)
_MOST_OFF = 1.0
_BEFORE = (12, 5)
"""Frames before a stroke, from and to, that say what sounded already."""
_AFTER = 12
"""Frames after a stroke in which its level is taken."""


@dataclass(frozen=True)
class Candidates:
    """Moments that may be strokes, in order of time.

    Attributes
    ----------
    time_s : float array, shape (n,)
    log_odds : float array, shape (n,), of a stroke against none
    level_db : float array, shape (n,), relative to full scale, what sounded before taken off
    timbre_db : float array, shape (n, bands), level of each band around their mean
    """

    time_s: FloatArray
    log_odds: FloatArray
    level_db: FloatArray
    timbre_db: FloatArray

    def __len__(self) -> int:
        """Return the number of candidates."""
        return int(self.time_s.size)


def join(parts: list[Candidates]) -> Candidates:
    """One after the other."""
    if not parts:
        empty = np.zeros(0)
        return Candidates(empty, empty, empty, np.zeros((0, _BANDS)))
    return Candidates(
        np.concatenate([part.time_s for part in parts]),
        np.concatenate([part.log_odds for part in parts]),
        np.concatenate([part.level_db for part in parts]),
        np.concatenate([part.timbre_db for part in parts]),
    )


class Engine:
    """Hears strokes in sound that comes in chunks.

    Parameters
    ----------
    acoustics : what is known of the recording

    Notes
    -----
    ``push`` returns the candidates that have become certain of their time and level;
    ``finish`` returns the rest. What is returned, put together, does not depend on how the
    sound was cut.
    """

    def __init__(self, acoustics: Acoustics) -> None:
        self._floor = acoustics.floor
        self._analysis = BandAnalysis(acoustics.sample_rate_hz)
        bleed = acoustics.bleed
        self._clicks = None if bleed is None else ClickSound(bleed, self._analysis)
        self._net: StrokeNet = load_stroke_net()
        self._waiting: list[Float32Array] = []
        self._samples_in = 0
        self._block = 0
        self._sound = np.zeros(0, dtype=np.float32)
        self._levels = np.zeros((0, 2 * _BANDS), dtype=np.float32)
        self._power = np.zeros((0, _BANDS), dtype=np.float32)
        self._first_frame = 0
        self._told = np.tile(_NOTHING, (_APART, 1))
        self._first_output = -_APART

    def push(self, samples: Float32Array) -> Candidates:
        """Take the next samples (float32, mono, any number) and return what is settled."""
        self._waiting.append(samples)
        self._samples_in += samples.size
        if (
            self._samples_in
            < self._block * self._analysis.block_samples + self._analysis.block_span
        ):
            return join([])
        return self._run(end=False)

    def finish(self) -> Candidates:
        """No more samples come: return what is left."""
        hear_s = self._samples_in / self._analysis.sample_rate_hz
        self._waiting.append(np.zeros(2 * self._analysis.block_span, dtype=np.float32))
        self._samples_in += self._waiting[-1].size
        last = self._run(end=True)
        inside = last.time_s < hear_s
        return Candidates(*(part[inside] for part in vars(last).values()))

    def _run(self, *, end: bool) -> Candidates:
        self._sound = np.concatenate((self._sound, *self._waiting))
        self._waiting = []
        parts = []
        step, span = self._analysis.block_samples, self._analysis.block_span
        while self._sound.size >= span:
            self._hear_block(self._sound[:span])
            self._sound = self._sound[step:]
            self._block += 1
            parts.append(self._settle(end=False))
        if end:
            parts.append(self._settle(end=True))
        return join(parts)

    def _hear_block(self, sound: Float32Array) -> None:
        """Band levels of one block, then the network's odds as far as they are complete."""
        first_frame = self._block * FRAMES_PER_BLOCK
        click_power = np.zeros((FRAMES_PER_BLOCK, _BANDS), dtype=np.float32)
        if self._clicks is not None:
            first_sample = self._block * self._analysis.block_samples
            sound = sound - self._clicks.samples(first_sample, sound.size)
            click_power = self._clicks.power(first_frame, FRAMES_PER_BLOCK)
        power = self._analysis.band_power(sound)
        levels = np.concatenate(
            (above_floor(power, self._floor), above_floor(click_power, self._floor)), axis=1
        )
        self._power = np.concatenate((self._power, power))
        self._levels = np.concatenate((self._levels, levels))
        window = FRAMES_PER_BLOCK + SPAN - FRAMES_PER_OUTPUT
        if self._levels.shape[0] >= window:
            told = self._net(np.ascontiguousarray(self._levels[:window]))
            self._told = np.concatenate((self._told, told))
            self._levels = self._levels[FRAMES_PER_BLOCK:]

    def _settle(self, *, end: bool) -> Candidates:
        """Candidates whose neighbours are all known; then forget what is done with."""
        if end:
            self._told = np.concatenate((self._told, np.tile(_NOTHING, (_APART, 1))))
        odds = self._told[:, 0]
        if odds.size <= 2 * _APART:
            return join([])
        around = np.lib.stride_tricks.sliding_window_view(odds, 2 * _APART + 1)
        middle = odds[_APART:-_APART]
        before = around[:, :_APART].max(axis=1)
        after = around[:, _APART + 1 :].max(axis=1)
        peak = np.flatnonzero((middle > _LEAST_LOG_ODDS) & (middle > before) & (middle >= after))
        found = self._measure(peak + _APART)
        self._told = self._told[middle.size :]
        self._first_output += middle.size
        self._forget()
        return found

    def _forget(self) -> None:
        """Drop band power that no candidate to come can ask for."""
        first = FRAMES_PER_OUTPUT * self._first_output + int(OUTPUT_OFFSET) - 2 * _BEFORE[0]
        drop = max(first - self._first_frame, 0)
        self._power = self._power[drop:]
        self._first_frame += drop

    def _measure(self, at: NDArray[np.int64]) -> Candidates:
        """Time as the network tells it; level and timbre from the bands around it."""
        told = self._told[at].astype(np.float64)
        off = np.clip(told[:, 1], -_MOST_OFF, _MOST_OFF)
        frame = FRAMES_PER_OUTPUT * (self._first_output + at + off) + OUTPUT_OFFSET
        time_s = self._analysis.middle_s + frame * self._analysis.hop_s + RISE_LAG_S
        level_db, timbre_db = self._level(np.round(frame).astype(np.int64))
        return Candidates(time_s, told[:, 0], level_db, timbre_db)

    def _level(self, frame: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
        """Level and timbre of what began at each frame."""
        row = frame - self._first_frame
        last = self._power.shape[0] - 1

        def rows(first: int, end: int) -> FloatArray:
            index = np.clip(row[:, None] + np.arange(first, end), 0, last)
            return np.asarray(self._power[index], dtype=np.float64)

        before = rows(-_BEFORE[0], -_BEFORE[1]).mean(axis=1)
        peak = rows(-1, _AFTER).max(axis=1)
        new = np.maximum(peak - before, 0.02 * peak) + 1e-12
        band_db = 10.0 * np.log10(new)
        level_db = 10.0 * np.log10(new.sum(axis=1))
        return level_db, band_db - band_db.mean(axis=1, keepdims=True)
