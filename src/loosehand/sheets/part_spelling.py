"""How a bar is written down: note values, rests, beams and tuplets, hands above feet.

A stroke has no length of its own: it is written to last until the next stroke of its voice,
but never beyond its count. What no single value says is a value and rests.
A unit of the meter whose strokes lie on a grid of halves is written plainly; any other is a
tuplet of that unit.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from loosehand.errors import BadNotation
from loosehand.parts import Bar, Stroke

__all__ = [
    "Figure",
    "Symbol",
    "beam_levels",
    "beams",
    "closing_strokes",
    "count_word",
    "spelled_voice",
]

SMALLEST_VALUE = 1024
_HAT_STATES = {"hat": False, "foot hat": False, "open hat": True, "half-open hat": True}


@dataclass(frozen=True)
class Symbol:
    """A note, a chord or a rest.

    Attributes
    ----------
    start, length : as they sound, in whole notes, the start from that of the bar
    value : the note value as it is written: 4 is a quarter, 8 an eighth
    dots : 0 or 1
    strokes : what is struck; none: a rest
    """

    start: Fraction
    length: Fraction
    value: int
    dots: int
    strokes: tuple[Stroke, ...]


@dataclass(frozen=True)
class Figure:
    """What is written together: symbols of one count, or one tuplet.

    Attributes
    ----------
    symbols : in order
    tuplet : (actual, normal) as in 3 in the time of 2, or None
    """

    symbols: tuple[Symbol, ...]
    tuplet: tuple[int, int] | None


@dataclass(frozen=True)
class _Stretch:
    """A stretch of a bar that is spelled alone."""

    start: Fraction
    length: Fraction
    tuplet: tuple[int, int] | None


def spelled_voice(bar: Bar, *, is_feet: bool) -> tuple[Figure, ...]:
    """Spell what the hands, or the feet, play in a bar.

    Parameters
    ----------
    bar : the bar
    is_feet : whether the feet are wanted

    Returns
    -------
    figures : that fill the bar; none where nothing is struck

    Examples
    --------
    >>> from loosehand.parts.grid import Meter
    >>> strokes = (Stroke(0, "right hand", "hat"), Stroke(3, "right hand", "hat"))
    >>> bar = Bar(Meter((1,), 4), 4, strokes)
    >>> [(s.value, s.dots) for f in spelled_voice(bar, is_feet=False) for s in f.symbols]
    [(8, 1), (16, 0)]
    """
    place_length = Fraction(1, bar.meter.unit * bar.places_per_unit)
    struck: dict[Fraction, list[Stroke]] = {}
    for stroke in bar.strokes:
        if ("foot" in stroke.limb) == is_feet:
            struck.setdefault(stroke.place * place_length, []).append(stroke)
    if not struck:
        return ()
    return tuple(
        _spelled(stretch, {at: tuple(of) for at, of in struck.items()})
        for stretch in _stretches(bar, struck)
    )


def _stretches(bar: Bar, struck: dict[Fraction, list[Stroke]]) -> Iterator[_Stretch]:
    """Cut a bar into tuplets and the plain stretches between them, never across a count."""
    unit = Fraction(1, bar.meter.unit)
    for start, group in zip(bar.meter.count_starts(), bar.meter.grouping, strict=True):
        begun = start
        for index in range(group):
            at = start + index * unit
            tuplet = _tuplet_of([spot - at for spot in struck if at <= spot < at + unit], unit)
            if tuplet is None:
                continue
            if begun < at:
                yield _Stretch(begun, at - begun, None)
            yield _Stretch(at, unit, tuplet)
            begun = at + unit
        if begun < start + group * unit:
            yield _Stretch(begun, start + group * unit - begun, None)


def _tuplet_of(offsets: Sequence[Fraction], unit: Fraction) -> tuple[int, int] | None:
    """The coarsest grid of a unit's strokes, if it is no grid of halves."""
    places = math.lcm(*((offset / unit).denominator for offset in offsets))
    normal = 1 << (places.bit_length() - 1)
    return None if normal == places else (places, normal)


def _spelled(stretch: _Stretch, struck: dict[Fraction, tuple[Stroke, ...]]) -> Figure:
    end = stretch.start + stretch.length
    starts = [at for at in sorted(struck) if stretch.start <= at < end]
    symbols: list[Symbol] = []
    first = starts[0] if starts else end
    if first > stretch.start:
        symbols += _rests(stretch, stretch.start, first)
    for at, following in pairwise([*starts, end]):
        note = _note(stretch, at, following - at, struck[at])
        symbols.append(note)
        if at + note.length < following:
            symbols += _rests(stretch, at + note.length, following)
    return Figure(tuple(symbols), stretch.tuplet)


def _ratio(stretch: _Stretch) -> Fraction:
    """Written length of what sounds for one whole note."""
    return Fraction(*stretch.tuplet) if stretch.tuplet else Fraction(1)


def _note(stretch: _Stretch, at: Fraction, room: Fraction, strokes: tuple[Stroke, ...]) -> Symbol:
    """The longest single value that fits."""
    ratio = _ratio(stretch)
    written = room * ratio
    value = _largest_value(written)
    dotted = Fraction(3, 2 * value) <= written
    length = Fraction(3, 2 * value) if dotted else Fraction(1, value)
    return Symbol(at, length / ratio, value, int(dotted), strokes)


