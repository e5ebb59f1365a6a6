"""The sound of takes: files beside the database, named by what is in them.

A sound is kept as FLAC, mixed into one channel as the ear hears it, 24 bits a sample (where all
are whole 16-bit numbers the FLAC is no larger for that). Its name is the SHA-256 of the line
``<rate in Hz>/1/24`` followed by the decoded samples as little-endian 32-bit integers (full
scale = 2**31): the same sound has the same name whatever wrote the FLAC. A MIDI file is kept as
it is; its name is the SHA-256 of its bytes. Files lie in ``sound/<first two digits>/<name>.flac``
or ``.mid``.

A file is written under a passing name in ``incoming/``, flushed to the disk, and takes its own
name inside the act that writes its row, so no row is without its file. A file without a row (the
machine stopped in between) is swept away by a later act.
"""

import hashlib
import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import BinaryIO, Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import StoreError
from loosehand.studio.database import store_errors
from loosehand.studio.whole_files import flush, flush_folder

__all__ = [
    "Incoming",
    "content_sha256_of_flac",
    "delete_content",
    "incoming_midi",
    "incoming_sound",
    "incoming_stream",
    "keep",
    "path_of_content",
    "stored_names",
    "sweep",
]

Kind = Literal["sound", "midi"]
_SUFFIX: dict[str, str] = {"sound": ".flac", "midi": ".mid"}
_PASSING_LIFE = timedelta(days=1)
_BLOCK_FRAMES = 1 << 18


@dataclass(frozen=True)
class Incoming:
    """A file written and flushed under a passing name, ready to be kept.

    Attributes
    ----------
    path : where it lies now
    kind : sound or midi
    content_sha256 : name that it will be kept by
    """

    path: Path
    kind: Kind
    content_sha256: str


class _HonestStream:
    """A file for a writer written in C, where an exception would be lost: it is kept instead."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._error: OSError | None = None

    def write(self, data: bytes) -> int:
        """Write, or remember why not."""
        try:
            return self._stream.write(data)
        except OSError as error:
            self._error = error
            return 0

    def read(self, size: int = -1) -> bytes:
        """Read."""
        return self._stream.read(size)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Move. Moving flushes, so the disk may complain here as well."""
        try:
            return self._stream.seek(offset, whence)
        except OSError as error:
            self._error = error
            return self._stream.tell()

    def tell(self) -> int:
        """Return the place in the file."""
        return self._stream.tell()

    def raise_disk_error(self) -> None:
        """Raise what the disk said, if it said anything."""
        if self._error is not None:
            raise self._error


def path_of_content(folder: Path, *, kind: str, content_sha256: str) -> Path:
    """Where a studio keeps a content."""
    return folder / "sound" / content_sha256[:2] / (content_sha256 + _SUFFIX[kind])


def content_sha256_of_flac(path: Path) -> str:
    """SHA-256 of a FLAC file's decoded samples, as this module's head defines it.

    Raises
    ------
    StoreError   if the file is not FLAC that can be decoded
    """
    import soundfile

    try:
        with soundfile.SoundFile(path) as sound:
            digest = hashlib.sha256(f"{sound.samplerate}/{sound.channels}/24\n".encode())
            while len(block := sound.read(_BLOCK_FRAMES, dtype="int32", always_2d=True)):
                digest.update(block.astype("<i4").tobytes())
    except soundfile.LibsndfileError as error:
        raise StoreError(
            f"the stored sound {path.name} cannot be read any more: {error}"
        ) from error
    return digest.hexdigest()


@contextmanager
def incoming_sound(
    folder: Path,
    blocks: Iterable[NDArray[np.float32]] | Iterable[NDArray[np.int32]],
    *,
    sample_rate_hz: int,
) -> Iterator[Incoming]:
    """Write samples as FLAC under a passing name; the file is gone after, unless kept.

    Parameters
    ----------
    folder : the studio's folder
    blocks : float arrays, shape (frames,), full scale = 1; what lies beyond full scale is cut;
        or whole numbers, full scale = 2**31, whose upper 24 bits are kept as they are
    sample_rate_hz : rate

    Raises
    ------
    DiskFull     if there is no room
    StoreError   if the file cannot be written
    """
    with _passing_file(folder, suffix=".flac") as path:
        with store_errors(folder), path.open("wb+") as stream:
            _write_flac(_HonestStream(stream), blocks, sample_rate_hz=sample_rate_hz)
            flush(stream)
        yield Incoming(path, "sound", content_sha256_of_flac(path))


