"""The engine that hears strokes: one for whole files and for live sound.

Sound goes in by chunks of any size; inside, it is cut into blocks counted from the first
sample, so that the candidates that come out are the same to the last bit. What the engine is
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
    FRAMES_AHEAD,
    FRAMES_PER_OUTPUT,
    OUTPUT_OFFSET,
    load_stroke_net,
)

__all__ = ["APART", "Candidates", "Engine", "Stretch", "join"]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

_BANDS = len(BAND_EDGES_HZ) - 1
APART = 6
"""Outputs (2 ms each) within which only the likeliest of several peaks is kept."""
_LEAST_LOG_ODDS = -2.2
_NOTHING = np.array([[-99.0, 0.0]], dtype=np.float32)
_MOST_OFF = 1.0
_BEFORE = (12, 5)
"""Frames before a stroke, from and to, that say what sounded already."""
_AFTER = 12
"""Frames after a stroke in which its level is taken."""
_FRAMES_AFTER_END = FRAMES_AHEAD + 4 * APART
"""Frames of silence that bring out the last candidates."""


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

    def some(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> "Candidates":
        """Candidates by their index, or where ``which`` is True."""
        return Candidates(
            self.time_s[which],
            self.log_odds[which],
            self.level_db[which],
            self.timbre_db[which],
        )


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


@dataclass(frozen=True)
class Stretch:
    """What one block of sound brought.

    Attributes
    ----------
    found : candidates that have become certain of their time and level
    until_s : no candidate before this time is still to come
    """

    found: Candidates
    until_s: float


class Engine:
    """Hears strokes in sound that comes in chunks.

    Parameters
    ----------
    acoustics : what is known of the recording
    frames_per_block : frames (1 ms) that are taken in at once, even
    wait_outputs : outputs (2 ms) after a peak that must be known before it is a candidate

    Notes
    -----
    What ``push`` and ``finish`` return, put together, does not depend on how the sound was
    cut: it comes block by block.
    """

    def __init__(
        self,
        acoustics: Acoustics,
        *,
        frames_per_block: int = FRAMES_PER_BLOCK,
        wait_outputs: int = APART,
    ) -> None:
        self._floor = acoustics.floor
        self._analysis = BandAnalysis(acoustics.sample_rate_hz)
        self._frames = frames_per_block
        self._wait = wait_outputs
        bleed = acoustics.bleed
        self._clicks = None if bleed is None else ClickSound(bleed, self._analysis)
        self._net = load_stroke_net().stream()
        self._waiting: list[Float32Array] = []
        self._samples_in = 0
        self._block = 0
        self._sound = np.zeros(0, dtype=np.float32)
        self._power = np.zeros((0, _BANDS), dtype=np.float32)
        self._first_frame = 0
        self._told = np.tile(_NOTHING, (APART, 1))
        self._first_output = -APART

    def push(self, samples: Float32Array) -> list[Stretch]:
        """Take the next samples (float32, mono, any number) and return what they settle."""
        self._waiting.append(samples)
        self._samples_in += samples.size
        step, span = self._step, self._analysis.span_of(self._frames)
        if self._samples_in < self._block * step + span:
            return []
        self._sound = np.concatenate((self._sound, *self._waiting))
        self._waiting = []
        stretches = []
        first = 0
        while self._sound.size - first >= span:
            self._hear_block(self._sound[first : first + span])
            first += step
            self._block += 1
            stretches.append(self._settle())
        self._sound = self._sound[first:]
        return stretches

    def finish(self) -> list[Stretch]:
        """No more samples come: return what is left."""
        heard_s = self._samples_in / self._analysis.sample_rate_hz
        silence = self._analysis.span_of(self._frames + _FRAMES_AFTER_END)
        stretches = self.push(np.zeros(silence, dtype=np.float32))
        return [
            Stretch(stretch.found.some(stretch.found.time_s < heard_s), stretch.until_s)
            for stretch in stretches
        ]

    @property
    def _step(self) -> int:
        return self._frames * self._analysis.hop

    def _hear_block(self, sound: Float32Array) -> None:
        """Band levels of one block, then what the network tells of them."""
        click_power = np.zeros((self._frames, _BANDS), dtype=np.float32)
        if self._clicks is not None:
            sound = sound - self._clicks.samples(self._block * self._step, sound.size)
            click_power = self._clicks.power(self._block * self._frames, self._frames)
        power = self._analysis.band_power(sound)
        levels = np.concatenate(
            (above_floor(power, self._floor), above_floor(click_power, self._floor)), axis=1
        )
        self._power = np.concatenate((self._power, power))
        self._told = np.concatenate((self._told, self._net.push(levels)))

    def _settle(self) -> Stretch:
        """Candidates whose neighbours are all known; then forget what is done with."""
        odds = self._told[:, 0]
        size = odds.size - APART - self._wait
        if size <= 0:
            return Stretch(join([]), self._until_s())
        middle = odds[APART : APART + size]
        before = _greatest(odds, 0, APART, size)
        after = _greatest(odds, APART + 1, self._wait, size)
        peak = np.flatnonzero((middle > _LEAST_LOG_ODDS) & (middle > before) & (middle >= after))
        found = self._measure(peak + APART)
        self._told = self._told[size:]
        self._first_output += size
        self._forget()
        return Stretch(found, self._until_s())

    def _until_s(self) -> float:
        """Time before which every candidate is known."""
        frame = FRAMES_PER_OUTPUT * (self._first_output + APART - _MOST_OFF) + OUTPUT_OFFSET
        return self._analysis.middle_s + frame * self._analysis.hop_s + RISE_LAG_S

    def _forget(self) -> None:
        """Drop band power that no candidate to come can ask for."""
        first = FRAMES_PER_OUTPUT * self._first_output + int(OUTPUT_OFFSET) - 2 * _BEFORE[0]
        drop = max(first - self._first_frame, 0)
        self._power = self._power[drop:]
        self._first_frame += drop

    def _measure(self, at: NDArray[np.int64]) -> Candidates:
        """Time as the network tells it; level and timbre from the bands around it."""
        if not at.size:
            return join([])
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


def _greatest(values: Float32Array, first: int, width: int, size: int) -> Float32Array:
    """Greatest of so many values in a row, for each of ``size`` places from the first on."""
    rows = [values[first + k : first + k + size] for k in range(width)]
    return np.asarray(np.maximum.reduce(rows))
