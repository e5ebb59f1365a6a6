"""Lines of limbs, read place by place and joined to bars."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.part import (
    MOST_BARS,
    MOST_PLACES,
    Bar,
    Limb,
    Mark,
    Stroke,
    count_and_place,
)
from loosehand.parts.text_line import Line
from loosehand.parts.text_signs import LABELS, NOTHING, OPEN_SIGNS, SIGNS, instrument_of_words

__all__ = ["LimbLine", "bars_of_lines", "read_limb_line"]

AGAIN = "%"
_GROUP_OR_BAR_LINE = re.compile(r"[^\s|]+|\|")
_WORD = re.compile(r"[^\s|]+")
_SIGNS_IN_WORDS = (
    "want x stroke, X accent, g ghost note, f flam, F accented flam, q soft flam, "
    ". nothing, and on the hat o open, O open and accented"
)


@dataclass(frozen=True)
class _Sign:
    """A stroke as it stands in the text."""

    place: int
    column: int
    instrument: str
    marks: tuple[Mark, ...]


_Bar = tuple[_Sign, ...]


@dataclass(frozen=True)
class LimbLine:
    """One limb on one instrument, over the bars of a line.

    Attributes
    ----------
    line : where it stands
    limb : who plays
    instrument : what the line names
    bars : the strokes of each bar
    """

    line: Line
    limb: Limb
    instrument: str
    bars: tuple[_Bar, ...]


def read_limb_line(line: Line, empty: Bar) -> LimbLine:
    """Read a line such as ``RH hat  xxxx xxxx xxxx xxxx | %``.

    Parameters
    ----------
    line : the line, which begins with a label of LABELS
    empty : a bar without strokes, on the grid that holds here

    Raises
    ------
    BadNotation    if the line does not say what is played, or a bar does not add up
    """
    words = list(_WORD.finditer(line.text))
    limb = LABELS[words[0][0].upper()]
    named = instrument_of_words([word[0] for word in words[1:]])
    if named is None:
        column = words[1].start() + 1 if len(words) > 1 else len(line.text) + 1
        given = f"'{words[1][0][:20]}' is no instrument" if len(words) > 1 else "no instrument here"
        raise line.fault(column, f"{given}: want one of {', '.join(INSTRUMENTS)}")
    instrument, length = named
    by_foot = limb.endswith("foot")
    if INSTRUMENTS[instrument].by_foot != by_foot:
        owners = [name for name, of in INSTRUMENTS.items() if of.by_foot == by_foot]
        raise line.fault(
            words[1].start() + 1,
            f"the {limb} cannot play the {instrument}: want one of {', '.join(owners)}",
        )
    bars: list[_Bar] = []
    for groups, column in _bars_in(line, words[length].end()):
        if [group[0] for group in groups] == [AGAIN]:
            if not bars:
                raise line.fault(column, "% has no bar before it in this line: want places first")
            bars.append(bars[-1])
        else:
            bars.append(_read_bar(line, groups, column, empty, limb, instrument))
    return LimbLine(line, limb, instrument, tuple(bars))


def _bars_in(line: Line, start: int) -> list[tuple[list[re.Match[str]], int]]:
    """Cut a line at its bar lines: the groups of each bar, and the bar's first column."""
    bars: list[tuple[list[re.Match[str]], int]] = []
    groups: list[re.Match[str]] = []
    for index, group in enumerate(_GROUP_OR_BAR_LINE.finditer(line.text, start)):
        if group[0] != "|":
            groups.append(group)
        elif groups:
            bars.append((groups, groups[0].start() + 1))
            groups = []
        elif index:
            raise line.fault(group.start() + 1, "a bar line with no bar before it: want places")
        if len(bars) > MOST_BARS or len(groups) > MOST_PLACES:
            raise line.fault(
                group.start() + 1,
                f"the line is too long: want {MOST_BARS} bars of {MOST_PLACES} places at most",
            )
    if groups:
        bars.append((groups, groups[0].start() + 1))
    if not bars:
        raise line.fault(len(line.text) + 1, "the line has no bar: want places such as 'x...'")
    return bars


