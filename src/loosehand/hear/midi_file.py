"""Standard MIDI Files, formats 0 and 1: bytes in, note-ons and tempo map out.

Times are exact: a tick is turned into seconds by whole numbers and one fraction, never by
adding up floats. A damaged or cut-off track is read as far as it goes, and a remark says so.

Source: MIDI Manufacturers Association (1996), Standard MIDI Files 1.0 (RP-001).
"""

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from loosehand.errors import UnsupportedMidi

__all__ = [
    "MidiFile",
    "NoteOn",
    "TempoMap",
    "TimeSignature",
    "is_midi",
    "parse_midi",
    "read_quantity",
]

US_PER_QUARTER_UNLESS_TOLD = 500_000
"""Tempo where a file names none: 120 quarter notes a minute."""

LONGEST_MIDI_BYTES = 8_000_000
"""A minute of playing takes some ten thousand bytes; a file above this is no take."""

_FRAMES_PER_SECOND = {
    24: Fraction(24),
    25: Fraction(25),
    29: Fraction(30_000, 1_001),
    30: Fraction(30),
}
_SYSTEM_DATA_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1}
_META, _SYSEX, _ESCAPE = 0xFF, 0xF0, 0xF7
_TEMPO, _TIME_SIGNATURE, _END_OF_TRACK = 0x51, 0x58, 0x2F
_LARGEST_DENOMINATOR_POWER = 7


@dataclass(frozen=True)
class NoteOn:
    """A note struck: velocity 1 to 127, channel 0 to 15, track from 0, tick from the start."""

    tick: int
    note: int
    velocity: int
    channel: int
    track: int


@dataclass(frozen=True)
class TimeSignature:
    """A meter from a tick on: 7/8 is numerator 7, denominator 8."""

    tick: int
    numerator: int
    denominator: int


