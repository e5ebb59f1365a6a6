"""What passes between the studio and whatever hears for it.

The studio does not know the pool that hears many takes: a ``Hearing`` is handed in.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from loosehand.hear.heard import ListenRequest
from loosehand.studio.sound import Incoming, incoming_midi, incoming_sound

__all__ = ["Hearing", "Judged", "Told", "bring_take", "hear_stored", "nobody_plays"]


@dataclass(frozen=True)
class Told:
    """What the judge was told of a take: all that it needs to read it again.

    Attributes
    ----------
    request : what the ear is told
    notes : MIDI notes to hear, or None for all
    file_notes, file_assumed : sentences about the file that was brought, which the stored sound
        cannot show any more
    """

    request: ListenRequest
    notes: frozenset[int] | None
    file_notes: tuple[str, ...] = ()
    file_assumed: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return {
            "request": asdict(self.request),
            "notes": None if self.notes is None else sorted(self.notes),
            "file_notes": list(self.file_notes),
            "file_assumed": list(self.file_assumed),
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> "Told":
        """Return it from what is stored."""
        notes = stored["notes"]
        return cls(
            request=ListenRequest(**stored["request"]),
            notes=None if notes is None else frozenset(notes),
            file_notes=tuple(stored["file_notes"]),
            file_assumed=tuple(stored["file_assumed"]),
        )


@dataclass(frozen=True)
class Judged:
    """A reading as the studio keeps it.

    Attributes
    ----------
    body : the reading as JSON (``loosehand.reading/1``)
    judge_version : version of what heard and judged
    """

    body: dict[str, Any]
    judge_version: str


class Hearing(Protocol):
    """Hears a file: what is handed to those who file and read again."""

    def __call__(self, path: Path, told: Told) -> Judged:
        """Return the reading of a file."""


@contextmanager
def bring_take(folder: Path, source: Path, told: Told) -> Iterator[tuple[Incoming, Told]]:
    """Bring a file into the studio under a passing name.

    Parameters
    ----------
    folder : the studio's folder
    source : a recording or a MIDI file, of any kind that the ear reads
    told : what the judge is told

    Yields
    ------
    incoming : the file as the studio keeps it
    told : the same, with what was seen of the file that was brought

    Raises
    ------
    InputError, MediaError   if the file cannot be read as sound or MIDI
    DiskFull, StoreError     if it cannot be kept
    """
    from loosehand.hear.decode import open_sound, read_midi, sniff

    if sniff(source) == "midi":
        read_midi(source)
        with incoming_midi(folder, source.read_bytes()) as incoming:
            yield incoming, told
        return
    with open_sound(source) as sound:
        blocks = sound.mono_blocks()
        with incoming_sound(folder, blocks, sample_rate_hz=sound.sample_rate_hz) as incoming:
            yield incoming, replace(told, file_notes=sound.notes, file_assumed=sound.assumed)


def hear_stored(path: Path, told: Told, *, hearing: Hearing) -> Judged:
    """Hear a file as the studio keeps it, and add what was seen of the file that was brought."""
    judged = hearing(path, told)
    quality = judged.body["quality"]
    seen = {
        **quality,
        "notes": [*quality["notes"], *told.file_notes],
        "assumed": [*quality["assumed"], *told.file_assumed],
    }
    return replace(judged, body={**judged.body, "quality": seen})


def nobody_plays(body: dict[str, Any]) -> bool:
    """Whether a reading says that nobody plays."""
    return body["count_held"] == 0 and not body["strokes"]
