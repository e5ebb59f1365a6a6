"""The drums of a Standard MIDI File: events in, a part out.

Files of other programs say neither grid nor limb. Their rules are ours:

- Of two notes on one sound within 40 ms, the first clearly softer, the first is a grace note.
- A bar's grid is the coarsest on which every note lies to a tick and a half, and to a tenth
  of a place; if none does, the coarsest of 1, 2, 3, 4, 6, 8 and 12 places in a unit on which
  every note lies to 1/24 of a quarter note.
- An accent lies 14 or more above the median velocity, a ghost note at 0.75 of it or below.
- A section begins at a marker and at a change of tempo, with the bar that it falls in.
"""

import re
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from statistics import median_low

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
    Section,
    place_positions,
)
from loosehand.parts.part import MOST_BARS
from loosehand.parts.percussion import PERCUSSION_CHANNEL
from loosehand.sheets.hits import (
    INSTRUMENT_OF_NOTE,
    Hit,
    bar_of_hits,
    plain_meter,
    told_name,
)
from loosehand.sheets.midi_bytes import (
    END_OF_TRACK,
    MARKER,
    META,
    TEMPO,
    TEXT,
    TIME_SIGNATURE,
    TRACK_NAME,
    MidiEvent,
    midi_events,
)
from loosehand.sheets.velocities import VELOCITIES, mark_of_velocity, nearest_dynamic

__all__ = ["part_of_midi"]

_KEPT = "loosehand "
_US_PER_QUARTER_UNLESS_TOLD = 500_000
_GRACE_S = 0.040
_GRACE_VELOCITY_SHARE = 0.8
_EXACT_TICKS = Fraction(3, 2)
_LOOSE_QUARTERS = Fraction(1, 24)
_EXACT_GRIDS: tuple[int, ...] = (*range(1, 17), 24, 32)
_LOOSE_GRIDS = (1, 2, 3, 4, 6, 8, 12)
_GRID = re.compile(r"grid (\d{1,3}(?:\+\d{1,3})*)/(\d{1,2}) by (\d{1,3})")
_SECTION = re.compile(
    r"section times=(\d{1,6}) bars=(\d{1,6}) dynamic=([a-z]{1,2}|-) tempo=(\d{1,9}(?:/\d{1,9})?|-)"
)
_FRACTION = re.compile(r"\d{1,9}(/[1-9]\d{0,8})?")


@dataclass(frozen=True)
class _Note:
    tick: int
    note: int
    velocity: int
    limb: Limb | None
    kept: frozenset[str]


@dataclass
class _File:
    """What stands in the file, by its kinds."""

    ticks_per_quarter: int
    notes: list[_Note] = field(default_factory=list)
    tempos: dict[int, int] = field(default_factory=dict)
    meters: dict[int, tuple[int, int]] = field(default_factory=dict)
    markers: dict[int, str] = field(default_factory=dict)
    kept: list[tuple[int, str]] = field(default_factory=list)
    title: str = ""
    end_tick: int = 0

    @property
    def is_ours(self) -> bool:
        """Whether we wrote it: it says how its sections repeat."""
        return any(text.startswith("section ") for _, text in self.kept)

    def words(self, name: str) -> list[str]:
        """What is kept under a name."""
        return [text[len(name) + 1 :] for _, text in self.kept if text.startswith(f"{name} ")]


@dataclass
class _Span:
    """One bar as it lies in the file."""

    number: int
    start: Fraction
    meter: Meter
    places_per_unit: int | None
    notes: list[_Note] = field(default_factory=list)

    def where(self, tick: int) -> str:
        """How a refusal names a place."""
        return f"bar {self.number}, tick {tick}"


