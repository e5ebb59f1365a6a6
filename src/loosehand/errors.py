"""Every error that Loosehand raises on purpose.

LoosehandError
    InputError (also ValueError)   what was asked for cannot be: exit 2
        BadTimes, BadTempo, BadNotation, BadTable
    EvidenceError                  too little to say: shown as "cannot say yet"
        TooFewStrokes, NotIdentifiable
    MediaError                     the file is not readable sound or MIDI: exit 3
        UnreadableAudio, UnsupportedMidi
    StoreError                     the studio's database: exit 2
        NotFound, Conflict, NeedsMigration, StudioLocked, DiskFull

A message says what is wrong, what was got and what to do, in one sentence.
"""

__all__ = [
    "EXIT_STATUS",
    "BadNotation",
    "BadTable",
    "BadTempo",
    "BadTimes",
    "Conflict",
    "DiskFull",
    "EvidenceError",
    "InputError",
    "LoosehandError",
    "MediaError",
    "NeedsMigration",
    "NotFound",
    "NotIdentifiable",
    "StoreError",
    "StudioLocked",
    "TooFewStrokes",
    "UnreadableAudio",
    "UnsupportedMidi",
    "exit_status",
]


class LoosehandError(Exception):
    """Root of all errors raised on purpose."""


class InputError(LoosehandError, ValueError):
    """What was asked for cannot be."""


class BadTimes(InputError):
    """Times are not finite, or not in order."""


class BadTempo(InputError):
    """A tempo outside what can be played."""


class BadNotation(InputError):
    """A part, meter or subdivision that cannot be read."""


class BadTable(InputError):
    """A table (CSV or archive) that is not what it should be."""


class EvidenceError(LoosehandError):
    """There is too little to say anything."""


class TooFewStrokes(EvidenceError):
    """Too few strokes for the figure asked for."""


class NotIdentifiable(EvidenceError):
    """The figure cannot be told from these data."""


class MediaError(LoosehandError):
    """A file that cannot be read as sound or MIDI."""


class UnreadableAudio(MediaError):
    """Not sound, or sound that cannot be decoded."""


class UnsupportedMidi(MediaError):
    """Not a Standard MIDI File, or one of a kind that holds no take."""


class StoreError(LoosehandError):
    """The studio's database said no."""


class NotFound(StoreError):
    """No such thing in the studio."""


class Conflict(StoreError):
    """It is there already, or was changed meanwhile."""


class NeedsMigration(StoreError):
    """The database was made by another version."""


class StudioLocked(StoreError):
    """Another program holds the database."""


class DiskFull(StoreError):
    """There was no room to write."""


EXIT_STATUS: dict[type[LoosehandError], int] = {
    InputError: 2,
    EvidenceError: 0,
    MediaError: 3,
    StoreError: 2,
}


def exit_status(error: LoosehandError) -> int:
    """Exit status of the command line for an error.

    Examples
    --------
    >>> exit_status(BadTempo("tempo_bpm = 0"))
    2
    >>> exit_status(UnreadableAudio("not sound"))
    3
    """
    for kind, status in EXIT_STATUS.items():
        if isinstance(error, kind):
            return status
    return 2
