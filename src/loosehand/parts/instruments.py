"""What limbs strike: the instruments of a kit and the practice pad.

One table says of each instrument how it sounds in General MIDI, where it stands on a
percussion staff, with which notehead, and whether a foot plays it.

Source of the note numbers: MIDI Manufacturers Association, General MIDI System Level 1
(RP-003), percussion key map. It knows one open hi-hat and no pad: the half-open hat shares
46, and the pad borrows 76, Hi Wood Block (ours). The places on the staff and the heads are
common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = ["INSTRUMENTS", "Instrument", "NoteHead"]

NoteHead = Literal["normal", "x", "diamond", "circle-x", "triangle"]


@dataclass(frozen=True)
class Instrument:
    """Something to strike.

    Attributes
    ----------
    name : our word for it, and its key in INSTRUMENTS
    midi_note : General MIDI percussion note number
    display_step : letter of its place on a percussion staff, read as in the treble clef
    display_octave : octave of that place; 4 begins at middle C
    head : shape of its notehead
    by_foot : whether a foot plays it; everything else belongs to the hands
    """

    name: str
    midi_note: int
    display_step: str
    display_octave: int
    head: NoteHead
    by_foot: bool


def _table(*rows: tuple[str, int, str, int, NoteHead, bool]) -> Mapping[str, Instrument]:
    return MappingProxyType({row[0]: Instrument(*row) for row in rows})


INSTRUMENTS: Mapping[str, Instrument] = _table(
    ("hat", 42, "G", 5, "x", False),
    ("half-open hat", 46, "G", 5, "x", False),
    ("open hat", 46, "G", 5, "x", False),
    ("foot hat", 44, "D", 4, "x", True),
    ("ride", 51, "F", 5, "x", False),
    ("ride bell", 53, "F", 5, "diamond", False),
    ("crash", 49, "A", 5, "x", False),
    ("china", 52, "B", 5, "circle-x", False),
    ("splash", 55, "B", 5, "x", False),
    ("snare", 38, "C", 5, "normal", False),
    ("cross-stick", 37, "C", 5, "x", False),
    ("high tom", 50, "E", 5, "normal", False),
    ("mid tom", 47, "D", 5, "normal", False),
    ("floor tom", 43, "A", 4, "normal", False),
    ("kick", 36, "F", 4, "normal", True),
    ("cowbell", 56, "E", 5, "triangle", False),
    ("pad", 76, "C", 5, "normal", False),
)
"""Name to instrument, in the order in which lines are written."""

SURFACES: Mapping[str, str] = MappingProxyType(
    {
        "hat": "hat",
        "half-open hat": "hat",
        "open hat": "hat",
        "ride": "ride",
        "ride bell": "ride",
        "crash": "crash",
        "china": "crash",
        "splash": "crash",
        "snare": "snare",
        "cross-stick": "cross-stick",
        "high tom": "tom",
        "mid tom": "tom",
        "floor tom": "tom",
        "cowbell": "cowbell",
        "pad": "pad",
    }
)
"""Instrument of the hands to the surface under the stick, on which a technique is chosen."""