@contextmanager
def incoming_midi(folder: Path, data: bytes) -> Iterator[Incoming]:
    """Write a MIDI file as it is under a passing name. Raises as ``incoming_sound``."""
    with _passing_file(folder, suffix=".mid") as path:
        with store_errors(folder), path.open("wb") as stream:
            stream.write(data)
            flush(stream)
        yield Incoming(path, "midi", hashlib.sha256(data).hexdigest())


@contextmanager
def incoming_stream(
    folder: Path, blocks: Iterable[bytes], *, kind: Kind, content_sha256: str
) -> Iterator[Incoming]:
    """Write bytes that are known to hold a content. Raises as ``incoming_sound``."""
    with _passing_file(folder, suffix=_SUFFIX[kind]) as path:
        with store_errors(folder), path.open("wb") as stream:
            stream.writelines(blocks)
            flush(stream)
        yield Incoming(path, kind, content_sha256)


def keep(folder: Path, incoming: Incoming) -> Path:
    """Give a file its own name; inside the act that writes its row. Kept once, however often.

    Raises
    ------
    DiskFull, StoreError   if the file cannot be moved
    """
    path = path_of_content(folder, kind=incoming.kind, content_sha256=incoming.content_sha256)
    with store_errors(folder):
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            os.replace(incoming.path, path)
            flush_folder(path.parent)
    return path


def stored_names(folder: Path) -> set[tuple[str, str]]:
    """Kind and content of every file that the studio keeps."""
    kinds = {suffix: kind for kind, suffix in _SUFFIX.items()}
    files = (folder / "sound").glob("??/*")
    return {(kinds[file.suffix], file.stem) for file in files if file.suffix in kinds}


def delete_content(folder: Path, *, kind: str, content_sha256: str) -> None:
    """Delete a file that no row needs any more. It may be gone already."""
    with store_errors(folder):
        path_of_content(folder, kind=kind, content_sha256=content_sha256).unlink(missing_ok=True)


def sweep(folder: Path, *, needed: set[tuple[str, str]], now: datetime) -> int:
    """Delete files without a row and passing files of a day ago; inside an act that writes.

    Parameters
    ----------
    folder : the studio's folder
    needed : kind and content of the files that rows name
    now : the moment, with its zone

    Returns
    -------
    deleted : number of files deleted
    """
    orphans = stored_names(folder) - needed
    for kind, content in orphans:
        delete_content(folder, kind=kind, content_sha256=content)
    old = (now - _PASSING_LIFE).timestamp()
    passing = [file for file in (folder / "incoming").glob("*") if file.stat().st_mtime < old]
    for file in passing:
        file.unlink(missing_ok=True)
    return len(orphans) + len(passing)


@contextmanager
def _passing_file(folder: Path, *, suffix: str) -> Iterator[Path]:
    """Make an empty file in the studio's incoming folder, gone after unless kept."""
    with store_errors(folder):
        (folder / "incoming").mkdir(exist_ok=True)
        handle, name = tempfile.mkstemp(suffix=suffix, dir=folder / "incoming")
        os.close(handle)
    try:
        yield Path(name)
    finally:
        Path(name).unlink(missing_ok=True)


def _write_flac(
    stream: _HonestStream,
    blocks: Iterable[NDArray[np.float32]] | Iterable[NDArray[np.int32]],
    *,
    sample_rate_hz: int,
) -> None:
    """Write samples as 24-bit FLAC, and say what the disk said."""
    import soundfile

    try:
        with soundfile.SoundFile(
            stream, "w", sample_rate_hz, channels=1, format="FLAC", subtype="PCM_24"
        ) as sound:
            for block in blocks:
                sound.write(block)
                stream.raise_disk_error()
    except soundfile.LibsndfileError as error:
        stream.raise_disk_error()
        raise StoreError(f"the sound could not be kept as FLAC: {error}") from error
    stream.raise_disk_error()
