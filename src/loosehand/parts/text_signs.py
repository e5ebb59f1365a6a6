"""The signs and words of a part's text, and how each is read and written.

``docs/parts.md`` explains the text to those who type it.
"""

import re
from fractions import Fraction

from loosehand.errors import BadNotation
from loosehand.parts.grid import SUBDIVISIONS, Meter
from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.part import BEATS, Limb, Mark

__all__ = [
    "ALSO_CALLED",
    "LABELS",
    "MOST_CHARACTERS",
    "NOTHING",
    "OPEN_SIGNS",
    "SIGNS",
    "grid_of_words",
    "instrument_of_words",
    "meter_of_words",
    "number_of_words",
    "tempo_of_words",
    "words_of_meter",
    "words_of_number",
    "words_of_tempo",
]

MOST_CHARACTERS = 4_000_000
"""Length of the longest text that is read or written."""

LABELS: dict[str, Limb] = {
    "RH": "right hand",
    "LH": "left hand",
    "RF": "right foot",
    "LF": "left foot",
}
"""What a limb's line begins with."""

NOTHING = ".-"
"""Signs for a place where the limb does nothing; the first is the one that is written."""

SIGNS: dict[str, tuple[Mark, ...]] = {
    "x": (),
    "X": ("accent",),
    "g": ("ghost",),
    "f": ("flam",),
    "F": ("accent", "flam"),
    "q": ("flam", "ghost"),
}
"""Signs for a stroke on the line's own instrument."""

OPEN_SIGNS: dict[str, tuple[Mark, ...]] = {"o": (), "O": ("accent",)}
"""Signs for a stroke on the open hat, in a line of the hat."""

ALSO_CALLED: dict[str, str] = {
    "hi-hat": "hat",
    "closed hat": "hat",
    "pedal hat": "foot hat",
    "bass drum": "kick",
    "side stick": "cross-stick",
    "ride cymbal": "ride",
    "crash cymbal": "crash",
}
"""Other words of the trade that are read too."""

_UNITS = (1, 2, 4, 8, 16, 32)
_NUMBER = re.compile(r"(\d{1,9})(?:\.(\d{1,6})|/(\d{1,9}))?")
_METER = re.compile(r"(\d{1,3})\s*/\s*(\d{1,2})(?:\s+(?:as\s+)?([\d+ ]+))?")
_GROUP = re.compile(r"[1-9][0-9]{0,2}")
_NAMES = {**{name: name for name in INSTRUMENTS}, **ALSO_CALLED}
_LONGEST_NAME = max(len(name.split()) for name in _NAMES)


def number_of_words(words: str) -> Fraction | None:
    """Exact number written as 104, 97.5 or 292/3, or None.

    Examples
    --------
    >>> number_of_words("97.5")
    Fraction(195, 2)
    """
    found = _NUMBER.fullmatch(words)
    if found is None or (found[3] is not None and int(found[3]) == 0):
        return None
    return Fraction(words)


def words_of_number(number: Fraction) -> str:
    """Write a number so that it reads back exactly: as a decimal where a short one does.

    Examples
    --------
    >>> words_of_number(Fraction(195, 2)), words_of_number(Fraction(292, 3))
    ('97.5', '292/3')
    """
    thousandths = number * 1000
    if number.denominator == 1 or thousandths.denominator != 1:
        return str(number)
    whole, part = divmod(int(thousandths), 1000)
    return f"{whole}.{part:03d}".rstrip("0")


def tempo_of_words(words: str) -> tuple[Fraction, Fraction]:
    """Tempo and beat written as ``104`` (quarters) or ``dotted quarter = 80``.

    Raises
    ------
    BadNotation    if it is neither
    """
    name, equals, figure = words.rpartition("=")
    beat = BEATS.get(" ".join(name.lower().split())) if equals else BEATS["quarter"]
    tempo_bpm = number_of_words(figure.strip())
    if beat is None or tempo_bpm is None:
        raise BadNotation(
            f"'{_short(words)}' is no tempo: want a number such as 104, or 'dotted quarter = 80'"
        )
    return tempo_bpm, beat


