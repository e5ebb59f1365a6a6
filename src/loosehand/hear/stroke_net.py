"""The small network that tells strokes from all else, moment by moment.

Layers of convolution over time see a quarter of a second of band levels, those of the click
beside those of the recording, and give the log odds that a stroke begins there, every 2 ms.
It was trained on simulated takes; how, and on what, is told in ``docs/how-it-hears.md``.
"""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.bands import BAND_EDGES_HZ

__all__ = [
    "FRAMES_AHEAD",
    "FRAMES_PER_OUTPUT",
    "OUTPUT_OFFSET",
    "SPAN",
    "NetStream",
    "StrokeNet",
    "load_stroke_net",
]

Float32Array = NDArray[np.float32]

FRAMES_PER_OUTPUT = 2
FRAMES_AHEAD = 29
"""Frames that an output waits for after the moment it speaks of."""
OUTPUT_OFFSET = 1.5
"""Frame that the first output speaks of."""
_DILATIONS = (1, 1, 2, 4, 8)
_WIDTHS = (12, 9, 9, 9, 9)
SPAN = _WIDTHS[0] + FRAMES_PER_OUTPUT * sum(
    (width - 1) * dilation for width, dilation in zip(_WIDTHS[1:], _DILATIONS[1:], strict=True)
)
"""Frames that one output sees."""
_SILENCE_BEFORE = SPAN - FRAMES_AHEAD - 3
_QUIET = 0.35
"""Level of a band in which nothing happens, about that of its floor."""


@dataclass(frozen=True)
class _Layer:
    """One convolution: ``weight`` of shape (width * channels in, channels out)."""

    weight: Float32Array
    bias: Float32Array
    width: int
    stride: int
    dilation: int

    @property
    def reach(self) -> int:
        """Frames that one output of the layer sees."""
        return (self.width - 1) * self.dilation + 1

    def outputs(self, frames: int) -> int:
        """How many outputs so many frames give."""
        return max((frames - self.reach) // self.stride + 1, 0)

    def __call__(self, frames: Float32Array) -> Float32Array:
        """Convolve over time, shape (frames, channels in) to (outputs, channels out)."""
        outputs = self.outputs(frames.shape[0])
        row, column = frames.strides
        # A view by hand: numpy's own maker of such views takes longer than the product.
        seen: Float32Array = np.ndarray(
            (outputs, self.width, frames.shape[1]),
            frames.dtype,
            frames,
            strides=(row * self.stride, row * self.dilation, column),
        )
        return np.asarray(
            seen.reshape(outputs, self.width * frames.shape[1]) @ self.weight + self.bias
        )


@dataclass(frozen=True)
class StrokeNet:
    """The trained layers."""

    layers: tuple[_Layer, ...]

    def stream(self) -> "NetStream":
        """Begin to listen, as after silence."""
        return NetStream(self)


class NetStream:
    """The network on levels that come piece by piece; each layer keeps what it still needs.

    Parameters
    ----------
    net : the trained layers
    """

    def __init__(self, net: StrokeNet) -> None:
        self._net = net
        bands = len(BAND_EDGES_HZ) - 1
        silence = np.zeros((_SILENCE_BEFORE, 2 * bands), dtype=np.float32)
        silence[:, :bands] = _QUIET
        self._kept = [
            silence,
            *(np.zeros((0, layer.weight.shape[1]), np.float32) for layer in net.layers[:-1]),
        ]

    def push(self, levels: Float32Array) -> Float32Array:
        """Log odds of a stroke, and by how much it lies off the moment spoken of.

        Parameters
        ----------
        levels : float32 array, shape (frames, 2 * bands): bands of the sound without the
            click, then bands of the click, above the floor, in tens of dB

        Returns
        -------
        told : float32 array, shape (outputs, 2): log odds, and the time of the stroke after
            that moment, in outputs. Output i of all that came speaks of frame
            ``FRAMES_PER_OUTPUT * i + OUTPUT_OFFSET``
        """
        active = levels
        last = len(self._net.layers) - 1
        for index, layer in enumerate(self._net.layers):
            seen = np.concatenate((self._kept[index], active))
            active = layer(seen)
            self._kept[index] = seen[layer.stride * active.shape[0] :]
            if index < last:
                np.maximum(active, np.float32(0.0), out=active)
        return active


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
