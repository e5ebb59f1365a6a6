"""Standard MIDI Files as events: tracks in, bytes out, and back.

Only what a part needs, and strict: a file that does not hold what it says is refused, with
the track and the byte.

Source: MIDI Manufacturers Association (1996), Standard MIDI Files 1.0 (RP-001).
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from loosehand.errors import BadNotation

__all__ = [
    "END_OF_TRACK",
    "MARKER",
    "META",
    "MOST_TICKS_PER_QUARTER",
    "TEMPO",
    "TEXT",
    "TIME_SIGNATURE",
    "TRACK_NAME",
    "MidiEvent",
    "meta",
    "midi_bytes",
    "midi_events",
]

META = 0xFF
TEXT = 0x01
TRACK_NAME = 0x03
MARKER = 0x06
END_OF_TRACK = 0x2F
TEMPO = 0x51
TIME_SIGNATURE = 0x58
MOST_MIDI_BYTES = 16_000_000
MOST_TICKS_PER_QUARTER = 32_767
_SYSEX, _ESCAPE = 0xF0, 0xF7
_MOST_QUANTITY_BYTES = 4


@dataclass(frozen=True)
class MidiEvent:
    """One event.

    Attributes
    ----------
    tick : from the start of the track
    status : status byte of a channel message, or META
    kind : of a meta event; 0 otherwise
    data : what follows
    """

    tick: int
    status: int
    kind: int
    data: bytes


def meta(tick: int, kind: int, data: bytes | str) -> MidiEvent:
    """A meta event; text is UTF-8."""
    return MidiEvent(tick, META, kind, data.encode() if isinstance(data, str) else data)


def midi_bytes(tracks: Sequence[Sequence[MidiEvent]], *, ticks_per_quarter: int) -> bytes:
    """A file of format 1; events in the order of their ticks, each track ended by its own last.

    Examples
    --------
    >>> midi_bytes([[meta(0, END_OF_TRACK, b"")]], ticks_per_quarter=480)[-4:].hex()
    '00ff2f00'
    """
    head = (1).to_bytes(2, "big") + len(tracks).to_bytes(2, "big")
    head += ticks_per_quarter.to_bytes(2, "big")
    chunks = [_chunk(b"MThd", head)]
    chunks += [_chunk(b"MTrk", b"".join(_track(events))) for events in tracks]
    return b"".join(chunks)


def _chunk(kind: bytes, body: bytes) -> bytes:
    return kind + len(body).to_bytes(4, "big") + body


def _track(events: Iterable[MidiEvent]) -> Iterator[bytes]:
    before = 0
    for event in events:
        yield _quantity(event.tick - before)
        yield bytes([event.status])
        if event.status == META:
            yield bytes([event.kind]) + _quantity(len(event.data))
        yield event.data
        before = event.tick


def _quantity(number: int) -> bytes:
    """A number in sevens of bits, the highest first."""
    sevens = [number & 0x7F]
    while number := number >> 7:
        sevens.append(number & 0x7F | 0x80)
    return bytes(reversed(sevens))


def midi_events(data: bytes) -> tuple[int, list[list[MidiEvent]]]:
    """Ticks in a quarter note, and the events of each track.

    Raises
    ------
    BadNotation    with track and byte, if it is no Standard MIDI File of format 0 or 1, is cut
        off, or counts time in frames
    """
    if len(data) > MOST_MIDI_BYTES:
        raise BadNotation(f"it has {len(data)} bytes: want {MOST_MIDI_BYTES} at most")
    if not data.startswith(b"MThd") or len(data) < 14:
        raise BadNotation("it does not begin as a Standard MIDI File (MThd): want one")
    file_format = int.from_bytes(data[8:10], "big")
    if file_format > 1:
        raise BadNotation(f"it is of format {file_format}: want 0 or 1, tracks of one time")
    division = int.from_bytes(data[12:14], "big")
    if not 0 < division <= MOST_TICKS_PER_QUARTER:
        raise BadNotation("it counts time in frames, not in notes: want ticks in a quarter note")
    tracks: list[list[MidiEvent]] = []
    at = 8 + int.from_bytes(data[4:8], "big")
    while at + 8 <= len(data):
        kind, length = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        if at + 8 + length > len(data):
            raise BadNotation(f"byte {at}: a chunk says {length} bytes and is cut off")
        if kind == b"MTrk":
            tracks.append(_events(data, at + 8, at + 8 + length, len(tracks) + 1))
        at += 8 + length
    if not tracks:
        raise BadNotation("it has no track: want one or more")
    return division, tracks


@dataclass
class _Cursor:
    data: bytes
    at: int
    end: int
    track: int

    def take(self, size: int) -> bytes:
        if self.at + size > self.end:
            raise BadNotation(f"track {self.track}, byte {self.at}: the track is cut off")
        taken = self.data[self.at : self.at + size]
        self.at += size
        return taken

    def quantity(self) -> int:
        number = 0
        for _ in range(_MOST_QUANTITY_BYTES):
            byte = self.take(1)[0]
            number = number << 7 | byte & 0x7F
            if byte < 0x80:
                return number
        raise BadNotation(f"track {self.track}, byte {self.at}: a number has no end")


def _events(data: bytes, start: int, end: int, track: int) -> list[MidiEvent]:
    cursor = _Cursor(data, start, end, track)
    events: list[MidiEvent] = []
    tick, running = 0, 0
    while cursor.at < end:
        tick += cursor.quantity()
        status = cursor.take(1)[0]
        if status < 0x80:
            cursor.at -= 1
            status = running
        if status == META:
            kind = cursor.take(1)[0]
            events.append(MidiEvent(tick, META, kind, cursor.take(cursor.quantity())))
            if kind == END_OF_TRACK:
                break
        elif status in (_SYSEX, _ESCAPE):
            cursor.take(cursor.quantity())
        elif 0x80 <= status < 0xF0:
            running = status
            events.append(_channel_event(cursor, tick, status))
        else:
            raise BadNotation(
                f"track {track}, byte {cursor.at - 1}: no event begins with 0x{status:02x}"
            )
    return events


def _channel_event(cursor: _Cursor, tick: int, status: int) -> MidiEvent:
    body = cursor.take(1 if status & 0xF0 in (0xC0, 0xD0) else 2)
    if max(body) > 0x7F:
        raise BadNotation(
            f"track {cursor.track}, byte {cursor.at - len(body)}: data above 127 in an event"
        )
    return MidiEvent(tick, status, 0, body)
