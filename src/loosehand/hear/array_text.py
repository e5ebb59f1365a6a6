"""Float arrays as text that JSON can hold, to the last bit."""

import base64

import numpy as np
from numpy.typing import NDArray

__all__ = ["array_of_text", "text_of_array"]

Float32Array = NDArray[np.float32]


def text_of_array(values: Float32Array) -> str:
    """Write a float32 array, shape (n,), as base64 of its little-endian bytes.

    Examples
    --------
    >>> text_of_array(np.array([1.0], dtype=np.float32))
    'AACAPw=='
    """
    return base64.b64encode(values.astype("<f4").tobytes()).decode("ascii")


def array_of_text(text: str) -> Float32Array:
    """Read what ``text_of_array`` wrote.

    Examples
    --------
    >>> array_of_text("AACAPw==").tolist()
    [1.0]
    """
    return np.frombuffer(base64.b64decode(text), dtype="<f4").astype(np.float32)