def _read_bar(
    line: Line,
    groups: Sequence[re.Match[str]],
    column: int,
    empty: Bar,
    limb: Limb,
    instrument: str,
) -> _Bar:
    _check_sum(line, groups, column, empty)
    signs: list[_Sign] = []
    place = 0
    for group in groups:
        for offset, sign in enumerate(group[0]):
            if sign not in NOTHING:
                at = group.start() + offset + 1
                played, marks = _stroke_of(line, at, sign, limb, instrument)
                signs.append(_Sign(place, at, played, marks))
            place += 1
    return tuple(signs)


def _check_sum(line: Line, groups: Sequence[re.Match[str]], column: int, empty: Bar) -> None:
    """Refuse a bar whose places do not add up, at the count where they do not."""
    wanted = [group * empty.places_per_unit for group in empty.meter.grouping]
    signature = empty.meter.signature
    if len(groups) == 1:
        if len(groups[0][0]) != empty.places:
            raise line.fault(
                column,
                f"the bar has {len(groups[0][0])} places, want {empty.places} in {signature}",
            )
        return
    for count, (group, places) in enumerate(zip(groups, wanted, strict=False), start=1):
        if len(group[0]) != places:
            raise line.fault(
                group.start() + 1,
                f"count {count} has {len(group[0])} places, want {places} in {signature}",
            )
    if len(groups) != len(wanted):
        raise line.fault(
            column, f"the bar has {len(groups)} counts, want {len(wanted)} in {signature}"
        )


def _stroke_of(
    line: Line, column: int, sign: str, limb: Limb, instrument: str
) -> tuple[str, tuple[Mark, ...]]:
    if sign in OPEN_SIGNS and instrument == "hat":
        return "open hat", OPEN_SIGNS[sign]
    marks = SIGNS.get(sign)
    if marks is None:
        raise line.fault(column, f"{sign!r} is no sign here: {_SIGNS_IN_WORDS}")
    if "flam" in marks and limb.endswith("foot"):
        raise line.fault(column, f"a flam is played by the hands, not by the {limb}: want x or X")
    return instrument, marks


def bars_of_lines(lines: Sequence[LimbLine], empty: Bar) -> list[Bar]:
    """Join lines that stand together to bars.

    Raises
    ------
    BadNotation    if lines differ in their number of bars, or a limb strikes twice at once
    """
    first = lines[0]
    for other in lines[1:]:
        if len(other.bars) != len(first.bars):
            raise other.line.fault(
                other.line.first_column,
                f"this line has {_bars(len(other.bars))}, but line {first.line.number}, which "
                f"it stands with, has {len(first.bars)}: want as many",
            )
    made: dict[tuple[int, ...], Bar] = {}
    bars: list[Bar] = []
    for of_bar in zip(*(line.bars for line in lines), strict=True):
        key = tuple(map(id, of_bar))
        if key not in made:
            made[key] = _joined(lines, of_bar, empty)
        bars.append(made[key])
    return bars


def _bars(number: int) -> str:
    return "1 bar" if number == 1 else f"{number} bars"


def _joined(lines: Sequence[LimbLine], of_bar: Sequence[_Bar], empty: Bar) -> Bar:
    taken: dict[tuple[int, str], LimbLine] = {}
    strokes: list[Stroke] = []
    for line, signs in zip(lines, of_bar, strict=True):
        for sign in signs:
            at = sign.place, line.limb
            if at in taken:
                count, place = count_and_place(empty, sign.place)
                raise line.line.fault(
                    sign.column,
                    f"the {line.limb} strikes twice at count {count}, place {place}: want this "
                    f"stroke or the {taken[at].instrument} of line {taken[at].line.number}",
                )
            taken[at] = line
            strokes.append(Stroke(sign.place, line.limb, sign.instrument, sign.marks))
    for line, signs in zip(lines, of_bar, strict=True):
        for sign in signs:
            _check_flam(line, sign, taken)
    return Bar(empty.meter, empty.places_per_unit, tuple(strokes))


def _check_flam(line: LimbLine, sign: _Sign, taken: dict[tuple[int, str], LimbLine]) -> None:
    if "flam" not in sign.marks:
        return
    other = "left hand" if line.limb == "right hand" else "right hand"
    if (sign.place, other) in taken:
        raise line.line.fault(
            sign.column,
            f"the flam needs the {other}: want it free of the "
            f"{taken[sign.place, other].instrument} of line {taken[sign.place, other].line.number}",
        )
