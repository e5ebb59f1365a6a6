"""Band levels of sound, one frame a millisecond: what all hearing starts from.

Frame i covers samples ``i * hop`` to ``i * hop + window`` and carries the time of its
middle. Frames are computed in blocks of a fixed number of frames, counted from the first
sample of the take, so that sound which comes in chunks of any size gives the same figures
to the last bit.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import UnreadableAudio

__all__ = ["BAND_EDGES_HZ", "FRAMES_PER_BLOCK", "RISE_LAG_S", "BandAnalysis", "power_to_db"]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

BAND_EDGES_HZ = (
    120.0, 300.0, 600.0, 1000.0, 1500.0, 2200.0, 3200.0, 4500.0, 6500.0, 9000.0, 12000.0, 16000.0,
)  # fmt: skip
FRAMES_PER_BLOCK = 256
RISE_LAG_S = 0.0008
"""How much earlier than its onset the middle of a rise is seen, since windows look ahead of
their middle: measured on strokes of known time."""
_HOP_S = 0.001
_SHORTEST_WINDOW_S = 0.005
_LOWEST_RATE_HZ = 4000
_HIGHEST_RATE_HZ = 400_000


@dataclass(frozen=True)
class BandAnalysis:
    """How sound of one sample rate is cut into frames and bands.

    Attributes
    ----------
    sample_rate_hz : rate of the sound

    Raises
    ------
    UnreadableAudio    if the rate is not one that sound is recorded at
    """

    sample_rate_hz: int

    def __post_init__(self) -> None:
        """Refuse rates at which no band can be told."""
        if not _LOWEST_RATE_HZ <= self.sample_rate_hz <= _HIGHEST_RATE_HZ:
            raise UnreadableAudio(
                f"sample_rate_hz = {self.sample_rate_hz}: want {_LOWEST_RATE_HZ} to "
                f"{_HIGHEST_RATE_HZ}; convert the recording to 44100 or 48000 first"
            )

    @cached_property
    def hop(self) -> int:
        """Samples from frame to frame, about a millisecond."""
        return max(round(_HOP_S * self.sample_rate_hz), 1)

    @cached_property
    def hop_s(self) -> float:
        """Seconds from frame to frame."""
        return self.hop / self.sample_rate_hz

    @cached_property
    def window(self) -> int:
        """Samples in a frame: the power of two of 5 ms or a little more."""
        return int(2 ** np.ceil(np.log2(_SHORTEST_WINDOW_S * self.sample_rate_hz)))

    @cached_property
    def middle_s(self) -> float:
        """Time of the middle of frame 0."""
        return 0.5 * self.window / self.sample_rate_hz

    @cached_property
    def block_samples(self) -> int:
        """Samples from the start of one block of frames to the start of the next."""
        return FRAMES_PER_BLOCK * self.hop

    @cached_property
    def block_span(self) -> int:
        """Samples that one block of frames needs."""
        return self.span_of(FRAMES_PER_BLOCK)

    def span_of(self, frames: int) -> int:
        """Samples that so many frames need."""
        return (frames - 1) * self.hop + self.window

    @cached_property
    def _shape(self) -> Float32Array:
        ramp = np.arange(self.window, dtype=np.float64)
        return (0.5 - 0.5 * np.cos(2 * np.pi * (ramp + 0.5) / self.window)).astype(np.float32)

    @cached_property
    def band_of_bin(self) -> Float32Array:
        """Share of every spectral bin in every band, shape (bins, bands)."""
        bins = self.window // 2 + 1
        width_hz = self.sample_rate_hz / self.window
        low = (np.arange(bins) - 0.5) * width_hz
        edges = np.asarray(BAND_EDGES_HZ)
        inside = np.minimum(edges[None, 1:], low[:, None] + width_hz) - np.maximum(
            edges[None, :-1], low[:, None]
        )
        share = np.clip(inside / width_hz, 0.0, 1.0)
        return np.asarray(share * 4.0 / self.window**2, dtype=np.float32)

    def band_power(self, block: Float32Array) -> Float32Array:
        """Power in every band of some frames.

        Parameters
        ----------
        block : float32 array, shape (span_of(frames),), samples, full scale 1

        Returns
        -------
        power : float32 array, shape (frames, bands), full scale squared
        """
        block = np.ascontiguousarray(block)
        size = block.strides[0]
        frames: Float32Array = np.ndarray(
            ((block.size - self.window) // self.hop + 1, self.window),
            block.dtype,
            block,
            strides=(self.hop * size, size),
        )
        spectrum = np.fft.rfft(frames * self._shape)
        power = np.square(spectrum.real) + np.square(spectrum.imag)
        return np.asarray(power @ self.band_of_bin, dtype=np.float32)

    def whole(self, samples: Float32Array) -> Float32Array:
        """Band power of a whole take, the end padded with silence, shape (frames, bands)."""
        blocks = max(-(-samples.size // self.block_samples), 1)
        power = np.empty((blocks * FRAMES_PER_BLOCK, len(BAND_EDGES_HZ) - 1), dtype=np.float32)
        for block in range(blocks):
            first = block * self.block_samples
            rows = slice(block * FRAMES_PER_BLOCK, (block + 1) * FRAMES_PER_BLOCK)
            sound = samples[first : first + self.block_span]
            if sound.size < self.block_span:
                sound = np.pad(sound, (0, self.block_span - sound.size))
            power[rows] = self.band_power(sound)
        return power[: max(samples.size // self.hop, 1)]


def power_to_db(power: NDArray[np.floating]) -> FloatArray:
    """Power (full scale squared) as decibels relative to full scale, at least -120.

    Examples
    --------
    >>> power_to_db(np.array([1.0, 0.01, 0.0]))
    array([   0.,  -20., -120.])
    """
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-12)), dtype=np.float64)
