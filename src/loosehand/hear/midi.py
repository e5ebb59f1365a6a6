"""From a MIDI file to strokes.

A pad or an electronic kit has heard the strokes already: each note-on is one, at the tick it
was stamped with, its level by its velocity.
"""

from collections.abc import Collection

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loosehand.errors import InputError, UnsupportedMidi
from loosehand.hear.heard import Strokes
from loosehand.hear.midi_file import MidiFile
from loosehand.parts.percussion import percussion_name

__all__ = ["midi_strokes", "notes_assumed", "velocity_to_level_db"]


def velocity_to_level_db(velocity: ArrayLike) -> NDArray[np.float64]:
    """Level of a velocity, in decibels below the greatest.

    Parameters
    ----------
    velocity : int array, any shape, 1 to 127

    Returns
    -------
    level_db : float array of that shape, 0 at 127

    Source
    ------
    The square law of MIDI Manufacturers Association, Downloadable Sounds Level 1, concave
    transform: attenuation = 20 log10(127**2 / velocity**2), as quoted in public code. A pad's own
    curve from force to velocity is not known, so levels of two pads cannot be compared.

    Examples
    --------
    >>> velocity_to_level_db([127, 64]).round(2).tolist()
    [0.0, -11.9]
    """
    return 40.0 * np.log10(np.asarray(velocity, dtype=np.float64) / 127.0)


def midi_strokes(midi: MidiFile, *, notes: Collection[int] | None) -> Strokes:
    """Strokes of a MIDI file.

    Parameters
    ----------
    midi : MidiFile
    notes : note numbers that count as strokes, or None for all

    Returns
    -------
    strokes : Strokes, seconds from the start of the file, timbre of no bands, confidence 1;
        of notes struck at one time the loudest

    Raises
    ------
    UnsupportedMidi    if the file holds no notes at all
    InputError         if it holds none of those chosen
    """
    struck = [n for n in midi.notes if notes is None or n.note in notes]
    if not struck:
        _refuse_silence(midi, notes)
    loudest: dict[float, int] = {}
    for note in struck:
        time_s = float(midi.tempo_map.tick_to_s(note.tick))
        loudest[time_s] = max(note.velocity, loudest.get(time_s, 0))
    count = len(loudest)
    return Strokes(
        time_s=np.fromiter(loudest.keys(), dtype=np.float64, count=count),
        level_db=velocity_to_level_db(list(loudest.values())),
        confidence=np.ones(count),
        timbre_db=np.zeros((count, 0)),
    )


def notes_assumed(midi: MidiFile, *, notes: Collection[int] | None) -> tuple[str, ...]:
    """Sentences about which notes were taken as strokes where nobody chose and several were hit."""
    heard = _named_notes(midi)
    if notes is not None or len(heard) < 2:
        return ()
    return (f"All notes were taken as strokes: {', '.join(heard)}.",)


def _refuse_silence(midi: MidiFile, notes: Collection[int] | None) -> None:
    """Say why there is no stroke."""
    if not midi.notes:
        raise UnsupportedMidi("The MIDI file holds no notes.")
    chosen = ", ".join(str(note) for note in sorted(notes or ()))
    raise InputError(
        f"The MIDI file holds none of the notes chosen ({chosen}); "
        f"it holds {', '.join(_named_notes(midi))}."
    )


def _named_notes(midi: MidiFile) -> list[str]:
    """Note numbers heard, each with its percussion name where it has one."""
    numbers = sorted({note.note for note in midi.notes})
    return [f"{n} ({name})" if (name := percussion_name(n)) else str(n) for n in numbers]
