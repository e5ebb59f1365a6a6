"""A part as MEI, for the engraver: hands above with stems up, feet below with stems down.

Drum notation as it is commonly written: x heads for cymbals, a circle over an open hat and a
plus over the stroke that closes it, ghost notes in parentheses, a small slashed note before a
flam.

Source: Music Encoding Initiative (2023), MEI Guidelines 5.0, for the elements. The practice of
the staff is common practice, no source.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, tostring

from loosehand.parts import INSTRUMENTS, Bar, Meter, Part, Section, Stroke
from loosehand.sheets.part_spelling import (
    Figure,
    Symbol,
    beams,
    closing_strokes,
    count_word,
    spelled_voice,
)

__all__ = ["TEMPO_SIGN", "EngravedStroke", "StaffWords", "part_to_mei"]

_STEPS = "CDEFGAB"
_BOTTOM_LINE = 4 * 7 + _STEPS.index("E")
_REST_PLACES = {"up": "7", "down": "-1"}
_HEADS = {"x": "x", "diamond": "diamond", "circle-x": "U+E0B3", "triangle": "U+E0B9"}
"""Glyphs that the engraver's font has: it ends the process at one that is missing. It has no
triangle: a square keeps its place, and ``staff_svg`` draws the triangle."""


TEMPO_SIGN = "\u266a"
"""Stands in the words of a tempo where the note value is drawn that is counted."""


@dataclass(frozen=True)
class EngravedStroke:
    """Which stroke of the part a note on the staff is; bars from 1 as they are written."""

    bar: int
    stroke: Stroke


@dataclass(frozen=True)
class StaffWords:
    """What stands at the staff besides the notes.

    Attributes
    ----------
    sticking : R and L under the notes of the hands
    counts : 1 e & a under them
    tempo : the tempo, the feel and the swing of the part, above its first bar; a change of tempo
        is said in any case
    """

    sticking: bool = False
    counts: bool = False
    tempo: bool = True


def part_to_mei(
    part: Part, *, words: StaffWords, prefix: str
) -> tuple[str, Mapping[str, EngravedStroke]]:
    """Write a part as MEI.

    Parameters
    ----------
    part : a part that was checked
    words : what stands under the staff
    prefix : begins every id, so that several parts can stand on one page

    Returns
    -------
    mei : the document
    strokes : by the id of their notes
    """
    mei = Element("mei", {"xmlns": "http://www.music-encoding.org/ns/mei", "meiversion": "5.0"})
    body = SubElement(SubElement(mei, "music"), "body")
    score = SubElement(SubElement(body, "mdiv"), "score")
    first = part.sections[0].bars[0].meter
    definition = SubElement(score, "scoreDef", _meter(first))
    group = SubElement(definition, "staffGrp")
    SubElement(group, "staffDef", {"n": "1", "lines": "5", "clef.shape": "perc"})
    music = SubElement(score, "section")
    bars = [bar for section in part.sections for bar in section.bars]
    writer = _Writer(words, prefix, closing_strokes(bars), {})
    before = first
    number = 0
    for section in part.sections:
        for index, bar in enumerate(section.bars):
            number += 1
            if bar.meter.signature != before.signature:
                SubElement(music, "scoreDef", _meter(bar.meter))
            measure = SubElement(music, "measure", n=str(number))
            measure.set("xml:id", f"{prefix}b{number}")
            _repeats(measure, section, index)
            _staff(measure, bar, number, writer)
            if index == 0:
                _head(measure, part, section, says_tempo=number == 1 and words.tempo)
            if section.times > 1 and index == len(section.bars) - 1:
                _times(measure, section, bar)
            before = bar.meter
    return tostring(mei, encoding="unicode"), writer.strokes


@dataclass
class _Writer:
    words: StaffWords
    prefix: str
    closing: set[tuple[int, Stroke]]
    strokes: dict[str, EngravedStroke]


def _meter(meter: Meter) -> dict[str, str]:
    alike = len(set(meter.grouping)) == 1
    count = sum(meter.grouping) if alike else "+".join(str(group) for group in meter.grouping)
    return {"meter.count": str(count), "meter.unit": str(meter.unit)}


def _repeats(measure: Element, section: Section, index: int) -> None:
    if section.times > 1:
        if index == 0:
            measure.set("left", "rptstart")
        if index == len(section.bars) - 1:
            measure.set("right", "rptend")


def _head(measure: Element, part: Part, section: Section, *, says_tempo: bool) -> None:
    """Name, tempo, feel and dynamic of a section, above and below its first bar."""
    place = {"staff": "1", "tstamp": "1"}
    SubElement(measure, "reh", {**place, "place": "above"}).text = section.name
    tempo_bpm = section.tempo_bpm or (part.tempo_bpm if says_tempo else None)
    words = [f"{TEMPO_SIGN} = {float(tempo_bpm):g}"] if tempo_bpm is not None else []
    words += [*part.feel, *_swing_words(part)] if says_tempo else []
    if words:
        SubElement(measure, "tempo", {**place, "place": "above"}).text = ", ".join(words)
    if section.dynamic is not None:
        SubElement(measure, "dynam", {**place, "place": "below"}).text = section.dynamic


def _swing_words(part: Part) -> list[str]:
    return [f"swing {part.swing_percent} %"] if part.swing_percent > 50 else []


def _times(measure: Element, section: Section, bar: Bar) -> None:
    """Say at the end of a section how often it is played."""
    end = {"staff": "1", "tstamp": str(sum(bar.meter.grouping)), "place": "above"}
    SubElement(measure, "dir", end).text = f"{section.times} times"


def _staff(measure: Element, bar: Bar, number: int, writer: _Writer) -> None:
    staff = SubElement(measure, "staff", n="1")
    hands = spelled_voice(bar, is_feet=False)
    feet = spelled_voice(bar, is_feet=True)
    struck = [(stem, figures) for stem, figures in (("up", hands), ("down", feet)) if figures]
    if not struck:
        SubElement(SubElement(staff, "layer", n="1"), "mRest")
    for stem, figures in struck:
        layer = SubElement(staff, "layer", n="1" if stem == "up" else "2")
        voice = _Voice(writer, bar, number, stem, len(struck) == 1, frozenset(_taken(hands, stem)))
        for figure in figures:
            _figure(layer, figure, voice)


@dataclass(frozen=True)
class _Voice:
    writer: _Writer
    bar: Bar
    number: int
    stem: str
    is_alone: bool
    counted: frozenset[int]


def _taken(hands: Sequence[Figure], stem: str) -> Iterator[int]:
    """Places that are counted under the hands already, as the feet see it."""
    if stem == "down":
        for figure in hands:
            for symbol in figure.symbols:
                yield from (stroke.place for stroke in symbol.strokes)


def _figure(layer: Element, figure: Figure, voice: _Voice) -> None:
    into = layer
    if figure.tuplet:
        actual, normal = (str(figure_of) for figure_of in figure.tuplet)
        into = SubElement(layer, "tuplet", {"num": actual, "numbase": normal})
        into.set("num.place", "above" if voice.stem == "up" else "below")
        into.set("bracket.place", "above" if voice.stem == "up" else "below")
        into.set("bracket.visible", str(not _is_one_beam(figure)).lower())
    spans = dict(beams(figure))
    beam_end = -1
    parent = into
    for index, symbol in enumerate(figure.symbols):
        if index in spans:  # a grace note that begins a beam would be drawn into it
            _graces(into, symbol, voice)
            parent, beam_end = SubElement(into, "beam"), spans[index]
        else:
            _graces(parent, symbol, voice)
        _symbol(parent, symbol, voice)
        if index == beam_end:
            parent = into


def _is_one_beam(figure: Figure) -> bool:
    return beams(figure) == [(0, len(figure.symbols) - 1)]


def _symbol(parent: Element, symbol: Symbol, voice: _Voice) -> None:
    length = {"dur": str(symbol.value)} | ({"dots": "1"} if symbol.dots else {})
    if not symbol.strokes:
        height = {} if voice.is_alone else {"loc": _REST_PLACES[voice.stem]}
        SubElement(parent, "rest", {**length, **height})
        return
    length["stem.dir"] = voice.stem
    if len(symbol.strokes) == 1:
        whole = SubElement(parent, "note", length)
        _note(whole, symbol.strokes[0], voice)
    else:
        whole = SubElement(parent, "chord", length)
        for stroke in symbol.strokes:
            _note(SubElement(whole, "note"), stroke, voice)
    for articulation in dict.fromkeys(_articulations(symbol.strokes, voice)):
        SubElement(whole, "artic", {"artic": articulation, "place": "above"})
    _verses(whole, symbol, voice)


def _graces(parent: Element, symbol: Symbol, voice: _Voice) -> None:
    """Write the soft stroke before that makes a flam."""
    for stroke in symbol.strokes:
        if "flam" in stroke.marks:
            grace = SubElement(parent, "note", {"dur": "8", "grace": "unacc"})
            grace.set("stem.dir", voice.stem)
            grace.set("stem.mod", "1slash")
            _head_of(grace, stroke)


def _note(note: Element, stroke: Stroke, voice: _Voice) -> None:
    key = f"{voice.writer.prefix}b{voice.number}-p{stroke.place}-{stroke.limb.replace(' ', '-')}"
    note.set("xml:id", key)
    voice.writer.strokes[key] = EngravedStroke(voice.number, stroke)
    _head_of(note, stroke)
    if "ghost" in stroke.marks:
        note.set("head.mod", "paren")


def _head_of(note: Element, stroke: Stroke) -> None:
    instrument = INSTRUMENTS[stroke.instrument]
    place = instrument.display_octave * 7 + _STEPS.index(instrument.display_step)
    note.set("loc", str(place - _BOTTOM_LINE))
    if instrument.head in _HEADS:
        note.set("head.shape", _HEADS[instrument.head])


def _articulations(strokes: Sequence[Stroke], voice: _Voice) -> Iterator[str]:
    """Signs above a note or chord, the nearest first."""
    for stroke in strokes:
        if stroke.instrument == "open hat":
            yield "open"
        elif stroke.instrument == "half-open hat":
            yield "harm"
        elif (voice.number - 1, stroke) in voice.writer.closing:
            yield "stop"
    if any("accent" in stroke.marks for stroke in strokes):
        yield "acc"


def _verses(element: Element, symbol: Symbol, voice: _Voice) -> None:
    """Put words under a note: its count in the first row, R and L in a row for each hand."""
    words = voice.writer.words
    place = symbol.strokes[0].place
    if words.counts and place not in voice.counted:
        _verse(element, 1, count_word(voice.bar, place))
    if words.sticking and voice.stem == "up":
        for stroke in symbol.strokes:
            is_right = stroke.limb.startswith("right")
            _verse(element, 2 if is_right else 3, "R" if is_right else "L")


def _verse(element: Element, row: int, text: str) -> None:
    SubElement(SubElement(element, "verse", n=str(row)), "syl").text = text