def words_of_tempo(tempo_bpm: Fraction, beat: Fraction) -> str:
    """Write a tempo as ``tempo_of_words`` reads it."""
    figure = words_of_number(tempo_bpm)
    if beat == BEATS["quarter"]:
        return figure
    name = next(name for name, length in BEATS.items() if length == beat)
    return f"{name} = {figure}"


def _usual_grouping(units: int, unit: int) -> tuple[int, ...] | None:
    """Return how a signature is counted where nobody says, or None where one must say."""
    if unit <= 4:
        return (1,) * units
    return (3,) * (units // 3) if units % 3 == 0 else None


def meter_of_words(words: str) -> Meter:
    """Meter written as ``4/4`` or ``7/8 as 2+2+3``.

    Raises
    ------
    BadNotation    if it is no meter, or its counts do not add up or are missing

    Examples
    --------
    >>> meter_of_words("7/8 as 2+2+3")
    Meter(grouping=(2, 2, 3), unit=8)
    """
    found = _METER.fullmatch(words)
    if found is None:
        raise BadNotation(f"'{_short(words)}' is no meter: want one like 4/4 or 7/8 as 2+2+3")
    units, unit = int(found[1]), int(found[2])
    if units < 1 or unit not in _UNITS:
        raise BadNotation(
            f"{units}/{unit} is no meter: want 1 unit or more, each a 1, 2, 4, 8, 16 or 32"
        )
    if found[3] is None:
        grouping = _usual_grouping(units, unit)
        if grouping is None:
            raise BadNotation(f"{units}/{unit} needs its counts: want them as in '7/8 as 2+2+3'")
        return Meter(grouping, unit)
    groups = found[3].replace(" ", "").split("+")
    if not all(map(_GROUP.fullmatch, groups)) or sum(map(int, groups)) != units:
        raise BadNotation(
            f"counts {_short(found[3])} do not add up to {units}: want them as in '7/8 as 2+2+3'"
        )
    return Meter(tuple(map(int, groups)), unit)


def words_of_meter(meter: Meter) -> str:
    """Write a meter as ``meter_of_words`` reads it.

    Examples
    --------
    >>> words_of_meter(Meter((3, 3), 8)), words_of_meter(Meter((2, 2, 3), 8))
    ('6/8', '7/8 as 2+2+3')
    """
    if meter.grouping == _usual_grouping(sum(meter.grouping), meter.unit):
        return meter.signature
    return f"{meter.signature} as {'+'.join(map(str, meter.grouping))}"


def grid_of_words(words: str, meter: Meter) -> int:
    """Places in a unit of the meter, written as a number or as a subdivision's name.

    Raises
    ------
    BadNotation    if it is neither, or the subdivision does not divide the meter's unit

    Examples
    --------
    >>> grid_of_words("sixteenths", Meter((2, 2, 3), 8))
    2
    """
    if words.isascii() and words.isdigit() and 1 <= len(words) <= 3 and int(words) > 0:
        return int(words)
    per_quarter = SUBDIVISIONS.get(words.lower())
    if per_quarter is None:
        raise BadNotation(
            f"'{_short(words)}' is no grid: want the places in a unit of the meter, such as 4, "
            f"or one of {', '.join(SUBDIVISIONS)}"
        )
    per_unit = Fraction(per_quarter * 4, meter.unit)
    if per_unit.denominator != 1:
        raise BadNotation(
            f"{words} do not divide the units of {meter.signature}: want a number of places"
        )
    return int(per_unit)


def instrument_of_words(words: list[str]) -> tuple[str, int] | None:
    """Instrument that a line's words begin with and how many words name it, or None.

    Examples
    --------
    >>> instrument_of_words(["open", "hat", "x...", "...."])
    ('open hat', 2)
    """
    for length in range(min(_LONGEST_NAME, len(words)), 0, -1):
        name = _NAMES.get(" ".join(words[:length]).lower().removesuffix(":"))
        if name is not None:
            return name, length
    return None


def _short(words: str) -> str:
    """Return words cut to what fits into a sentence."""
    return words if len(words) <= 24 else words[:21] + "..."