def _rests(stretch: _Stretch, at: Fraction, end: Fraction) -> list[Symbol]:
    """Rests, each on a multiple of its own value; one dotted rest for a whole count."""
    ratio = _ratio(stretch)
    written = (end - at) * ratio
    if at == stretch.start and written == stretch.length * ratio and written.numerator == 3:
        value = 2 * written.denominator // 4 or 1
        if Fraction(3, 2 * value) == written:
            return [Symbol(at, end - at, value, 1, ())]
    rests = []
    while at < end:
        value = _largest_value((end - at) * ratio)
        while ((at - stretch.start) * ratio * value).denominator != 1:
            value *= 2
        length = Fraction(1, value) / ratio
        rests.append(Symbol(at, length, value, 0, ()))
        at += length
    return rests


def _largest_value(written: Fraction) -> int:
    """The largest note value that is no longer than a length."""
    value = 1
    while Fraction(1, value) > written:
        value *= 2
    if value > SMALLEST_VALUE:
        raise BadNotation(
            f"a place of 1/{value} of a whole note cannot be written: "
            f"want 1/{SMALLEST_VALUE} at least"
        )
    return value


def beams(figure: Figure) -> list[tuple[int, int]]:
    """First and last symbol of each beam of a figure: eighths and shorter, rests inside only.

    Examples
    --------
    >>> part = Symbol(Fraction(0), Fraction(1, 8), 8, 0, (Stroke(0, "left foot", "foot hat"),))
    >>> beams(Figure((part, part), None))
    [(0, 1)]
    """
    found: list[tuple[int, int]] = []
    run: list[int] = []
    for index, symbol in enumerate([*figure.symbols, None]):
        if symbol is not None and symbol.value >= 8:
            if symbol.strokes:
                run.append(index)
            continue
        if len(run) > 1:
            found.append((run[0], run[-1]))
        run = []
    return found


def beam_levels(figure: Figure) -> list[list[str]]:
    """State of each beam at each symbol, from the first beam on: begin, continue, end or a hook.

    Examples
    --------
    >>> foot = (Stroke(0, "left foot", "foot hat"),)
    >>> long = Symbol(Fraction(0), Fraction(3, 16), 8, 1, foot)
    >>> beam_levels(Figure((long, Symbol(Fraction(3, 16), Fraction(1, 16), 16, 0, foot)), None))
    [['begin'], ['end', 'backward hook']]
    """
    levels: list[list[str]] = [[] for _ in figure.symbols]
    for first, last in beams(figure):
        flags = [_flags(symbol) for symbol in figure.symbols[first : last + 1]]
        for level in range(1, max(flags) + 1):
            for begin, end in _runs(flags, level):
                for index in range(begin, end + 1):
                    if figure.symbols[first + index].strokes:
                        levels[first + index].append(_beam_state(index, begin, end))
    return levels


def _flags(symbol: Symbol) -> int:
    """Beams of a note; a rest has one, which it is let through."""
    return symbol.value.bit_length() - 3 if symbol.strokes else 1


def _runs(flags: Sequence[int], level: int) -> Iterator[tuple[int, int]]:
    """First and last index of each run of symbols with a beam of a level."""
    begin: int | None = None
    for index, flag in enumerate([*flags, 0]):
        if flag >= level and begin is None:
            begin = index
        elif flag < level and begin is not None:
            yield begin, index - 1
            begin = None


def _beam_state(index: int, begin: int, end: int) -> str:
    if begin == end:
        return "forward hook" if index == 0 else "backward hook"
    if index == begin:
        return "begin"
    return "end" if index == end else "continue"


def closing_strokes(bars: Sequence[Bar]) -> set[tuple[int, Stroke]]:
    """Strokes that close an open hat, each with the index of its bar: they are marked with +.

    A hat is closed by the next stroke on the closed hat, or by the foot.
    """
    closing = set()
    is_open = False
    for index, bar in enumerate(bars):
        for stroke in bar.strokes:
            state = _HAT_STATES.get(stroke.instrument)
            if state is None:
                continue
            if is_open and not state:
                closing.add((index, stroke))
            is_open = state
    return closing


_COUNT_WORDS = {
    2: ("", "&"),
    3: ("", "trip", "let"),
    4: ("", "e", "&", "a"),
    6: ("", "trip", "let", "&", "trip", "let"),
}
"""What is said at the places of a count after its number: common practice, no source."""
_COMPOUND_WORDS = {"trip": "&", "let": "a"}
"""The same where a count is three units of the meter, as in 6/8."""


def count_word(bar: Bar, place: int) -> str:
    """What is said at a place: the number of its count, ``e``, ``&``, ``a``; a dot if unnamed.

    Examples
    --------
    >>> from loosehand.parts.grid import Meter
    >>> bar = Bar(Meter((1, 1), 4), 4, ())
    >>> [count_word(bar, place) for place in range(8)]
    ['1', 'e', '&', 'a', '2', 'e', '&', 'a']
    """
    start = 0
    for count, group in enumerate(bar.meter.grouping, start=1):
        places = group * bar.places_per_unit
        if place < start + places:
            return _word(count, place - start, places, is_compound=group % 3 == 0)
        start += places
    return "."


def _word(count: int, place: int, places: int, *, is_compound: bool) -> str:
    if place == 0:
        return str(count)
    if places == 6 and not is_compound:
        return _COUNT_WORDS[6][place]
    for size in (3,) if is_compound else (2, 3, 4):
        if places % size == 0 and place % (places // size) == 0:
            word = _COUNT_WORDS[size][place // (places // size)]
            return _COMPOUND_WORDS.get(word, word) if is_compound else word
    return "."
