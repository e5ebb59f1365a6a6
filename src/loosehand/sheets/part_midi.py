"""A part as a Standard MIDI File, out and in.

Format 1. The first track conducts: title, tempos, meters, a marker at each section. Each
limb has a track of its own, named after it, on channel 10 with the notes of General MIDI.
Repeats are played out, swing is in the ticks. What notes cannot say stands in text events
that begin with ``loosehand``; on reading, the notes stand above them.

Source: MIDI Manufacturers Association, General MIDI System Level 1 (RP-003), percussion key
map; Standard MIDI Files 1.0 (RP-001). Velocities and the time of a grace note: ours, common
practice, no source.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from loosehand.errors import BadNotation
from loosehand.parts import (
    INSTRUMENTS,
    LIMBS,
    Bar,
    Part,
    Section,
    Stroke,
    bars_in_all,
    check_part,
    place_positions,
)
from loosehand.parts.percussion import PERCUSSION_CHANNEL
from loosehand.sheets.hits import INSTRUMENT_OF_NOTE
from loosehand.sheets.midi_bytes import (
    END_OF_TRACK,
    MARKER,
    MOST_TICKS_PER_QUARTER,
    TEMPO,
    TEXT,
    TIME_SIGNATURE,
    TRACK_NAME,
    MidiEvent,
    meta,
    midi_bytes,
)
from loosehand.sheets.midi_reading import part_of_midi
from loosehand.sheets.velocities import GRACE_SHARE, velocity_of

__all__ = ["part_from_midi", "part_to_midi"]

MOST_MIDI_BARS = 10_000
_LEAST_TICKS_PER_QUARTER = 480
_ROUNDED_TICKS_PER_QUARTER = 27_720
_GRACE_S = Fraction(25, 1000)
_NOTE_ON, _NOTE_OFF = 0x90 | PERCUSSION_CHANNEL, 0x80 | PERCUSSION_CHANNEL


def part_to_midi(part: Part) -> bytes:
    """Write a part as a Standard MIDI File.

    Parameters
    ----------
    part : what must be played; repeats are played out

    Returns
    -------
    file : format 1, with as many ticks in a quarter note as make every stroke exact; where that
        is more than 32,767, the nearest tick

    Raises
    ------
    BadNotation    if the part cannot be played, is longer than 10,000 bars played out, or has a
        meter of more than 255 units
    """
    check_part(part)
    if bars_in_all(part) > MOST_MIDI_BARS:
        raise BadNotation(
            f"the tune is {bars_in_all(part)} bars long: want {MOST_MIDI_BARS} at most in a "
            "MIDI file, which plays repeats out"
        )
    tune = _Tune(part, _ticks_per_quarter(part))
    for section in part.sections:
        tune.add(section)
    return midi_bytes(tune.tracks(), ticks_per_quarter=tune.ticks_per_quarter)


def part_from_midi(data: bytes) -> Part:
    """Read a part from a Standard MIDI File.

    Parameters
    ----------
    data : bytes of the file; what we wrote is read exactly, other files are put on the grid,
        their limbs guessed by the rules in ``hits``

    Raises
    ------
    BadNotation    in one sentence that names the byte, or bar and tick: if it is no MIDI file,
        has nothing on channel 10, a note that never ends, a sound that no kit has, or more
        strokes at once than limbs
    """
    try:
        return check_part(part_of_midi(data))
    except BadNotation as error:
        raise BadNotation(f"The MIDI file cannot be read: {error}") from error


def _ticks_per_quarter(part: Part) -> int:
    """As many ticks as make every place exact, and at least 480."""
    straight, swung = 1, 1
    for bar in {bar for section in part.sections for bar in section.bars}:
        step = Fraction(4, bar.meter.unit * bar.places_per_unit)
        straight = math.lcm(straight, step.denominator)
        positions = place_positions(bar, swing_percent=part.swing_percent)
        swung = math.lcm(swung, *((position * 4).denominator for position in positions))
    for exact in (math.lcm(straight, swung), straight):
        if exact <= MOST_TICKS_PER_QUARTER:
            finer = max(1, -(-_LEAST_TICKS_PER_QUARTER // exact))
            return exact * min(finer, MOST_TICKS_PER_QUARTER // exact)
    return _ROUNDED_TICKS_PER_QUARTER


@dataclass
class _Tune:
    """The tracks as they grow, section after section."""

    part: Part
    ticks_per_quarter: int
    position: Fraction = Fraction(0)
    tempo_bpm: Fraction | None = None
    dynamic: str = "mf"
    before: Bar | None = None
    conductor: list[MidiEvent] = field(default_factory=list)
    limbs: dict[str, list[MidiEvent]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Write the heading."""
        part = self.part
        self.tempo_bpm = part.tempo_bpm
        self.conductor.append(meta(0, TRACK_NAME, part.title))
        for kept in (
            f"tempo {part.tempo_bpm}",
            f"beat {part.beat}",
            f"swing {part.swing_percent}",
            *(f"feel {words}" for words in part.feel),
        ):
            self.conductor.append(meta(0, TEXT, f"loosehand {kept}"))
        self.limbs = {limb: [meta(0, TRACK_NAME, limb)] for limb in LIMBS}
        self._set_tempo(part.tempo_bpm if part.sections[0].tempo_bpm is None else None)

    def tick(self, position: Fraction) -> int:
        """The nearest tick to a position in whole notes."""
        return round(position * 4 * self.ticks_per_quarter)

    def _set_tempo(self, tempo_bpm: Fraction | None) -> None:
        if tempo_bpm is None:
            return
        us_per_quarter = round(60_000_000 / (tempo_bpm * self.part.beat * 4))
        data = us_per_quarter.to_bytes(3, "big")
        self.conductor.append(meta(self.tick(self.position), TEMPO, data))
        self.tempo_bpm = tempo_bpm

    def add(self, section: Section) -> None:
        """Play a section out."""
        tick = self.tick(self.position)
        self.conductor.append(meta(tick, MARKER, section.name))
        kept = f"times={section.times} bars={len(section.bars)} dynamic={section.dynamic or '-'}"
        kept += f" tempo={section.tempo_bpm or '-'}"
        self.conductor.append(meta(tick, TEXT, f"loosehand section {kept}"))
        self._set_tempo(section.tempo_bpm)
        self.dynamic = section.dynamic or self.dynamic
        for _ in range(section.times):
            for bar in section.bars:
                self._add_bar(bar)

    def _add_bar(self, bar: Bar) -> None:
        tick = self.tick(self.position)
        before = self.before
        if before is None or before.meter.signature != bar.meter.signature:
            self.conductor.append(meta(tick, TIME_SIGNATURE, _signature(bar)))
        if before is None or _grid(before) != _grid(bar):
            self.conductor.append(meta(tick, TEXT, f"loosehand grid {_grid(bar)}"))
        positions = place_positions(bar, swing_percent=self.part.swing_percent)
        place_ticks = 4 * self.ticks_per_quarter // (bar.meter.unit * bar.places_per_unit)
        for stroke in bar.strokes:
            on = self.tick(self.position + positions[stroke.place])
            self.limbs[stroke.limb] += self._stroke(stroke, on, place_ticks)
        self.position += bar.meter.bar_length
        self.before = bar

    def _stroke(self, stroke: Stroke, on: int, place_ticks: int) -> Iterator[MidiEvent]:
        note = INSTRUMENTS[stroke.instrument].midi_note
        velocity = velocity_of(self.dynamic, stroke.marks)
        length = max(1, place_ticks // 4)
        if "flam" in stroke.marks:
            yield from self._grace(note, velocity, on, length)
            yield meta(on, TEXT, "loosehand flam")
        if INSTRUMENT_OF_NOTE[note] != stroke.instrument:
            yield meta(on, TEXT, f"loosehand {stroke.instrument}")
        yield MidiEvent(on, _NOTE_ON, 0, bytes([note, velocity]))
        yield MidiEvent(on + length, _NOTE_OFF, 0, bytes([note, 0]))

    def _grace(self, note: int, velocity: int, on: int, most: int) -> Iterator[MidiEvent]:
        """Write the soft stroke before; there is no time for it before the tune begins."""
        assert self.tempo_bpm is not None
        quarters = _GRACE_S * self.tempo_bpm * self.part.beat * 4 / 60
        before = max(2, min(round(quarters * self.ticks_per_quarter), most))
        if before > on:
            return
        softer = max(1, round(velocity * GRACE_SHARE))
        yield meta(on - before, TEXT, "loosehand grace")
        yield MidiEvent(on - before, _NOTE_ON, 0, bytes([note, softer]))
        yield MidiEvent(on - 1, _NOTE_OFF, 0, bytes([note, 0]))

    def tracks(self) -> Sequence[Sequence[MidiEvent]]:
        """The finished tracks, those of limbs that rest left out."""
        end = self.tick(self.position)
        used: Mapping[str, list[MidiEvent]] = {
            limb: events for limb, events in self.limbs.items() if len(events) > 1
        }
        return [
            [*events, meta(max(end, events[-1].tick), END_OF_TRACK, b"")]
            for events in (self.conductor, *used.values())
        ]


def _grid(bar: Bar) -> str:
    grouping = "+".join(str(group) for group in bar.meter.grouping)
    return f"{grouping}/{bar.meter.unit} by {bar.places_per_unit}"


def _signature(bar: Bar) -> bytes:
    """Numerator, power of the denominator, clocks in a count, 32nds in a quarter."""
    beats = sum(bar.meter.grouping)
    if beats > 255:
        raise BadNotation(f"a meter of {bar.meter.signature} does not fit into a MIDI file")
    clocks = min(255, max(1, 96 * bar.meter.grouping[0] // bar.meter.unit))
    return bytes([beats, bar.meter.unit.bit_length() - 1, clocks, 8])
