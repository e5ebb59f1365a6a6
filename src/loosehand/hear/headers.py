"""What a sound file says of itself that its decoder does not pass on.

Every function takes an open file and leaves its position anywhere.
"""

import struct
from typing import BinaryIO

__all__ = ["announced_wav_s", "lacks_mp4_index", "lacks_ogg_end"]

_UNKNOWN_LENGTH = 0xFFFFFFFF
_MOST_CHUNKS = 1_000
_LONGEST_OGG_PAGE = 65_307
_OGG_END_FLAG = 0x04


def announced_wav_s(file: BinaryIO) -> float | None:
    """Seconds of sound that a RIFF WAVE file's header announces, or None if it does not say.

    A recorder that was cut off leaves a header that promises more than there is.
    """
    file.seek(0)
    head = file.read(12)
    if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
        return None
    bytes_per_second = 0
    for _ in range(_MOST_CHUNKS):
        chunk = file.read(8)
        if len(chunk) < 8:
            return None
        kind, length = chunk[:4], int.from_bytes(chunk[4:], "little")
        if kind == b"data":
            known = bytes_per_second > 0 and 0 < length < _UNKNOWN_LENGTH
            return length / bytes_per_second if known else None
        body_start = file.tell()
        if kind == b"fmt ":
            body = file.read(12)
            if len(body) == 12:
                bytes_per_second = struct.unpack("<I", body[8:])[0]
        file.seek(body_start + length + length % 2)
    return None


def lacks_mp4_index(file: BinaryIO) -> bool:
    """Whether a file of the MP4 family was cut off before its index ('moov') was written."""
    file.seek(0)
    if file.read(8)[4:] != b"ftyp":
        return False
    position, end = 0, file.seek(0, 2)
    for _ in range(_MOST_CHUNKS):
        if position > end:
            return True
        file.seek(position)
        box = file.read(16)
        if len(box) < 8:
            return True
        length = int.from_bytes(box[:4], "big")
        if box[4:8] == b"moov":
            return False
        if length == 1:
            length = int.from_bytes(box[8:16], "big")
        if length < 8:
            return True
        position += length
    return False


def lacks_ogg_end(file: BinaryIO) -> bool:
    """Whether an Ogg file's last page lacks the mark of the end."""
    file.seek(0)
    if file.read(4) != b"OggS":
        return False
    end = file.seek(0, 2)
    file.seek(max(end - 2 * _LONGEST_OGG_PAGE, 0))
    tail = file.read()
    page = tail.rfind(b"OggS")
    return page >= 0 and len(tail) > page + 5 and not tail[page + 5] & _OGG_END_FLAG
