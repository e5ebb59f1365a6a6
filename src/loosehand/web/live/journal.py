"""A round while it is recorded, on the disk: whatever stops the program, the sound is there.

A folder ``live/<workout>/<round>`` in the studio's folder holds ``head.json`` (what the round is
and all that the ear is told), ``sound.i32`` (samples as they came, 24 bits in little-endian
32-bit whole numbers), ``strokes.jsonl`` (strokes of a pad) and, once it is over, ``end.json``.
Every write goes to the system at once, and to the disk each second.
"""

import json
import os
import shutil
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.studio.database import store_errors
from loosehand.studio.whole_files import flush_folder

__all__ = [
    "Journal",
    "drop_workout",
    "journals_in",
    "keep_check",
    "kept_check",
    "new_journal",
    "open_journal",
]

Int32Array = NDArray[np.int32]
_SYNC_EVERY_S = 1.0
_BLOCK_SAMPLES = 1 << 18


class Journal:
    """A round's folder.

    Parameters
    ----------
    folder : where it lies; its head is there already
    head : what the head says
    """

    def __init__(self, folder: Path, head: dict[str, Any]) -> None:
        self.folder = folder
        self.head = head
        self._ended: dict[str, Any] | None = None
        self._synced_s = time.monotonic()
        with store_errors(folder):
            self._sound = os.open(folder / "sound.i32", os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
            # A write that was cut short leaves part of a sample: it is dropped.
            size = os.fstat(self._sound).st_size
            os.ftruncate(self._sound, size - size % 4)
            self.samples = size // 4
            self._strokes = os.open(
                folder / "strokes.jsonl", os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600
            )
            # A line that was cut short is closed, so that it takes no other with it.
            if not (folder / "strokes.jsonl").read_bytes().endswith(b"\n"):
                os.write(self._strokes, b"\n")

    def append(self, samples: Int32Array) -> None:
        """Write samples: all of them, or none.

        Raises
        ------
        DiskFull, StoreError   if they cannot be written
        """
        with store_errors(self.folder):
            try:
                self._append(memoryview(samples.astype("<i4").tobytes()))
            except OSError:
                with suppress(OSError):
                    os.ftruncate(self._sound, 4 * self.samples)
                raise
            self.samples += samples.size

    def _append(self, rest: memoryview) -> None:
        while rest:
            rest = rest[os.write(self._sound, rest) :]
        now_s = time.monotonic()
        if now_s - self._synced_s > _SYNC_EVERY_S:
            os.fsync(self._sound)
            self._synced_s = now_s

    def append_stroke(self, stroke: dict[str, Any]) -> None:
        """Write a stroke of a pad. Raises as ``append``."""
        with store_errors(self.folder):
            os.write(self._strokes, json.dumps(stroke).encode("ascii") + b"\n")

    def strokes(self) -> list[dict[str, Any]]:
        """Strokes of a pad so far; a line that was cut short is left out."""
        found = []
        for line in (self.folder / "strokes.jsonl").read_bytes().split(b"\n")[:-1]:
            with suppress(ValueError):
                found.append(json.loads(line))
        return found

    def blocks(self) -> Iterator[Int32Array]:
        """All samples so far, block by block."""
        with (self.folder / "sound.i32").open("rb") as stream:
            while data := stream.read(4 * _BLOCK_SAMPLES):
                yield np.frombuffer(data[: len(data) - len(data) % 4], dtype="<i4").astype(np.int32)

    def end(self, facts: dict[str, Any]) -> None:
        """Write that the round is over, and how. Raises as ``append``; it is remembered then."""
        self._ended = facts
        with store_errors(self.folder):
            os.fsync(self._sound)
            _write_whole(self.folder / "end.json", facts)

    def how_it_ended(self) -> dict[str, Any] | None:
        """What ``end`` was told, or None."""
        return _read_object(self.folder / "end.json") or self._ended

    def close(self) -> None:
        """Let go of the files."""
        for handle in (self._sound, self._strokes):
            with suppress(OSError):
                os.close(handle)

    def drop(self) -> None:
        """Delete the folder: its take is filed."""
        self.close()
        shutil.rmtree(self.folder, ignore_errors=True)


def new_journal(studio_folder: Path, head: dict[str, Any]) -> Journal:
    """Begin a round's journal; its head names workout and round.

    Raises
    ------
    DiskFull, StoreError   if it cannot be written
    """
    folder = studio_folder / "live" / head["workout"] / head["round"]
    with store_errors(studio_folder):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        _write_whole(folder / "head.json", head)
        flush_folder(folder)
    return Journal(folder, head)


def open_journal(folder: Path) -> Journal | None:
    """Open a journal that was left, None where it has no head yet."""
    head = _read_object(folder / "head.json")
    return None if head is None else Journal(folder, head)


def journals_in(studio_folder: Path) -> list[Path]:
    """Folders of rounds that are recorded, or were when the program stopped."""
    return sorted(folder for folder in (studio_folder / "live").glob("*/*") if folder.is_dir())


def keep_check(studio_folder: Path, workout: str, page: str, check: dict[str, Any]) -> None:
    """Keep a page's sound check beside the rounds of its workout. Raises as ``new_journal``."""
    folder = studio_folder / "live" / workout
    with store_errors(studio_folder):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        _write_whole(folder / "check.json", {"page": page, "check": check})


def kept_check(studio_folder: Path, workout: str, page: str) -> dict[str, Any] | None:
    """The sound check of a page, None where it is another's or there is none."""
    kept = _read_object(studio_folder / "live" / workout / "check.json")
    return kept["check"] if kept is not None and kept.get("page") == page else None


def drop_workout(studio_folder: Path, workout: str) -> None:
    """Forget what was kept of a workout that is over; rounds not filed yet stay."""
    folder = studio_folder / "live" / workout
    (folder / "check.json").unlink(missing_ok=True)
    with suppress(OSError):
        folder.rmdir()


def _write_whole(path: Path, value: dict[str, Any]) -> None:
    """Write a file whole or not at all."""
    passing = path.with_suffix(".passing")
    with passing.open("wb") as stream:
        stream.write(json.dumps(value).encode("ascii"))
        stream.flush()
        os.fsync(stream.fileno())
    os.replace(passing, path)


def _read_object(path: Path) -> dict[str, Any] | None:
    with suppress(OSError, ValueError):
        value = json.loads(path.read_bytes())
        return value if isinstance(value, dict) else None
    return None