@dataclass(frozen=True)
class TempoMap:
    """How ticks become seconds.

    Attributes
    ----------
    ticks_per_quarter : ticks in a quarter note, or None where ticks are parts of a second
    ticks_per_second : ticks in a second (SMPTE division), or None where they are musical
    changes : (tick, microseconds a quarter note), ticks strictly increasing, the first at 0
    """

    ticks_per_quarter: int | None
    ticks_per_second: Fraction | None
    changes: tuple[tuple[int, int], ...]
    _elapsed: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Add up ticks times microseconds before each change of tempo."""
        elapsed = [0]
        for (tick, us), (next_tick, _) in zip(self.changes, self.changes[1:], strict=False):
            elapsed.append(elapsed[-1] + (next_tick - tick) * us)
        object.__setattr__(self, "_elapsed", tuple(elapsed))

    def tick_to_s(self, tick: int) -> Fraction:
        """Seconds from the start of the file to a tick, exact.

        Examples
        --------
        >>> TempoMap(480, None, ((0, 500_000),)).tick_to_s(720)
        Fraction(3, 4)
        """
        if self.ticks_per_second is not None:
            return Fraction(tick) / self.ticks_per_second
        assert self.ticks_per_quarter is not None
        index = self._index(tick)
        start, us = self.changes[index]
        return Fraction(
            self._elapsed[index] + (tick - start) * us, self.ticks_per_quarter * 1_000_000
        )

    def quarters_per_minute(self, tick: int) -> Fraction | None:
        """Quarter notes a minute at a tick, or None where ticks are parts of a second."""
        if self.ticks_per_quarter is None:
            return None
        return Fraction(60_000_000, self.changes[self._index(tick)][1])

    def _index(self, tick: int) -> int:
        """Which change of tempo is in force at a tick."""
        return max(bisect_right(self.changes, tick, key=lambda change: change[0]) - 1, 0)


@dataclass(frozen=True)
class MidiFile:
    """What a MIDI file holds of a take.

    Attributes
    ----------
    file_format : 0 or 1
    tracks : tracks found
    tempo_map : how its ticks become seconds
    time_signatures : in order of tick, empty where the file names none
    notes : note-ons in order of tick
    end_tick : tick of the last event of any track
    remarks : sentences about what could not be read
    """

    file_format: int
    tracks: int
    tempo_map: TempoMap
    time_signatures: tuple[TimeSignature, ...]
    notes: tuple[NoteOn, ...]
    end_tick: int
    remarks: tuple[str, ...]

    @property
    def duration_s(self) -> float:
        """Seconds from the start of the file to its last event."""
        return float(self.tempo_map.tick_to_s(self.end_tick))


@dataclass
class _Track:
    """What has been read of one track so far."""

    number: int
    tick: int = 0
    notes: list[NoteOn] = field(default_factory=list)
    tempos: list[tuple[int, int]] = field(default_factory=list)
    signatures: list[TimeSignature] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


@dataclass
class _Cursor:
    """A place in the bytes of one track."""

    data: bytes
    position: int = 0

    def take(self, length: int) -> bytes:
        """Take the next bytes, all of them or an error."""
        taken = self.data[self.position : self.position + length]
        if len(taken) < length:
            raise UnsupportedMidi("an event is cut off")
        self.position += length
        return taken

    def quantity(self) -> int:
        """Take the next number of variable length."""
        number, self.position = read_quantity(self.data, self.position)
        return number

    def status(self, running: int | None) -> int:
        """Take the next status byte, or the running one where there is none."""
        byte = self.take(1)[0]
        if byte >= 0x80:
            return byte
        if running is None:
            raise UnsupportedMidi("data stands where a status byte should")
        self.position -= 1
        return running


def is_midi(head: bytes) -> bool:
    """Whether a file that begins with these bytes is a MIDI file, bare or in a RIFF wrapper.

    Examples
    --------
    >>> is_midi(b"MThd" + bytes(10))
    True
    >>> is_midi(b"RIFF" + bytes(4) + b"WAVE")
    False
    """
    return head[:4] == b"MThd" or (head[:4] == b"RIFF" and head[8:12] == b"RMID")


def read_quantity(data: bytes, position: int) -> tuple[int, int]:
    """Read a number of variable length: seven bits a byte, the high bit set on all but the last.

    Parameters
    ----------
    data : bytes
    position : int, where the number begins

    Returns
    -------
    number : int in [0, 2**28)
    position : int, the byte after it

    Raises
    ------
    UnsupportedMidi    if it is cut off or longer than four bytes

    Source
    ------
    MIDI Manufacturers Association (1996), Standard MIDI Files 1.0, variable-length quantities.

    Examples
    --------
    >>> read_quantity(bytes.fromhex("8550"), 0)
    (720, 2)
    """
    number = 0
    for byte in data[position : position + 4]:
        number = number << 7 | byte & 0x7F
        position += 1
        if byte < 0x80:
            return number, position
    raise UnsupportedMidi("a number of variable length does not end")


def parse_midi(data: bytes) -> MidiFile:
    """Read a Standard MIDI File of format 0 or 1.

    Parameters
    ----------
    data : bytes, the whole file

    Returns
    -------
    midi : MidiFile; what could not be read stands in its remarks

    Raises
    ------
    UnsupportedMidi    if it is no MIDI file, is of format 2, or has no division

    Source
    ------
    MIDI Manufacturers Association (1996), Standard MIDI Files 1.0. Departs: tempo and meter are
    taken from every track, and running status outlives a meta event, as many files need.
    """
    data = _unwrapped(data)
    file_format, announced, division = _header(data)
    chunks, remarks = _track_chunks(data)
    if not chunks:
        raise UnsupportedMidi("The MIDI file holds no track.")
    if len(chunks) < announced:
        remarks.append(f"The MIDI file announces {announced} tracks and holds {len(chunks)}.")
    tracks = [_read_track(chunk, number) for number, chunk in enumerate(chunks)]
    for track in tracks:
        remarks.extend(track.remarks)
    return MidiFile(
        file_format=file_format,
        tracks=len(tracks),
        tempo_map=_tempo_map(division, (change for track in tracks for change in track.tempos)),
        time_signatures=tuple(
            sorted((s for track in tracks for s in track.signatures), key=lambda s: s.tick)
        ),
        notes=tuple(sorted((n for track in tracks for n in track.notes), key=lambda n: n.tick)),
        end_tick=max(track.tick for track in tracks),
        remarks=tuple(remarks),
    )


def _unwrapped(data: bytes) -> bytes:
    """Take a MIDI file out of its RIFF wrapper, and refuse what is none."""
    if len(data) > LONGEST_MIDI_BYTES:
        raise UnsupportedMidi(
            f"The MIDI file has {len(data):,} bytes; "
            f"a take has no more than {LONGEST_MIDI_BYTES:,}."
        )
    if not is_midi(data):
        raise UnsupportedMidi("The file does not begin as a MIDI file does.")
    if data[:4] == b"MThd":
        return data
    start = data.find(b"MThd")
    if start < 0:
        raise UnsupportedMidi("The file is wrapped as MIDI but holds none.")
    return data[start:]


def _header(data: bytes) -> tuple[int, int, int]:
    """Format, tracks announced and division."""
    if len(data) < 14:
        raise UnsupportedMidi("The MIDI file is cut off within its header.")
    file_format = int.from_bytes(data[8:10], "big")
    division = int.from_bytes(data[12:14], "big")
    if file_format == 2:
        raise UnsupportedMidi(
            "The MIDI file is of format 2 (patterns without a common time); "
            "save it as format 0 or 1."
        )
    if file_format > 2:
        raise UnsupportedMidi(f"The MIDI file says it is of format {file_format}; 0 and 1 exist.")
    return file_format, int.from_bytes(data[10:12], "big"), division


def _track_chunks(data: bytes) -> tuple[list[bytes], list[str]]:
    """Bytes of each track, with remarks; chunks of other kinds are passed over."""
    chunks: list[bytes] = []
    remarks: list[str] = []
    position = 8 + max(int.from_bytes(data[4:8], "big"), 6)
    while position + 8 <= len(data):
        kind = data[position : position + 4]
        length = int.from_bytes(data[position + 4 : position + 8], "big")
        body = data[position + 8 : position + 8 + length]
        if kind == b"MTrk":
            chunks.append(body)
            if len(body) < length:
                remarks.append(f"Track {len(chunks)} of the MIDI file is cut off.")
        position += 8 + length
    return chunks, remarks


def _read_track(chunk: bytes, number: int) -> _Track:
    """Read one track as far as it can be read."""
    track = _Track(number)
    cursor = _Cursor(chunk)
    running: int | None = None
    try:
        while cursor.position < len(chunk):
            track.tick += cursor.quantity()
            status = cursor.status(running)
            if status < _SYSEX:
                running = status
                _channel_message(track, status, cursor)
            elif status == _META:
                if _meta_event(track, cursor):
                    break
            else:
                running = None
                _pass_over_system(status, cursor)
    except UnsupportedMidi as fault:
        track.remarks.append(
            f"Track {number + 1} of the MIDI file was read up to byte {cursor.position} "
            f"of {len(chunk)}: {fault}."
        )
    return track


def _channel_message(track: _Track, status: int, cursor: _Cursor) -> None:
    """Read a channel message; keep it if it is a note struck."""
    kind = status & 0xF0
    body = cursor.take(1 if kind in (0xC0, 0xD0) else 2)
    if max(body) > 0x7F:
        raise UnsupportedMidi("a status byte stands where data should")
    if kind == 0x90 and body[1] > 0:
        track.notes.append(NoteOn(track.tick, body[0], body[1], status & 0x0F, track.number))


def _meta_event(track: _Track, cursor: _Cursor) -> bool:
    """Read a meta event; True at the end of the track."""
    kind = cursor.take(1)[0]
    body = cursor.take(cursor.quantity())
    if kind == _TEMPO and len(body) >= 3:
        us_per_quarter = int.from_bytes(body[:3], "big")
        if us_per_quarter > 0:
            track.tempos.append((track.tick, us_per_quarter))
        else:
            track.remarks.append(f"A tempo of no length at tick {track.tick} was passed over.")
    elif kind == _TIME_SIGNATURE and len(body) >= 2 and body[1] <= _LARGEST_DENOMINATOR_POWER:
        track.signatures.append(TimeSignature(track.tick, body[0], 2 ** body[1]))
    return kind == _END_OF_TRACK


def _pass_over_system(status: int, cursor: _Cursor) -> None:
    """Pass over a system message."""
    if status in (_SYSEX, _ESCAPE):
        cursor.take(cursor.quantity())
    else:
        cursor.take(_SYSTEM_DATA_BYTES.get(status, 0))


def _tempo_map(division: int, tempos: Iterable[tuple[int, int]]) -> TempoMap:
    """Tempo map from the division of the header and the tempo events of all tracks."""
    ordered = dict(sorted(tempos, key=lambda change: change[0]))
    changes = tuple({0: US_PER_QUARTER_UNLESS_TOLD, **ordered}.items())
    if division & 0x8000 == 0:
        if division == 0:
            raise UnsupportedMidi("The MIDI file has no ticks in a quarter note, so no time.")
        return TempoMap(division, None, changes)
    frames_per_second = _FRAMES_PER_SECOND.get(256 - (division >> 8))
    ticks_per_frame = division & 0xFF
    if frames_per_second is None or ticks_per_frame == 0:
        raise UnsupportedMidi(f"The MIDI file's division 0x{division:04X} is none of the four.")
    return TempoMap(None, frames_per_second * ticks_per_frame, changes)
