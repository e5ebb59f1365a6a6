"""The stored sound of a take, to look at and to play: as it is, or with its click changed.

Any stretch can be read by itself, so a player may jump about in a take without the whole of it
being made first. The click is taken out as the ear takes it out; a clear one is added where the
reading has its counts.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import NotFound, StoreError

__all__ = ["CountTimes", "TakeSound", "as_recorded", "waveform", "with_click", "without_click"]

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Added = Callable[[int, int], Float32Array]

_BLOCK_FRAMES = 1 << 18
_LEARN_FROM_S = 420.0
"""How much of a recording the click is learned from: as much as is heard of it."""
_TIMBRE = "high wood"
_CLICK_SHARE = 0.8
"""Peak of the added click against that of the recording. Chosen by ear, not validated."""
_QUIETEST_PEAK = 0.05
_ROOM = 0.98
_PEAK_COLUMNS = 1024


@dataclass(frozen=True)
class CountTimes:
    """Where the counts of a take lie.

    Attributes
    ----------
    first_count_s : time of count 1
    count_s : length of a count
    counts : how many there are
    """

    first_count_s: float
    count_s: float
    counts: int


@dataclass(frozen=True)
class TakeSound:
    """A sound of which any stretch can be read.

    Attributes
    ----------
    path : the stored file
    sample_rate_hz : rate
    frames : length in samples
    added : gives what is added to a stretch: first sample, number of samples
    gain : by which the sum is made softer, so that it fits
    """

    path: Path
    sample_rate_hz: int
    frames: int
    added: Added | None
    gain: float

    def stretches(self, first: int, end: int) -> Iterator[Float32Array]:
        """Samples from ``first`` to ``end`` (not included), in pieces, within [-1, 1].

        Raises
        ------
        StoreError   if the file cannot be read any more
        """
        with _opened(self.path) as sound:
            sound.seek(first)
            while first < end:
                block = sound.read(min(_BLOCK_FRAMES, end - first), dtype="float32")
                if not block.size:
                    block = np.zeros(min(_BLOCK_FRAMES, end - first), dtype=np.float32)
                if self.added is not None:
                    block = (block + self.added(first, block.size)) * np.float32(self.gain)
                yield np.clip(block, -1.0, 1.0)
                first += block.size


def waveform(path: Path, *, columns: int) -> FloatArray:
    """Lowest and highest sample of every column of a picture.

    Parameters
    ----------
    path : the stored sound
    columns : number of columns, 1 or more

    Returns
    -------
    extent : float array, shape (columns, 2), full scale 1; nought for columns past the end of a
        sound that has fewer samples than columns

    Raises
    ------
    StoreError   if the file cannot be read any more
    """
    extent = np.zeros((columns, 2))
    with _opened(path) as sound:
        width = max(-(-sound.frames // columns), 1)
        edges = np.linspace(0, sound.frames, columns + 1).round().astype(np.int64)
        together = max(_BLOCK_FRAMES // width, 1)
        for column in range(0, columns, together):
            own = edges[column : column + together + 1]
            block = sound.read(int(own[-1] - own[0]), dtype="int16")
            starts = (own[:-1] - own[0])[np.diff(own) > 0]
            if not block.size or not starts.size:
                continue
            rows = column + np.flatnonzero(np.diff(own) > 0)
            extent[rows, 0] = np.minimum.reduceat(block, starts)
            extent[rows, 1] = np.maximum.reduceat(block, starts)
    return extent / 32768.0


def as_recorded(path: Path) -> TakeSound:
    """Return the sound as it was recorded.

    Raises
    ------
    StoreError   if the file cannot be read any more
    """
    with _opened(path) as sound:
        return TakeSound(path, int(sound.samplerate), int(sound.frames), None, 1.0)


def without_click(path: Path, *, count_s: float) -> TakeSound:
    """Return the sound with its click taken out.

    Parameters
    ----------
    path : the stored sound
    count_s : length of a count as the ear was told it

    Raises
    ------
    NotFound     if no click stands out in the recording
    StoreError   if the file cannot be read any more
    """
    from loosehand.hear.bands import BandAnalysis
    from loosehand.hear.bleed import ClickSound

    recorded = as_recorded(path)
    with _LEARNING:
        bleed = _learned_click(path, count_s)
    if bleed is None:
        raise NotFound("no click stands out in this recording, so there is none to take out")
    click = ClickSound(bleed, BandAnalysis(recorded.sample_rate_hz))

    def less_click(first: int, count: int) -> Float32Array:
        return -click.samples(first, count)

    return TakeSound(path, recorded.sample_rate_hz, recorded.frames, less_click, 1.0)


def with_click(path: Path, counts: CountTimes) -> TakeSound:
    """Return the sound with a clear click added at every count.

    Parameters
    ----------
    path : the stored sound
    counts : where the clicks come

    Raises
    ------
    StoreError   if the file cannot be read any more
    """
    recorded = as_recorded(path)
    peak = max(_peak(path), _QUIETEST_PEAK)
    level = _CLICK_SHARE * peak

    def clicks(first: int, count: int) -> Float32Array:
        return _clicks(counts, level, first, count, sample_rate_hz=recorded.sample_rate_hz)

    gain = min(1.0, _ROOM / (peak + level))
    return TakeSound(path, recorded.sample_rate_hz, recorded.frames, clicks, gain)


def _clicks(
    counts: CountTimes, level: float, first: int, count: int, *, sample_rate_hz: int
) -> Float32Array:
    """Clear clicks in a stretch."""
    from loosehand.click.sound import click_waveform

    sound = np.zeros(count)
    length = int(0.1 * sample_rate_hz)
    start, step = counts.first_count_s * sample_rate_hz, counts.count_s * sample_rate_hz
    lowest = max(int(np.ceil((first - length - start) / step)), 0)
    highest = min(int(np.floor((first + count - start) / step)), counts.counts - 1)
    for number in range(lowest, highest + 1):
        at = start + number * step
        whole = int(np.floor(at))
        wave = level * click_waveform(
            _TIMBRE, "downbeat", sample_rate_hz=sample_rate_hz, late_samples=at - whole
        )
        low, high = max(whole - first, 0), min(whole - first + wave.size, count)
        if high > low:
            sound[low:high] += wave[low - (whole - first) : high - (whole - first)]
    return sound.astype(np.float32)


_LEARNING = threading.Lock()
"""A browser asks for several stretches at once: the click is learned for the first of them."""


@lru_cache(maxsize=8)
def _learned_click(path: Path, count_s: float) -> Any:
    """Learn the click of a stored sound, whose name says what is in it; None where there is none.

    Kept for the few takes last listened to: learning takes longer than all else of an answer.
    """
    from loosehand.hear.acoustics import survey
    from loosehand.hear.bands import BandAnalysis

    with _opened(path) as sound:
        rate = int(sound.samplerate)
        samples = sound.read(int(_LEARN_FROM_S * rate), dtype="float32")
    analysis = BandAnalysis(rate)
    return survey(samples, analysis.whole(samples), analysis, period_s=count_s).bleed


@lru_cache(maxsize=64)
def _peak(path: Path) -> float:
    """Highest sample of a stored sound, whose name says what is in it."""
    return float(np.max(np.abs(waveform(path, columns=_PEAK_COLUMNS))))


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open a stored sound for reading.

    Raises
    ------
    StoreError   if it cannot be read
    """
    import soundfile

    try:
        with soundfile.SoundFile(path) as sound:
            yield sound
    except soundfile.LibsndfileError as error:
        raise StoreError(
            f"the stored sound {path.name} cannot be read any more: {error}"
        ) from error
