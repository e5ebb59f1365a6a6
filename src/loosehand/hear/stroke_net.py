"""The small network that tells strokes from all else, frame by frame.

Four layers of convolution over time see 124 ms of band levels, those of the click beside
those of the recording, and give the log odds that a stroke begins there, every 2 ms.
It was trained on simulated takes; how, and on what, is told in ``docs/how-it-hears.md``.
"""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

__all__ = ["FRAMES_PER_OUTPUT", "OUTPUT_OFFSET", "SPAN", "StrokeNet", "load_stroke_net"]

Float32Array = NDArray[np.float32]

FRAMES_PER_OUTPUT = 2
_DILATIONS = (1, 1, 2, 4)
SPAN = 124
"""Frames that one output sees."""
OUTPUT_OFFSET = 93.5
"""Frame, from the first that an output sees, that the output speaks of."""


@dataclass(frozen=True)
class _Layer:
    """One convolution: ``weight`` of shape (width * channels in, channels out)."""

    weight: Float32Array
    bias: Float32Array
    width: int
    stride: int
    dilation: int

    def __call__(self, frames: Float32Array) -> Float32Array:
        """Convolve over time, shape (frames, channels in) to (outputs, channels out)."""
        reach = (self.width - 1) * self.dilation + 1
        outputs = (frames.shape[0] - reach) // self.stride + 1
        seen = np.lib.stride_tricks.as_strided(
            frames,
            (outputs, self.width, frames.shape[1]),
            (
                frames.strides[0] * self.stride,
                frames.strides[0] * self.dilation,
                frames.strides[1],
            ),
            writeable=False,
        )
        return np.asarray(seen.reshape(outputs, -1) @ self.weight + self.bias)


@dataclass(frozen=True)
class StrokeNet:
    """The trained layers."""

    layers: tuple[_Layer, ...]

    def __call__(self, levels: Float32Array) -> Float32Array:
        """Log odds of a stroke, and by how much it lies off the moment spoken of.

        Parameters
        ----------
        levels : float32 array, shape (frames, 2 * bands), contiguous: bands of the sound
            without the click, then bands of the click, above the floor, in tens of dB

        Returns
        -------
        told : float32 array, shape ((frames - SPAN) // FRAMES_PER_OUTPUT + 1, 2): log odds,
            and the time of the stroke after that moment, in outputs
        """
        active = levels
        for layer in self.layers[:-1]:
            active = np.maximum(layer(active), np.float32(0.0))
        return self.layers[-1](active)


@cache
def load_stroke_net() -> StrokeNet:
    """Load the trained network that comes with the package."""
    with files("loosehand.hear").joinpath("stroke_net.npz").open("rb") as stored:
        weights = {name: np.asarray(value) for name, value in np.load(stored).items()}
    layers = []
    for index, dilation in enumerate((*_DILATIONS, 1)):
        weight = weights[f"weight_{index}"].astype(np.float32)
        width, channels, outputs = weight.shape
        layers.append(
            _Layer(
                weight=np.ascontiguousarray(weight.reshape(width * channels, outputs)),
                bias=weights[f"bias_{index}"].astype(np.float32),
                width=width,
                stride=FRAMES_PER_OUTPUT if index == 0 else 1,
                dilation=dilation,
            )
        )
    return StrokeNet(tuple(layers))
