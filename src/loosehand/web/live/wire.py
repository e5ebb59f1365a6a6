"""What passes over the socket of the stand.

Text messages are JSON objects with a ``kind``. A binary message is a block of sound: the frame
of its first sample as a little-endian 64-bit float, then samples as 32-bit floats. Frames count
from the start of the page's audio clock.
"""

import json
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import InputError

__all__ = ["MOST_BLOCK_BYTES", "SoundBlock", "number_in", "read_block", "read_message", "text_in"]

Int32Array = NDArray[np.int32]

MOST_BLOCK_BYTES = 8 + 4 * 48_000 * 4
_MOST_TEXT = 20_000
_HEAD_BYTES = 8
_FULL_SCALE = 2.0**23
_LATEST_FRAME = 2.0**50


@dataclass(frozen=True)
class SoundBlock:
    """Samples as they are kept: 24-bit whole numbers, and the frame of the first."""

    frame: int
    samples: Int32Array


def read_block(data: bytes) -> SoundBlock:
    """Read a block of sound.

    Raises
    ------
    InputError   if it is no such block
    """
    if not _HEAD_BYTES + 4 <= len(data) <= MOST_BLOCK_BYTES or len(data) % 4:
        raise InputError(
            f"a block of sound has {len(data)} bytes; want {_HEAD_BYTES} and then four a sample, "
            "of at most four seconds"
        )
    frame = float(np.frombuffer(data, dtype="<f8", count=1)[0])
    if not math.isfinite(frame) or frame != int(frame) or not 0 <= frame < _LATEST_FRAME:
        raise InputError(f"frame = {frame} is not the number of a frame; want a whole one")
    samples = np.frombuffer(data, dtype="<f4", offset=_HEAD_BYTES)
    if not np.all(np.isfinite(samples)):
        raise InputError("a block of sound holds samples that are no numbers")
    whole = np.rint(np.clip(samples, -1.0, 1.0) * _FULL_SCALE)
    return SoundBlock(int(frame), np.minimum(whole, _FULL_SCALE - 1).astype(np.int32))


def read_message(text: str) -> dict[str, Any]:
    """Read a text message.

    Raises
    ------
    InputError   if it is not a JSON object that says its kind
    """
    if len(text) > _MOST_TEXT:
        raise InputError(f"a message has {len(text)} letters; want at most {_MOST_TEXT}")
    try:
        message = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError("a message is not JSON") from error
    if not isinstance(message, dict) or not isinstance(message.get("kind"), str):
        raise InputError("a message does not say its kind")
    return message


def number_in(message: dict[str, Any], name: str, *, lowest: float, highest: float) -> float:
    """Return a number of a message.

    Raises
    ------
    InputError   if it is none, or out of bounds
    """
    value = message.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"{name} = {str(value)[:40]!r} is not a number")
    if not lowest <= value <= highest:
        raise InputError(f"{name} = {str(value)[:40]} cannot be; want {lowest:g} to {highest:g}")
    return float(value)


def text_in(message: dict[str, Any], name: str, *, longest: int) -> str:
    """Return a text of a message.

    Raises
    ------
    InputError   if it is none, or too long
    """
    value = message.get(name)
    if not isinstance(value, str) or len(value) > longest:
        raise InputError(f"{name} is not a text of at most {longest} letters")
    return value
