"""Files that are either whole or not there: a passing name, a flush to the disk, a rename."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

__all__ = ["flush", "flush_folder", "passing_beside", "take_name", "write_whole"]


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    OSError   as the disk says
    """
    with passing_beside(path) as passing:
        passing.write_bytes(data)
        take_name(passing, path)


@contextmanager
def passing_beside(path: Path) -> Iterator[Path]:
    """Make an empty file beside a path; it is gone after, unless it took a name."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    os.close(handle)
    try:
        yield Path(name)
    finally:
        Path(name).unlink(missing_ok=True)


def take_name(passing: Path, path: Path) -> None:
    """Flush a passing file to the disk and give it its name.

    Raises
    ------
    OSError   as the disk says
    """
    with passing.open("rb+") as stream:
        flush(stream)
    os.replace(passing, path)
    flush_folder(path.parent)


def flush(stream: BinaryIO) -> None:
    """Have the disk hold what was written."""
    stream.flush()
    os.fsync(stream.fileno())


def flush_folder(folder: Path) -> None:
    """Have the disk hold a folder's names, where the system knows such a thing."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