def part_of_midi(data: bytes) -> Part:
    """Read a file.

    Raises
    ------
    BadNotation    that names the byte, or bar and tick
    """
    ticks_per_quarter, tracks = midi_events(data)
    file = _File(ticks_per_quarter)
    open_notes: list[tuple[int, int]] = []
    for index, events in enumerate(tracks):
        open_notes += _read_track(file, events, is_first=index == 0)
    spans = _spans(file)
    _refuse_open(open_notes, spans)
    if not file.notes and not file.is_ours:
        raise BadNotation("it has no note on channel 10, where drums stand: want one or more")
    swing = _swing(file)
    bars = _our_bars(file, spans, swing) if file.is_ours else _other_bars(file, spans)
    beat = _fraction(file.words("beat"))
    beat = beat if beat in BEATS.values() and beat is not None else Fraction(1, 4)
    starts = [span.start for span in spans]
    heads = _heads(file, starts, beat)
    return Part(
        title=told_name(file.title),
        tempo_bpm=_first_tempo(file, heads, beat),
        beat=beat,
        swing_percent=swing,
        feel=tuple(told_name(words) for words in file.words("feel")),
        sections=_sections(heads, bars),
    )


def _read_track(
    file: _File, events: Sequence[MidiEvent], *, is_first: bool
) -> list[tuple[int, int]]:
    """Take up the events of a track; return notes that never end, as (tick, note)."""
    name = next((_text(event) for event in events if event.kind == TRACK_NAME), "")
    limb = next((each for each in LIMBS if each == name), None)
    if is_first:
        file.title = name
    texts: dict[int, set[str]] = defaultdict(set)
    for event in events:
        if event.status == META and event.kind == TEXT:
            texts[event.tick].add(_text(event).removeprefix(_KEPT))
    sounding: dict[int, list[int]] = defaultdict(list)
    for event in events:
        if event.status == META:
            _read_meta(file, event, is_first=is_first)
        elif event.status & 0x0F == PERCUSSION_CHANNEL and event.status < 0xA0:
            note, velocity = event.data
            if event.status >= 0x90 and velocity > 0:
                kept = frozenset(texts.get(event.tick, ()))
                file.notes.append(_Note(event.tick, note, velocity, limb, kept))
                sounding[note].append(event.tick)
            elif sounding[note]:
                sounding[note].pop(0)
    return [(tick, note) for note, ticks in sounding.items() for tick in ticks]


def _text(event: MidiEvent) -> str:
    return event.data.decode("utf-8", errors="replace")


def _read_meta(file: _File, event: MidiEvent, *, is_first: bool) -> None:
    if event.kind == TEMPO and len(event.data) == 3:
        us_per_quarter = int.from_bytes(event.data, "big")
        if us_per_quarter > 0:
            file.tempos[event.tick] = us_per_quarter
    elif event.kind == TIME_SIGNATURE and len(event.data) >= 2:
        file.meters[event.tick] = (event.data[0], event.data[1])
    elif event.kind == MARKER:
        file.markers.setdefault(event.tick, told_name(_text(event)))
    elif event.kind == TEXT and _text(event).startswith(_KEPT) and is_first:
        file.kept.append((event.tick, _text(event).removeprefix(_KEPT)))
    elif event.kind == END_OF_TRACK and is_first:
        file.end_tick = event.tick


def _refuse_open(open_notes: Iterable[tuple[int, int]], spans: Sequence[_Span]) -> None:
    for tick, note in sorted(open_notes)[:1]:
        span = _span_at(spans, tick)
        raise BadNotation(f"{span.where(tick)}: note {note} is struck and never ends")


def _span_at(spans: Sequence[_Span], tick: int) -> _Span:
    return spans[max(0, bisect_right([span.start for span in spans], tick) - 1)]


def _spans(file: _File) -> list[_Span]:
    """The bars of the file, by its meters."""
    last = max((note.tick for note in file.notes), default=0)
    end = Fraction(file.end_tick if file.is_ours else last + 1)
    grids = {
        tick: found for tick, text in file.kept if (found := _GRID.fullmatch(text)) is not None
    }
    meter, places = plain_meter(4, 4), None
    spans: list[_Span] = []
    start = Fraction(0)
    while start < end or not spans:
        tick = round(start)
        if tick in file.meters:
            meter, places = _meter(file.meters[tick], len(spans) + 1, tick), None
        if tick in grids:
            kept = _kept_grid(grids[tick])
            if kept is not None and kept[0].signature == meter.signature:
                meter, places = kept
        spans.append(_Span(len(spans) + 1, start, meter, places))
        if len(spans) > MOST_BARS:
            raise BadNotation(f"it is longer than {MOST_BARS} bars: an endless form")
        start += meter.bar_length * 4 * file.ticks_per_quarter
    _refuse_meters_between(file, spans)
    return spans


