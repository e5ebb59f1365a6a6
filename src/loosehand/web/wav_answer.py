"""A sound made as it is sent: a WAV of which a player may ask for any range of bytes."""

import re
import struct
from collections.abc import Iterator

import numpy as np
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from loosehand.studio.take_sound import TakeSound

__all__ = ["byte_range", "wav_answer", "wav_bytes", "wav_head"]

_ONE_RANGE = re.compile(r"bytes=(\d{0,18})-(\d{0,18})")
_FRAME_BYTES = 2
_HEAD_BYTES = 44
_MOST_DATA_BYTES = 2**32 - _HEAD_BYTES


def wav_answer(request: Request, sound: TakeSound) -> Response:
    """Answer with a sound as 16-bit WAV: all of it, or the range of bytes that was asked for.

    Source
    ------
    RFC 9110, section 14: a range that makes no sense is passed over, one past the end is 416.
    """
    size = _HEAD_BYTES + min(sound.frames * _FRAME_BYTES, _MOST_DATA_BYTES)
    headers = {"accept-ranges": "bytes"}
    asked = request.headers.get("range")
    wanted = None if asked is None or "if-range" in request.headers else byte_range(asked, size)
    if wanted is None:
        first, end, status = 0, size, 200
    elif wanted[0] >= wanted[1]:
        return Response(status_code=416, headers={**headers, "content-range": f"bytes */{size}"})
    else:
        (first, end), status = wanted, 206
        headers["content-range"] = f"bytes {first}-{end - 1}/{size}"
    headers["content-length"] = str(end - first)
    body = iter(()) if request.method == "HEAD" else wav_bytes(sound, first, end)
    return StreamingResponse(body, status, headers=headers, media_type="audio/wav")


def byte_range(asked: str, size: int) -> tuple[int, int] | None:
    """First byte and end (not included) of a range; None for what is not one plain range.

    Examples
    --------
    >>> byte_range("bytes=10-19", 100), byte_range("bytes=-10", 100)
    ((10, 20), (90, 100))
    >>> byte_range("bytes=200-", 100)
    (200, 100)
    """
    found = _ONE_RANGE.fullmatch(asked.strip())
    if found is None or found.groups() == ("", ""):
        return None
    low, high = found.groups()
    if not low:
        # The last so many bytes; the last none are no range that can be sent.
        return (max(size - int(high), 0), size) if int(high) else (size, size)
    if high and int(high) < int(low):
        return None
    return int(low), min(int(high) + 1, size) if high else size


def wav_head(*, sample_rate_hz: int, frames: int) -> bytes:
    """Head of a WAV of one channel, 16 bits a sample."""
    data = min(frames * _FRAME_BYTES, _MOST_DATA_BYTES)
    rate = sample_rate_hz
    form = struct.pack("<HHIIHH", 1, 1, rate, rate * _FRAME_BYTES, _FRAME_BYTES, 16)
    return (
        struct.pack("<4sI4s4sI", b"RIFF", data + _HEAD_BYTES - 8, b"WAVE", b"fmt ", 16)
        + form
        + struct.pack("<4sI", b"data", data)
    )


def wav_bytes(sound: TakeSound, first: int, end: int) -> Iterator[bytes]:
    """Bytes ``first`` to ``end`` (not included) of a sound as WAV, in pieces."""
    head = wav_head(sample_rate_hz=sound.sample_rate_hz, frames=sound.frames)
    if first < _HEAD_BYTES:
        yield head[first : min(end, _HEAD_BYTES)]
    low = max(first - _HEAD_BYTES, 0)
    high = end - _HEAD_BYTES
    if high <= low:
        return
    skip = low % _FRAME_BYTES
    left = high - low
    for block in sound.stretches(low // _FRAME_BYTES, -(-high // _FRAME_BYTES)):
        data = np.round(block * 32767.0).astype("<i2").tobytes()
        piece = data[skip : skip + left]
        skip = 0
        left -= len(piece)
        yield piece
