"""The percussion part of a MusicXML score: elements in, a part out.

Dynamics and tempos count from the bar in which they stand. Read over, since a part has no
place for them: ties (a tied note is no new stroke), rolls (one stroke), fermatas, slurs,
words. Refused, since the tune would be another without them: endings, jumps, bar-repeat
signs, meters without bars.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from loosehand.errors import BadNotation
from loosehand.parts import (
    BEATS,
    DYNAMICS,
    INSTRUMENTS,
    LIMBS,
    Bar,
    Limb,
    Mark,
    Meter,
    Part,
)
from loosehand.sheets.hits import (
    INSTRUMENT_OF_NOTE,
    Hit,
    bar_of_hits,
    file_grids,
    needed_grid,
    plain_meter,
    told_name,
)
from loosehand.sheets.read_bars import BarRead, sections_of

__all__ = ["part_of_score"]

_TEMPO_UNLESS_TOLD_BPM = Fraction(120)
_NUMBER = re.compile(r"\d{1,9}(\.\d{1,20})?")
_FRACTION = re.compile(r"\d{1,9}(/[1-9]\d{0,8})?")
_GRID = re.compile(r"(\d{1,3}(?:\+\d{1,3})*)/(\d{1,2}) by (\d{1,3})")
_FINEST = 10**12
_LOUDER_NAMES = {"ppp": "pp", "pppp": "pp", "fff": "ff", "ffff": "ff"}
_JUMPS = ("dacapo", "dalsegno", "tocoda", "fine")
_OPENINGS = {"open": "open hat", "half-muted": "half-open hat"}
_KEPT = "loosehand-"


@dataclass
class _Reading:
    """Where the reading of the score stands."""

    sounds: dict[str, str]
    divisions: Fraction = Fraction(1)
    meter: Meter = field(default_factory=lambda: Meter((1, 1, 1, 1), 4))
    bars: list[BarRead] = field(default_factory=list)
    swing_percent: int | None = None


@dataclass
class _Measure:
    """Where the reading of one bar stands; positions in whole notes."""

    bar: BarRead
    where: str
    cursor: Fraction = Fraction(0)
    onset: Fraction = Fraction(0)
    length: Fraction = Fraction(0)
    graces: dict[str, list[str]] = field(default_factory=dict)
    flams: list[str] = field(default_factory=list)


def part_of_score(score: Element) -> Part:
    """Read a score.

    Raises
    ------
    BadNotation    that names the bar
    """
    if score.tag != "score-partwise":
        raise BadNotation(
            f"its root is {score.tag[:40]!r}: want 'score-partwise', a score part by part"
        )
    lines = next((part for part in score.findall("part") if _is_percussion(part)), None)
    if lines is None:
        raise BadNotation("no part of it has an unpitched note: want a percussion part")
    reading = _Reading(_sounds(score))
    for number, measure in enumerate(lines.findall("measure"), start=1):
        _read_measure(measure, reading, number)
    return _part(score, reading)


def _is_percussion(part: Element) -> bool:
    """Whether a part has an unpitched note, or stands under a percussion clef."""
    signs = part.iterfind("measure/attributes/clef/sign")
    return part.find(".//unpitched") is not None or any(
        (sign.text or "").strip() == "percussion" for sign in signs
    )


def _sounds(score: Element) -> dict[str, str]:
    """Instrument of each id of the part list, as far as it is told."""
    names = {
        each.get("id", ""): told_name(each.findtext("instrument-name"))
        for each in score.iterfind("part-list/score-part/score-instrument")
    }
    sounds = {}
    for midi in score.iterfind("part-list/score-part/midi-instrument"):
        note = _NUMBER.fullmatch(midi.findtext("midi-unpitched", "").strip())
        instrument = INSTRUMENT_OF_NOTE.get(int(float(note[0])) - 1) if note else None
        if instrument is not None:
            sounds[midi.get("id", "")] = instrument
    for key, name in names.items():
        told = sounds.get(key)
        if name in INSTRUMENTS and (
            told is None or INSTRUMENTS[name].midi_note == INSTRUMENTS[told].midi_note
        ):
            sounds[key] = name
    return sounds


def _read_measure(measure: Element, reading: _Reading, number: int) -> None:
    bar = BarRead(reading.meter, f"bar {number}")
    state = _Measure(bar, bar.where)
    for element in measure:
        reader = _READERS.get(element.tag)
        if reader is not None:
            reader(element, reading, state)
    short = bar.meter.bar_length - state.length
    if number == 1 and state.length and short > 0 and measure.get("implicit") == "yes":
        bar.hits = [
            Hit(hit.position + short, hit.instrument, hit.limb, hit.marks) for hit in bar.hits
        ]
    for hit in bar.hits:
        if hit.position >= bar.meter.bar_length:
            raise BadNotation(
                f"{bar.where}: a note stands {hit.position} of a whole note into the bar, which is "
                f"{bar.meter.bar_length} long"
            )
    reading.bars.append(bar)


def _read_attributes(element: Element, reading: _Reading, state: _Measure) -> None:
    divisions = element.findtext("divisions")
    if divisions is not None:
        reading.divisions = _number(divisions, "divisions", state)
        if reading.divisions == 0:
            raise BadNotation(f"{state.where}: divisions = 0: want 1 or more in a quarter note")
    if element.find("measure-style/measure-repeat") is not None:
        raise BadNotation(f"{state.where}: a bar-repeat sign is not kept; write the bar out")
    time = element.find("time")
    if time is not None:
        reading.meter = _meter(time, state)
        state.bar.meter = reading.meter


def _meter(time: Element, state: _Measure) -> Meter:
    beats, units = time.findall("beats"), time.findall("beat-type")
    if len(beats) != 1 or len(units) != 1:
        raise BadNotation(f"{state.where}: want a meter of one signature, as in 4/4 or 2+2+3/8")
    groups = (beats[0].text or "").replace(" ", "").split("+")
    figures = [*groups, (units[0].text or "").strip()]
    if not all(figure.isascii() and figure.isdigit() and len(figure) <= 3 for figure in figures):
        raise BadNotation(f"{state.where}: {'+'.join(groups)[:20]!r} is no count of beats")
    *grouping, unit = [int(figure) for figure in figures]
    try:
        if len(grouping) == 1 and grouping[0] > 0:
            return plain_meter(grouping[0], unit)
        return Meter(tuple(grouping), unit)
    except BadNotation as error:
        raise BadNotation(f"{state.where}: {error}") from error


def _read_grouping(element: Element, reading: _Reading, state: _Measure) -> None:
    for feature in element.iterfind("feature"):
        if feature.get("type") == f"{_KEPT}grid":
            found = _GRID.fullmatch((feature.text or "").strip())
            if found:
                state.bar.grid = _kept_grid(found)
        elif feature.get("type") == f"{_KEPT}tempo":
            state.bar.exact_tempo_bpm = _kept_fraction(feature.text)


def _kept_grid(found: re.Match[str]) -> tuple[Meter, int] | None:
    grouping = tuple(int(group) for group in found[1].split("+"))
    try:
        return Meter(grouping, int(found[2])), int(found[3])
    except BadNotation:
        return None


def _kept_fraction(text: str | None) -> Fraction | None:
    found = _FRACTION.fullmatch((text or "").strip())
    return Fraction(found[0]) if found else None


def _read_barline(element: Element, reading: _Reading, state: _Measure) -> None:
    if element.find("ending") is not None:
        raise BadNotation(
            f"{state.where}: first and second endings are not kept; write the repeat out"
        )
    repeat = element.find("repeat")
    if repeat is None:
        return
    if repeat.get("direction") == "forward":
        state.bar.starts_repeat = True
    else:
        state.bar.repeat_times = max(1, int(_number(repeat.get("times", "2"), "times", state)))


def _read_direction(element: Element, reading: _Reading, state: _Measure) -> None:
    rehearsal = element.find("direction-type/rehearsal")
    if rehearsal is not None:
        state.bar.name = told_name(rehearsal.text) or None
    for dynamic in element.iterfind("direction-type/dynamics/*"):
        told = _LOUDER_NAMES.get(dynamic.tag, dynamic.tag)
        if told in DYNAMICS:
            state.bar.dynamic = told
    sound = element.find("sound")
    if sound is not None:
        _read_sound(sound, reading, state)
    metronome = element.find("direction-type/metronome")
    if metronome is not None and (sound is None or sound.get("tempo") is None):
        _read_metronome(metronome, state)


def _read_sound(element: Element, reading: _Reading, state: _Measure) -> None:
    jump = next((name for name in _JUMPS if element.get(name)), None)
    if jump is not None:
        raise BadNotation(f"{state.where}: a jump ({jump}) is not kept; write the form out")
    tempo = element.get("tempo")
    if tempo is not None:
        state.bar.quarters_bpm = _number(tempo, "tempo", state)
    swing = element.find("swing")
    if swing is not None and reading.swing_percent is None:
        first = _number(swing.findtext("first", "1"), "swing", state)
        second = _number(swing.findtext("second", "1"), "swing", state)
        if first + second > 0:
            reading.swing_percent = min(75, max(50, round(100 * first / (first + second))))


def _read_metronome(metronome: Element, state: _Measure) -> None:
    unit = metronome.findtext("beat-unit", "").strip().replace("16th", "sixteenth")
    dots = len(metronome.findall("beat-unit-dot"))
    found = _NUMBER.fullmatch(metronome.findtext("per-minute", "").strip())
    if unit in BEATS and found and dots <= 1:
        length = BEATS[unit] * Fraction(3, 2) ** dots
        state.bar.quarters_bpm = Fraction(found[0]) * length * 4


def _read_step(element: Element, reading: _Reading, state: _Measure) -> None:
    """Move the cursor: forward, or back to another voice."""
    step = _duration(element, reading, state)
    state.cursor += step if element.tag == "forward" else -step
    _refuse_fine(state)
    if state.cursor < 0:
        raise BadNotation(f"{state.where}: it goes back to before the bar")
    state.length = max(state.length, state.cursor)


def _refuse_fine(state: _Measure) -> None:
    if state.cursor.denominator > _FINEST:
        raise BadNotation(f"{state.where}: its divisions are too fine to be notes")


def _read_note(note: Element, reading: _Reading, state: _Measure) -> None:
    voice = note.findtext("voice", "1")
    if note.find("grace") is not None:
        if note.find("unpitched") is not None:
            state.graces.setdefault(voice, []).append(_sound(note, reading, state))
        return
    if note.find("cue") is not None:
        return
    if note.find("chord") is None:
        state.flams = state.graces.pop(voice, [])
        state.onset = state.cursor
        state.cursor += _duration(note, reading, state)
        state.length = max(state.length, state.cursor)
        _refuse_fine(state)
    if note.find("pitch") is not None:
        raise BadNotation(
            f"{state.where}: a note with a pitch stands among the unpitched ones; want percussion"
        )
    is_tied_over = any(tie.get("type") == "stop" for tie in note.iterfind("tie"))
    if note.find("unpitched") is None or is_tied_over:
        return
    instrument = _sound(note, reading, state)
    marks = _marks(note)
    if instrument in state.flams:
        state.flams.remove(instrument)
        marks = (*marks, "flam")
    state.bar.hits.append(Hit(state.onset, instrument, _limb(note, instrument), marks))


def _limb(note: Element, instrument: str) -> Limb | None:
    """The limb that is kept with a note, if it can play the instrument."""
    kept = note.findtext("play/other-play[@type='limb']")
    limb = next((each for each in LIMBS if each == kept), None)
    is_foot = limb is not None and "foot" in limb
    return limb if is_foot == INSTRUMENTS[instrument].by_foot else None


def _marks(note: Element) -> tuple[Mark, ...]:
    accented = note.find("notations/articulations/accent") is not None
    strong = note.find("notations/articulations/strong-accent") is not None
    if accented or strong:
        return ("accent",)
    head = note.find("notehead")
    return ("ghost",) if head is not None and head.get("parentheses") == "yes" else ()


def _sound(note: Element, reading: _Reading, state: _Measure) -> str:
    """Instrument of a note: by its id, else by its place on the staff and its head."""
    told = note.find("instrument")
    name = reading.sounds.get(told.get("id", "")) if told is not None else None
    name = name or _by_place(note)
    if name is None:
        step, octave = (
            note.findtext(f"unpitched/display-{kind}", "?")[:3] for kind in ("step", "octave")
        )
        raise BadNotation(
            f"{state.where}: the note at {step}{octave} is none of {', '.join(INSTRUMENTS)}"
        )
    if name == "hat":
        for tag, opened in _OPENINGS.items():
            if note.find(f"notations/technical/{tag}") is not None:
                return opened
    return name


def _by_place(note: Element) -> str | None:
    place = (
        note.findtext("unpitched/display-step", "").strip(),
        note.findtext("unpitched/display-octave", "").strip(),
    )
    head = note.findtext("notehead", "normal").strip()
    here = [
        (name, each.head)
        for name, each in INSTRUMENTS.items()
        if (each.display_step, str(each.display_octave)) == place
    ]
    alike = [name for name, shape in here if shape == head]
    return alike[0] if alike else next((name for name, _ in here), None)


def _duration(element: Element, reading: _Reading, state: _Measure) -> Fraction:
    divisions = _number(element.findtext("duration", ""), "duration", state)
    return divisions / reading.divisions / 4


def _number(text: str, what: str, state: _Measure) -> Fraction:
    found = _NUMBER.fullmatch(text.strip())
    if not found:
        raise BadNotation(f"{state.where}: {what} = {text[:20]!r}: want a number")
    return Fraction(found[0])


_READERS = {
    "attributes": _read_attributes,
    "grouping": _read_grouping,
    "barline": _read_barline,
    "direction": _read_direction,
    "sound": _read_sound,
    "forward": _read_step,
    "backup": _read_step,
    "note": _read_note,
}


def _kept_fields(score: Element) -> Iterator[tuple[str, str]]:
    for kept in score.iterfind("identification/miscellaneous/miscellaneous-field"):
        name = kept.get("name", "")
        if name.startswith(_KEPT):
            yield name.removeprefix(_KEPT), kept.text or ""


def _part(score: Element, reading: _Reading) -> Part:
    fields = list(_kept_fields(score))
    kept = dict(fields)
    beat = _kept_fraction(kept.get("beat"))
    beat = beat if beat in BEATS.values() and beat is not None else Fraction(1, 4)
    title = score.findtext("work/work-title") or score.findtext("movement-title")
    first_bpm = _first_tempo(reading.bars, _kept_fraction(kept.get("tempo")), beat)
    return Part(
        title=told_name(title),
        tempo_bpm=first_bpm,
        beat=beat,
        swing_percent=reading.swing_percent or 50,
        feel=tuple(words for name, text in fields if name == "feel" if (words := told_name(text))),
        sections=sections_of(reading.bars, _bars(reading.bars), beat=beat),
    )


def _first_tempo(bars: Sequence[BarRead], kept_bpm: Fraction | None, beat: Fraction) -> Fraction:
    """Tempo of the start; where the first bar keeps one of its own, the part's is only kept."""
    told = bars[0].quarters_bpm if bars else None
    own = bars[0].own_tempo_bpm(beat) if bars else None
    if told is None:
        return kept_bpm or _TEMPO_UNLESS_TOLD_BPM / (beat * 4)
    told_bpm = told / (beat * 4)
    is_kept = kept_bpm is not None and (own is not None or abs(kept_bpm - told_bpm) < 0.01)
    if bars and own is None:
        bars[0].quarters_bpm = None
    return kept_bpm if is_kept and kept_bpm is not None else told_bpm.limit_denominator(1_000_000)


def _bars(read: Sequence[BarRead]) -> list[Bar]:
    """Bars on their grids: the kept one where the notes still lie on it."""
    needs: list[int | None] = []
    for bar in read:
        if bar.grid is not None and bar.grid[0].signature == bar.meter.signature:
            bar.meter = bar.grid[0]
        if bar.grid is not None and _lies_on(bar, bar.grid[1]):
            needs.append(bar.grid[1])
        else:
            bar.grid = None
            needs.append(needed_grid(bar.hits, bar.meter, bar.where))
    return [
        bar_of_hits(
            bar.hits,
            bar.meter,
            places_per_unit=bar.grid[1] if bar.grid is not None else grid,
            where=bar.where,
        )
        for bar, grid in zip(read, file_grids(needs), strict=True)
    ]


def _lies_on(bar: BarRead, places_per_unit: int) -> bool:
    """Whether all notes of a bar lie on a grid."""
    places = (hit.position * bar.meter.unit * places_per_unit for hit in bar.hits)
    return places_per_unit > 0 and all(place.denominator == 1 for place in places)