def _refuse_meters_between(file: _File, spans: Sequence[_Span]) -> None:
    starts = [round(span.start) for span in spans]
    for tick in sorted(file.meters):
        span = spans[_bar_at(starts, tick)]
        if tick != starts[span.number - 1] and span is not spans[-1]:
            raise BadNotation(f"{span.where(tick)}: the meter changes in the middle of a bar")


def _meter(figures: tuple[int, int], number: int, tick: int) -> Meter:
    beats, power = figures
    try:
        return plain_meter(beats, 1 << power if power < 8 else 0)
    except BadNotation as error:
        raise BadNotation(f"bar {number}, tick {tick}: {error}") from error


def _kept_grid(found: re.Match[str]) -> tuple[Meter, int] | None:
    try:
        meter = Meter(tuple(int(group) for group in found[1].split("+")), int(found[2]))
    except BadNotation:
        return None
    return (meter, int(found[3])) if int(found[3]) else None


def _swing(file: _File) -> int:
    told = _fraction(file.words("swing"))
    return int(told) if told is not None and 50 <= told <= 75 else 50


def _fraction(words: Sequence[str]) -> Fraction | None:
    found = _FRACTION.fullmatch(words[0]) if words else None
    return Fraction(found[0]) if found else None


def _instrument(note: _Note, span: _Span) -> str:
    named = next((word for word in note.kept if word in INSTRUMENTS), None)
    if named is not None and INSTRUMENTS[named].midi_note == note.note:
        return named
    if note.note not in INSTRUMENT_OF_NOTE:
        raise BadNotation(
            f"{span.where(note.tick)}: note {note.note} of channel 10 is none of "
            f"{', '.join(INSTRUMENTS)}"
        )
    return INSTRUMENT_OF_NOTE[note.note]


def _our_bars(file: _File, spans: Sequence[_Span], swing: int) -> list[Bar]:
    """Bars of a file of ours: places by their swung positions."""
    _share_out(file.notes, spans)
    plain_of = _plain_velocities(file, spans)
    place_ticks: dict[tuple[Meter, int], list[Fraction]] = {}
    bars = []
    for span, plain in zip(spans, plain_of, strict=True):
        hits = []
        places = span.places_per_unit or _grid_of(span, file)
        ticks = place_ticks.get((span.meter, places))
        if ticks is None:
            positions = place_positions(Bar(span.meter, places, ()), swing_percent=swing)
            ticks = [position * 4 * file.ticks_per_quarter for position in positions]
            place_ticks[span.meter, places] = ticks
        for note in span.notes:
            if "grace" in note.kept:
                continue
            offset = note.tick - span.start
            place = _nearest(ticks, offset)
            hits.append(_hit(note, span, Fraction(place, span.meter.unit * places), plain))
        bars.append(bar_of_hits(hits, span.meter, places_per_unit=places, where=_name(span)))
    return bars


def _share_out(notes: Iterable[_Note], spans: Sequence[_Span]) -> None:
    """Give each note to its bar: one rounded to the tick where a bar begins belongs to it."""
    starts = [round(span.start) for span in spans]
    for note in notes:
        spans[_bar_at(starts, note.tick)].notes.append(note)


def _nearest(ticks: Sequence[Fraction], offset: Fraction) -> int:
    """The place nearest to a tick."""
    after = bisect_right(ticks, offset)
    around = range(max(0, after - 1), min(len(ticks), after + 1))
    return min(around, key=lambda place: abs(ticks[place] - offset))


def _name(span: _Span) -> str:
    return f"bar {span.number}"


