"""A part as MusicXML 4.0, out and in.

One percussion part on five lines: the hands are voice 1, stems up, the feet voice 2, stems
down. What notation shows is written as notation. What it has no place for stands where the
standard lets a program keep its own: the limb of a stroke in ``play/other-play``, the grid of
a bar and exact tempos in ``grouping/feature``, feel, beat and the exact tempo of the start in
``miscellaneous``. On reading, notation stands above those.

Source: W3C Music Notation Community Group (2021), MusicXML Version 4.0, Final Community Group
Report.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from loosehand.errors import BadNotation
from loosehand.parts import (
    BEATS,
    INSTRUMENTS,
    Bar,
    Meter,
    Part,
    Section,
    Stroke,
    check_part,
)
from loosehand.sheets.musicxml_reading import part_of_score
from loosehand.sheets.part_spelling import (
    Figure,
    Symbol,
    beam_levels,
    closing_strokes,
    spelled_voice,
)
from loosehand.sheets.safe_xml import music_xml_root

__all__ = ["part_from_musicxml", "part_to_musicxml"]

_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
_PERCUSSION_CHANNEL = 10
_VALUE_NAMES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 32: "32nd"}
_LETTER = {"right hand": "R", "left hand": "L", "right foot": "R", "left foot": "L"}


def part_to_musicxml(part: Part, *, shows_sticking: bool = False) -> bytes:
    """Write a part as MusicXML 4.0.

    Parameters
    ----------
    part : what must be played; repeats stay repeats
    shows_sticking : whether R and L stand at the notes of the hands, as fingerings

    Returns
    -------
    score : UTF-8, uncompressed

    Raises
    ------
    BadNotation    if the part cannot be played, or has a place finer than a 1024th
    """
    check_part(part)
    score = Element("score-partwise", version="4.0")
    SubElement(SubElement(score, "work"), "work-title").text = part.title
    _identification(score, part)
    _part_list(score, part)
    lines = SubElement(score, "part", id="P1")
    bars = [bar for section in part.sections for bar in section.bars]
    page = _Page(_divisions(bars), closing_strokes(bars), shows_sticking)
    before: Meter | None = None
    number = 0
    for index, section in enumerate(part.sections):
        for place_in_section, bar in enumerate(section.bars):
            measure = SubElement(lines, "measure", number=str(number + 1))
            is_first, is_last = place_in_section == 0, place_in_section == len(section.bars) - 1
            if is_first and section.times > 1:
                _repeat(measure, section.times, is_start=True)
            _attributes(measure, bar, before, page.divisions)
            _grouping(measure, bar, section if is_first else None)
            if is_first:
                _section_head(measure, part, section, is_first_section=index == 0)
            _bar_notes(measure, bar, number, page)
            if is_last and section.times > 1:
                _repeat(measure, section.times, is_start=False)
            before = bar.meter
            number += 1
    indent(score, space=" ")
    body = tostring(score, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{_DOCTYPE}\n{body}\n'.encode()


def part_from_musicxml(data: bytes) -> Part:
    """Read a part from MusicXML, plain or packed (``.mxl``).

    Parameters
    ----------
    data : bytes of the file; what we wrote is read exactly, other scores as far as they are
        percussion: the first part with unpitched notes

    Raises
    ------
    BadNotation    in one sentence that names the line or the bar, if it is no MusicXML, has no
        unpitched note, declares entities, or asks for what a part cannot hold
    """
    try:
        return check_part(part_of_score(music_xml_root(data)))
    except BadNotation as error:
        raise BadNotation(f"The MusicXML file cannot be read: {error}") from error


@dataclass(frozen=True)
class _Page:
    """What all bars share."""

    divisions: int
    closing: set[tuple[int, Stroke]]
    shows_sticking: bool


def _divisions(bars: Iterable[Bar]) -> int:
    """Parts of a quarter of which every symbol is a whole number."""
    divisions = 1
    for meter, places_per_unit in {(bar.meter, bar.places_per_unit) for bar in bars}:
        divisions = math.lcm(divisions, Fraction(4, meter.unit * places_per_unit).denominator)
    for bar in set(bars):
        for is_feet in (False, True):
            for figure in spelled_voice(bar, is_feet=is_feet):
                spans = ((symbol.length * 4).denominator for symbol in figure.symbols)
                divisions = math.lcm(divisions, *spans)
    return divisions


def _identification(score: Element, part: Part) -> None:
    identification = SubElement(score, "identification")
    encoding = SubElement(identification, "encoding")
    SubElement(encoding, "software").text = "Loosehand"
    kept = [("tempo", str(part.tempo_bpm)), ("beat", str(part.beat))]
    kept += [("feel", words) for words in part.feel]
    miscellaneous = SubElement(identification, "miscellaneous")
    for name, text in kept:
        field = SubElement(miscellaneous, "miscellaneous-field", name=f"loosehand-{name}")
        field.text = text


def _instruments(part: Part) -> list[str]:
    """What is struck, in the order of the table."""
    struck = {
        stroke.instrument
        for section in part.sections
        for bar in section.bars
        for stroke in bar.strokes
    }
    return [name for name in INSTRUMENTS if name in struck]


def _instrument_id(name: str) -> str:
    return f"P1-{name.replace(' ', '-')}"


def _part_list(score: Element, part: Part) -> None:
    entry = SubElement(SubElement(score, "part-list"), "score-part", id="P1")
    SubElement(entry, "part-name").text = "Drums"
    names = _instruments(part)
    for name in names:
        instrument = SubElement(entry, "score-instrument", id=_instrument_id(name))
        SubElement(instrument, "instrument-name").text = name
    for name in names:
        midi = SubElement(entry, "midi-instrument", id=_instrument_id(name))
        SubElement(midi, "midi-channel").text = str(_PERCUSSION_CHANNEL)
        SubElement(midi, "midi-unpitched").text = str(INSTRUMENTS[name].midi_note + 1)


def _repeat(measure: Element, times: int, *, is_start: bool) -> None:
    barline = SubElement(measure, "barline", location="left" if is_start else "right")
    SubElement(barline, "bar-style").text = "heavy-light" if is_start else "light-heavy"
    if is_start:
        SubElement(barline, "repeat", direction="forward")
    else:
        SubElement(barline, "repeat", direction="backward", times=str(times))


def _attributes(measure: Element, bar: Bar, before: Meter | None, divisions: int) -> None:
    if bar.meter == before:
        return
    attributes = SubElement(measure, "attributes")
    if before is None:
        SubElement(attributes, "divisions").text = str(divisions)
        SubElement(SubElement(attributes, "key"), "fifths").text = "0"
    time = SubElement(attributes, "time")
    SubElement(time, "beats").text = _beats(bar.meter)
    SubElement(time, "beat-type").text = str(bar.meter.unit)
    if before is None:
        SubElement(SubElement(attributes, "clef"), "sign").text = "percussion"


def _beats(meter: Meter) -> str:
    """Upper figure of the signature, its groups shown where they are not alike."""
    alike = len(set(meter.grouping)) == 1
    return str(sum(meter.grouping)) if alike else "+".join(str(group) for group in meter.grouping)


def _grouping(measure: Element, bar: Bar, section: Section | None) -> None:
    """Keep the grid of a bar, and the exact tempo of a section that begins with it."""
    grouping = SubElement(measure, "grouping", type="single")
    grid = "+".join(str(group) for group in bar.meter.grouping)
    feature = SubElement(grouping, "feature", type="loosehand-grid")
    feature.text = f"{grid}/{bar.meter.unit} by {bar.places_per_unit}"
    if section is not None and section.tempo_bpm is not None:
        SubElement(grouping, "feature", type="loosehand-tempo").text = str(section.tempo_bpm)


def _section_head(
    measure: Element, part: Part, section: Section, *, is_first_section: bool
) -> None:
    _direction(measure, "rehearsal").text = section.name
    tempo_bpm = section.tempo_bpm or (part.tempo_bpm if is_first_section else None)
    if tempo_bpm is not None:
        _tempo(measure, part, tempo_bpm, swings=is_first_section)
    if is_first_section and part.feel:
        _direction(measure, "words").text = ", ".join(part.feel)
    if section.times > 1:
        _direction(measure, "words").text = f"{section.times} times"
    if section.dynamic is not None:
        SubElement(_direction(measure, "dynamics", "below"), section.dynamic)


def _direction(measure: Element, kind: str, placement: str = "above") -> Element:
    direction = SubElement(measure, "direction", placement=placement)
    return SubElement(SubElement(direction, "direction-type"), kind)


def _tempo(measure: Element, part: Part, tempo_bpm: Fraction, *, swings: bool) -> None:
    metronome = _direction(measure, "metronome")
    beat = next(name for name, length in BEATS.items() if length == part.beat)
    unit = beat.removeprefix("dotted ")
    SubElement(metronome, "beat-unit").text = "16th" if unit == "sixteenth" else unit
    if beat != unit:
        SubElement(metronome, "beat-unit-dot")
    SubElement(metronome, "per-minute").text = f"{float(tempo_bpm):g}"
    quarters = float(tempo_bpm * part.beat * 4)
    sound = SubElement(measure[-1], "sound", tempo=repr(quarters))
    if swings:
        _swing(sound, part)


def _swing(sound: Element, part: Part) -> None:
    swing = SubElement(sound, "swing")
    if part.swing_percent == 50:
        SubElement(swing, "straight")
        return
    share = Fraction(part.swing_percent, 100 - part.swing_percent)
    SubElement(swing, "first").text = str(share.numerator)
    SubElement(swing, "second").text = str(share.denominator)
    bar = part.sections[0].bars[0]
    value = bar.meter.unit * bar.places_per_unit
    if value in (8, 16):
        SubElement(swing, "swing-type").text = "eighth" if value == 8 else "16th"


def _bar_notes(measure: Element, bar: Bar, number: int, page: _Page) -> None:
    hands = spelled_voice(bar, is_feet=False)
    feet = spelled_voice(bar, is_feet=True)
    length = int(bar.meter.bar_length * 4 * page.divisions)
    if not hands and not feet:
        rest = SubElement(measure, "note")
        SubElement(rest, "rest", measure="yes")
        SubElement(rest, "duration").text = str(length)
        SubElement(rest, "voice").text = "1"
        return
    closing = {stroke for index, stroke in page.closing if index == number}
    if hands:
        _voice(measure, hands, _Voice("1", "up", page, closing))
    if hands and feet:
        SubElement(SubElement(measure, "backup"), "duration").text = str(length)
    if feet:
        _voice(measure, feet, _Voice("2", "down", page, closing))


@dataclass(frozen=True)
class _Voice:
    number: str
    stem: str
    page: _Page
    closing: set[Stroke]


def _voice(measure: Element, figures: Sequence[Figure], voice: _Voice) -> None:
    for figure in figures:
        levels = beam_levels(figure)
        for index, symbol in enumerate(figure.symbols):
            edges = _tuplet_edges(figure, index)
            for stroke in symbol.strokes:
                if "flam" in stroke.marks:
                    _grace(measure, stroke, voice)
            heads: tuple[Stroke | None, ...] = symbol.strokes or (None,)
            for place_in_chord, head in enumerate(heads):
                is_chord = place_in_chord > 0
                note = _note(measure, symbol, head, figure, voice, is_chord)
                if not is_chord:
                    _beam(note, levels[index])
                _notations(note, head, voice, [] if is_chord else edges)
                _limb(note, head)


def _tuplet_edges(figure: Figure, index: int) -> list[str]:
    """Whether a tuplet starts or stops at a symbol."""
    if figure.tuplet is None:
        return []
    starts = ["start"] if index == 0 else []
    return [*starts, "stop"] if index == len(figure.symbols) - 1 else starts


def _pitchless(note: Element, stroke: Stroke) -> None:
    instrument = INSTRUMENTS[stroke.instrument]
    unpitched = SubElement(note, "unpitched")
    SubElement(unpitched, "display-step").text = instrument.display_step
    SubElement(unpitched, "display-octave").text = str(instrument.display_octave)


def _grace(measure: Element, stroke: Stroke, voice: _Voice) -> None:
    """Write the soft stroke before that makes a flam."""
    note = SubElement(measure, "note")
    SubElement(note, "grace", slash="yes")
    _pitchless(note, stroke)
    SubElement(note, "instrument", id=_instrument_id(stroke.instrument))
    SubElement(note, "voice").text = voice.number
    SubElement(note, "type").text = "eighth"
    SubElement(note, "stem").text = voice.stem
    SubElement(note, "notehead").text = INSTRUMENTS[stroke.instrument].head


def _note(
    measure: Element,
    symbol: Symbol,
    stroke: Stroke | None,
    figure: Figure,
    voice: _Voice,
    is_chord: bool,
) -> Element:
    note = SubElement(measure, "note")
    if is_chord:
        SubElement(note, "chord")
    if stroke is None:
        SubElement(note, "rest")
    else:
        _pitchless(note, stroke)
    duration = int(symbol.length * 4 * voice.page.divisions)
    SubElement(note, "duration").text = str(duration)
    if stroke is not None:
        SubElement(note, "instrument", id=_instrument_id(stroke.instrument))
    SubElement(note, "voice").text = voice.number
    SubElement(note, "type").text = _VALUE_NAMES.get(symbol.value, f"{symbol.value}th")
    for _ in range(symbol.dots):
        SubElement(note, "dot")
    if figure.tuplet:
        modification = SubElement(note, "time-modification")
        SubElement(modification, "actual-notes").text = str(figure.tuplet[0])
        SubElement(modification, "normal-notes").text = str(figure.tuplet[1])
    if stroke is not None:
        SubElement(note, "stem").text = voice.stem
        head = SubElement(note, "notehead")
        head.text = INSTRUMENTS[stroke.instrument].head
        if "ghost" in stroke.marks:
            head.set("parentheses", "yes")
    return note


def _beam(note: Element, levels: Sequence[str]) -> None:
    for number, state in enumerate(levels, start=1):
        SubElement(note, "beam", number=str(number)).text = state


def _notations(note: Element, stroke: Stroke | None, voice: _Voice, edges: Sequence[str]) -> None:
    notations = Element("notations")
    for edge in edges:
        SubElement(notations, "tuplet", type=edge, number="1")
    if stroke is not None:
        _technical(notations, stroke, voice)
        if "accent" in stroke.marks:
            SubElement(SubElement(notations, "articulations"), "accent")
    if len(notations):
        note.append(notations)


def _technical(notations: Element, stroke: Stroke, voice: _Voice) -> None:
    technical = Element("technical")
    if stroke.instrument == "open hat":
        SubElement(technical, "open")
    elif stroke.instrument == "half-open hat":
        SubElement(technical, "half-muted")
    elif stroke in voice.closing:
        SubElement(technical, "stopped")
    if voice.page.shows_sticking and voice.number == "1":
        SubElement(technical, "fingering").text = _LETTER[stroke.limb]
    if len(technical):
        notations.append(technical)


def _limb(note: Element, stroke: Stroke | None) -> None:
    if stroke is not None:
        SubElement(SubElement(note, "play"), "other-play", type="limb").text = stroke.limb
