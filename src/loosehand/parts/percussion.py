"""The percussion sounds of General MIDI, by note number.

On channel 10 a note number names a sound, not a pitch. Electronic kits and drum files use
these numbers, with departures of their own.

Source: MIDI Manufacturers Association, General MIDI System Level 1 (RP-003), percussion key map.
"""

from types import MappingProxyType

__all__ = ["PERCUSSION", "PERCUSSION_CHANNEL", "percussion_name"]

PERCUSSION_CHANNEL = 9
"""Channel 10 as people count it: channels are 0 to 15 in the bytes of a message."""

_FIRST_NOTE = 35
_NAMES = (
    "Acoustic Bass Drum",
    "Bass Drum 1",
    "Side Stick",
    "Acoustic Snare",
    "Hand Clap",
    "Electric Snare",
    "Low Floor Tom",
    "Closed Hi-Hat",
    "High Floor Tom",
    "Pedal Hi-Hat",
    "Low Tom",
    "Open Hi-Hat",
    "Low-Mid Tom",
    "Hi-Mid Tom",
    "Crash Cymbal 1",
    "High Tom",
    "Ride Cymbal 1",
    "Chinese Cymbal",
    "Ride Bell",
    "Tambourine",
    "Splash Cymbal",
    "Cowbell",
    "Crash Cymbal 2",
    "Vibraslap",
    "Ride Cymbal 2",
    "Hi Bongo",
    "Low Bongo",
    "Mute Hi Conga",
    "Open Hi Conga",
    "Low Conga",
    "High Timbale",
    "Low Timbale",
    "High Agogo",
    "Low Agogo",
    "Cabasa",
    "Maracas",
    "Short Whistle",
    "Long Whistle",
    "Short Guiro",
    "Long Guiro",
    "Claves",
    "Hi Wood Block",
    "Low Wood Block",
    "Mute Cuica",
    "Open Cuica",
    "Mute Triangle",
    "Open Triangle",
)

PERCUSSION = MappingProxyType(dict(enumerate(_NAMES, start=_FIRST_NOTE)))
"""Note number to name, 35 to 81."""


def percussion_name(note: int) -> str | None:
    """Name of a percussion note, or None outside the table.

    Examples
    --------
    >>> percussion_name(38)
    'Acoustic Snare'
    >>> percussion_name(34) is None
    True
    """
    return PERCUSSION.get(note)