def _hit(note: _Note, span: _Span, position: Fraction, plain: int) -> Hit:
    instrument = _instrument(note, span)
    marks: tuple[Mark, ...] = mark_of_velocity(note.velocity, plain=plain)
    if "flam" in note.kept:
        marks = (*marks, "flam")
    is_foot = note.limb is not None and "foot" in note.limb
    limb = note.limb if is_foot == INSTRUMENTS[instrument].by_foot else None
    return Hit(position, instrument, limb, marks)


def _plain_velocities(file: _File, spans: Sequence[_Span]) -> list[int]:
    """Velocity of a plain stroke in each bar of a file of ours."""
    told = {
        tick: found[3]
        for tick, text in file.kept
        if (found := _SECTION.fullmatch(text)) and found[3] in DYNAMICS
    }
    dynamic = "mf"
    velocities = []
    for span in spans:
        dynamic = told.get(round(span.start), dynamic)
        velocities.append(VELOCITIES[dynamic])
    return velocities


def _other_bars(file: _File, spans: list[_Span]) -> list[Bar]:
    """Bars of a file of another program: graces found, notes put on a grid."""
    notes = _without_graces(file)
    plain = median_low([note.velocity for note in notes])
    _share_out(notes, spans)
    bars = []
    late: list[_Note] = []
    for index, span in enumerate(spans):
        span.notes += late
        late = []
        places = _grid_of(span, file)
        hits: dict[tuple[int, str], Hit] = {}
        in_bar = sum(span.meter.grouping) * places
        for note in sorted(span.notes, key=lambda each: each.velocity):
            offset = Fraction(note.tick) - span.start
            place = max(0, round(offset * span.meter.unit * places / 4 / file.ticks_per_quarter))
            if place >= in_bar and index + 1 < len(spans):
                late.append(replace(note, tick=round(spans[index + 1].start)))
                continue
            place = min(place, in_bar - 1)
            position = Fraction(place, span.meter.unit * places)
            hits[place, _instrument(note, span)] = _hit(note, span, position, plain)
        bars.append(
            bar_of_hits(list(hits.values()), span.meter, places_per_unit=places, where=_name(span))
        )
    return bars


def _without_graces(file: _File) -> list[_Note]:
    """Notes without grace notes; the strokes that they belong to are flams."""
    by_note: dict[int, list[_Note]] = defaultdict(list)
    for note in sorted(file.notes, key=lambda each: each.tick):
        by_note[note.note].append(note)
    longest = _longest_grace_ticks(file)
    kept = []
    for notes in by_note.values():
        is_flam = False
        for note, following in zip(notes, [*notes[1:], None], strict=True):
            if following is not None and _is_grace(note, following, longest):
                is_flam = True
                continue
            kept.append(replace(note, kept=note.kept | {"flam"}) if is_flam else note)
            is_flam = False
    return sorted(kept, key=lambda each: each.tick)


def _is_grace(note: _Note, following: _Note, longest: list[tuple[int, float]]) -> bool:
    instrument = INSTRUMENT_OF_NOTE.get(note.note)
    if instrument is None or INSTRUMENTS[instrument].by_foot:
        return False
    softer = note.velocity <= following.velocity * _GRACE_VELOCITY_SHARE
    _, most = longest[bisect_right(longest, (note.tick, float("inf"))) - 1]
    return softer and 0 < following.tick - note.tick <= most


def _longest_grace_ticks(file: _File) -> list[tuple[int, float]]:
    """From which tick on a grace note comes how many ticks before at most."""
    tempos = sorted({0: _US_PER_QUARTER_UNLESS_TOLD, **file.tempos}.items())
    return [(tick, _GRACE_S * 1e6 * file.ticks_per_quarter / us) for tick, us in tempos]


def _grid_of(span: _Span, file: _File) -> int:
    """Places in a unit of a bar whose file does not say it."""
    unit_ticks = Fraction(4 * file.ticks_per_quarter, span.meter.unit)
    offsets = [(note.tick - span.start) / unit_ticks for note in span.notes]
    loose = _LOOSE_QUARTERS * span.meter.unit / 4
    for places in _EXACT_GRIDS:
        if _fits(offsets, places, min(_EXACT_TICKS / unit_ticks, Fraction(1, 10 * places))):
            return places
    for places in _LOOSE_GRIDS:
        if _fits(offsets, places, loose):
            return places
    return _LOOSE_GRIDS[-1]


