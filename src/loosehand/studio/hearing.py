"""What passes between the studio and whatever hears for it.

The studio does not know the pool that hears many takes: a ``Hearing`` is handed in.
"""

from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from loosehand.hear.heard import ListenRequest

__all__ = ["Hearing", "Judged", "Told", "hear_stored", "nobody_plays"]


@dataclass(frozen=True)
class Told:
    """What the judge was told of a take: all that it needs to read it again.

    Attributes
    ----------
    request : what the ear is told
    notes : MIDI notes to hear, or None for all
    more_notes, more_assumed : sentences that the stored sound cannot show: what was seen of the
        file that was brought, and what was left out by the person
    acoustics : what the live ear was told of room and click, as
        ``hear.scheduled.RoundAcoustics`` writes it, None for a file that was brought
    capture : how the sound of a round of the stand was captured: its settings, frames lost or
        repeated, round trip; None for a file that was brought
    """

    request: ListenRequest
    notes: frozenset[int] | None
    more_notes: tuple[str, ...] = ()
    more_assumed: tuple[str, ...] = ()
    acoustics: dict[str, Any] | None = None
    capture: dict[str, Any] | None = None

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return {
            "request": asdict(self.request),
            "notes": None if self.notes is None else sorted(self.notes),
            "more_notes": list(self.more_notes),
            "more_assumed": list(self.more_assumed),
            "acoustics": self.acoustics,
            "capture": self.capture,
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> "Told":
        """Return it from what is stored."""
        notes = stored["notes"]
        return cls(
            request=ListenRequest(**stored["request"]),
            notes=None if notes is None else frozenset(notes),
            more_notes=tuple(stored["more_notes"]),
            more_assumed=tuple(stored["more_assumed"]),
            acoustics=stored.get("acoustics"),
            capture=stored.get("capture"),
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


def hear_stored(path: Path, told: Told, *, hearing: Hearing) -> Judged:
    """Hear a file as the studio keeps it, and add what was seen of the file that was brought."""
    judged = hearing(path, told)
    quality = judged.body["quality"]
    seen = {
        **quality,
        "notes": [*quality["notes"], *told.more_notes],
        "assumed": [*quality["assumed"], *told.more_assumed],
    }
    return replace(judged, body={**judged.body, "quality": seen})


def nobody_plays(body: dict[str, Any]) -> bool:
    """Whether a reading says that nobody plays."""
    return body["count_held"] == 0 and not body["strokes"]
