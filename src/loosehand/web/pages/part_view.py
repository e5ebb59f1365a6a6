"""What a part's page says besides the staff: its figures, and where its text cannot be read."""

import re
from dataclasses import dataclass
from fractions import Fraction

from loosehand.errors import InputError, LoosehandError
from loosehand.parts.edit import At
from loosehand.parts.part import LIMBS, Part, bars_in_all
from loosehand.parts.text_signs import words_of_meter, words_of_tempo
from loosehand.parts.unroll import played_sections

__all__ = ["PartFigures", "Problem", "at_asked", "figures_of", "problem_of"]

_PLACE = re.compile(r"line (\d+), column (\d+): ")
_MOST_SHOWN = 30


@dataclass(frozen=True)
class PartFigures:
    """A part in few figures.

    Attributes
    ----------
    tempo : with the note value that it counts where that is no quarter
    meter : of the first bar
    bars : of the whole tune
    length : how long it takes
    """

    tempo: str
    meter: str
    bars: int
    length: str


@dataclass(frozen=True)
class Problem:
    """Why a text or a change was refused.

    Attributes
    ----------
    sentence : says so
    line, column : where in the text, from 1; None where it is nowhere in it
    shown : the line, and a line below with a sign under the column
    """

    sentence: str
    line: int | None = None
    column: int | None = None
    shown: str | None = None


def figures_of(part: Part) -> PartFigures:
    """A part in few figures."""
    return PartFigures(
        tempo=words_of_tempo(part.tempo_bpm, part.beat),
        meter=words_of_meter(part.sections[0].bars[0].meter),
        bars=bars_in_all(part),
        length=_length_in_words(played_sections(part)[-1].end_s),
    )


def problem_of(error: LoosehandError, text: str) -> Problem:
    """Say where in a text an error lies.

    Parameters
    ----------
    error : what was said of the text
    text : as it was typed
    """
    sentence = str(error)
    found = _PLACE.match(sentence)
    if found is None:
        return Problem(sentence)
    line, column = int(found[1]), int(found[2])
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    row = lines[line - 1] if line <= len(lines) else ""
    cut = max(0, column - _MOST_SHOWN // 2)
    shown = row[cut : cut + _MOST_SHOWN].replace("\t", " ")
    return Problem(sentence, line, column, f"{shown}\n{' ' * (column - 1 - cut)}^")


def at_asked(section: str, bar: str, place: str, limb: str) -> At:
    """Place on the staff that a form names, all in numbers from 0.

    Raises
    ------
    InputError   naming what is no number
    """
    words = {"section": section, "bar": bar, "place": place, "limb": limb}
    numbers: dict[str, int] = {}
    for name, word in words.items():
        if not (word.isascii() and word.isdigit() and len(word) < 7):
            raise InputError(f"{name} = {word[:20]!r}: want a number from 0")
        numbers[name] = int(word)
    if numbers["limb"] >= len(LIMBS):
        raise InputError(f"limb = {numbers['limb']}: want 0 to {len(LIMBS) - 1}")
    return At(numbers["section"], numbers["bar"], numbers["place"], LIMBS[numbers["limb"]])


def _length_in_words(length: Fraction) -> str:
    """Say a length, to the second.

    Examples
    --------
    >>> [_length_in_words(Fraction(seconds)) for seconds in (125, 9, 60)]
    ['2 min 5 s', '9 s', '1 min']
    """
    minutes, seconds = divmod(round(length), 60)
    words = [f"{minutes} min" if minutes else "", f"{seconds} s" if seconds or not minutes else ""]
    return " ".join(word for word in words if word)
