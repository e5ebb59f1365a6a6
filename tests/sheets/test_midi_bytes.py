"""Tests of Standard MIDI Files as events."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.errors import BadNotation
from loosehand.sheets.midi_bytes import END_OF_TRACK, TEXT, MidiEvent, meta, midi_bytes, midi_events
from loosehand.sheets.part_midi import part_from_midi, part_to_midi
from tests.sheets.some_parts import groove


@given(st.lists(st.integers(0, 2_000_000), min_size=1, max_size=6))
def test_events_come_back(steps):
    """Ticks of any size, notes and texts are read as they were written."""
    tick, events = 0, []
    for step in steps:
        tick += step
        events += [meta(tick, TEXT, "é" * 100), MidiEvent(tick, 0x99, 0, bytes([38, 90]))]
    events.append(meta(tick, END_OF_TRACK, b""))
    assert midi_events(midi_bytes([events], ticks_per_quarter=480)) == (480, [events])


def head(file_format=1, division=96):
    """Return the head of a file of one track."""
    return b"MThd" + bytes([0, 0, 0, 6, 0, file_format, 0, 1]) + division.to_bytes(2, "big")


def track(body):
    """Return a track chunk."""
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def test_running_status_is_followed():
    """A status byte that is left out is the last one."""
    body = bytes([0, 0x99, 38, 90, 5, 38, 0, 0, 0xFF, 0x2F, 0])
    _, [events] = midi_events(head() + track(body))
    assert [(event.tick, event.status) for event in events][:2] == [(0, 0x99), (5, 0x99)]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "MThd"),
        (head(2), "format 2"),
        (head(1, 0xE250), "frames"),
        (head(), "no track"),
        (head() + track(b"")[:-1] + b"\x09", "byte 14: a chunk says 9 bytes"),
        (head() + track(bytes([0, 0x99, 38])), "track 1, byte 24: the track is cut off"),
        (head() + track(bytes([0x81] * 6)), "a number has no end"),
        (head() + track(bytes([0, 0xF4, 0])), "no event begins with 0xf4"),
        (head() + track(bytes([0, 38, 90])), "no event begins with 0x00"),
        (head() + track(bytes([0, 0x99, 38, 200])), "data above 127"),
        (b"MThd" + bytes(16_000_001), "16000000 at most"),
    ],
    ids=range(11),
)
def test_what_is_no_midi_file_is_refused_with_its_byte(data, says):
    """Wrong heads, cut tracks and wrong bytes are named."""
    with pytest.raises(BadNotation, match=says):
        midi_events(data)


@given(st.integers(0, 3000), st.integers(0, 255))
def test_any_changed_byte_is_read_or_refused(at, byte):
    """A damaged file never does anything else than be read or be refused."""
    data = bytearray(part_to_midi(groove()))
    data[at % len(data)] = byte
    with contextlib.suppress(BadNotation):
        part_from_midi(bytes(data))