def _fits(offsets: Sequence[Fraction], places: int, leeway: Fraction) -> bool:
    return all(abs(each - Fraction(round(each * places), places)) <= leeway for each in offsets)


@dataclass(frozen=True)
class _Head:
    """Where a section begins, and what is said there."""

    first_bar: int
    name: str | None
    us_per_quarter: int | None
    times: int
    bars: int | None
    dynamic: str | None
    exact_bpm: Fraction | None
    tempo_bpm: Fraction | None


def _heads(file: _File, starts: Sequence[Fraction], beat: Fraction) -> list[_Head]:
    ticks = [round(start) for start in starts]
    names = {_bar_at(ticks, tick): name for tick, name in sorted(file.markers.items())}
    tempos = {_bar_at(ticks, tick): us for tick, us in sorted(file.tempos.items())}
    told = {
        _bar_at(ticks, tick): found
        for tick, text in file.kept
        if (found := _SECTION.fullmatch(text)) is not None
    }
    heads = []
    for bar in sorted({0, *names, *tempos, *told}):
        found = told.get(bar)
        us = tempos.get(bar)
        exact = _fraction([found[4]]) if found else None
        heads.append(
            _Head(
                first_bar=bar,
                name=names.get(bar),
                us_per_quarter=us,
                times=int(found[1]) if found else 1,
                bars=int(found[2]) if found else None,
                dynamic=found[3] if found and found[3] in DYNAMICS else None,
                exact_bpm=exact,
                tempo_bpm=_told_tempo(us, exact, beat),
            )
        )
    if not told:
        plain = nearest_dynamic(median_low([note.velocity for note in file.notes]))
        heads[0] = replace(heads[0], dynamic=plain)
    return heads


def _bar_at(ticks: Sequence[int], tick: int) -> int:
    return max(0, bisect_right(ticks, tick) - 1)


def _told_tempo(us: int | None, exact: Fraction | None, beat: Fraction) -> Fraction | None:
    """Tempo of a tempo event: the kept one, if the event is its rounding."""
    if us is None:
        return None
    if exact is not None and _rounds_to(exact, us, beat):
        return exact
    return _plain_bpm(us, beat)


def _rounds_to(tempo_bpm: Fraction, us: int, beat: Fraction) -> bool:
    return tempo_bpm > 0 and round(60_000_000 / (tempo_bpm * beat * 4)) == us


def _plain_bpm(us: int, beat: Fraction) -> Fraction:
    """The plainest tempo that an event may stand for: a whole one, a half, a tenth."""
    told = Fraction(60_000_000, us) / (beat * 4)
    for parts in (1, 2, 10, 100, 1000):
        plain = Fraction(round(told * parts), parts)
        if _rounds_to(plain, us, beat):
            return plain
    return told.limit_denominator(1_000_000)


def _first_tempo(file: _File, heads: Sequence[_Head], beat: Fraction) -> Fraction:
    kept = _fraction(file.words("tempo"))
    us = heads[0].us_per_quarter
    if heads[0].exact_bpm is not None and kept is not None:
        return kept
    if us is None:
        us = _US_PER_QUARTER_UNLESS_TOLD
    return kept if kept is not None and _rounds_to(kept, us, beat) else _plain_bpm(us, beat)


def _sections(heads: Sequence[_Head], bars: Sequence[Bar]) -> tuple[Section, ...]:
    sections = []
    ends = [*(head.first_bar for head in heads[1:]), len(bars)]
    for number, (head, end) in enumerate(zip(heads, ends, strict=True), start=1):
        played = tuple(bars[head.first_bar : end])
        if not played:
            continue
        once, times = played, 1
        if head.bars and head.bars * head.times == len(played):
            first = played[: head.bars]
            if first * head.times == played:
                once, times = first, head.times
        tempo = head.tempo_bpm if number > 1 or head.exact_bpm is not None else None
        name = head.name or f"section {number}"
        sections.append(Section(name, once, times, head.dynamic, tempo))
    return tuple(sections)
