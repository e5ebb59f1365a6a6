"""Tests of MIDI files: exact, read by other programs, and careful with strangers."""

import io
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from loosehand.errors import BadNotation
from loosehand.parts import INSTRUMENTS, Bar, Meter, Section, Stroke, place_positions
from loosehand.sheets.midi_bytes import midi_events
from loosehand.sheets.part_midi import part_from_midi, part_to_midi
from tests.sheets.some_parts import bar, groove, line, parts


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
@given(part=parts())
def test_any_part_is_read_back_exactly(part):
    """Whatever can be played comes back from its MIDI file as it was."""
    assert part_from_midi(part_to_midi(part)) == part


def expected_notes(part, ticks_per_quarter):
    """Return (tick, note) of every stroke, from the places alone."""
    start = Fraction(0)
    for section in part.sections:
        for written in section.bars * section.times:
            positions = place_positions(written, swing_percent=part.swing_percent)
            for stroke in written.strokes:
                tick = (start + positions[stroke.place]) * 4 * ticks_per_quarter
                yield int(tick), INSTRUMENTS[stroke.instrument].midi_note
            start += written.meter.bar_length


def read_by_mido(data):
    """Return ticks in a quarter and (tick, note, channel, limb) as mido reads the file."""
    import mido

    file = mido.MidiFile(file=io.BytesIO(data))
    notes = []
    for track in file.tracks:
        tick, is_grace = 0, False
        for message in track:
            tick += message.time
            if message.type == "text":
                is_grace = message.text == "loosehand grace"
            if message.type == "note_on" and message.velocity > 0:
                if not is_grace:
                    notes.append((tick, message.note, message.channel, track.name))
                is_grace = False
    return file.ticks_per_beat, notes


def test_mido_reads_every_stroke_at_its_tick():
    """An independent reader finds each stroke at its exact tick, on channel 10."""
    part = replace(groove(), swing_percent=57)
    ticks_per_quarter, notes = read_by_mido(part_to_midi(part))
    assert {channel for _, _, channel, _ in notes} == {9}
    found = sorted((tick, note) for tick, note, _, _ in notes)
    assert found == sorted(expected_notes(part, ticks_per_quarter))


def test_each_limb_has_its_track():
    """The tracks are named after the limbs, and hold what these play."""
    _, notes = read_by_mido(part_to_midi(groove()))
    assert {note for _, note, _, limb in notes if limb == "left foot"} == {44}
    assert {limb for _, note, _, limb in notes if note == 36} == {"right foot"}


@pytest.mark.filterwarnings("ignore")
def test_music21_reads_every_stroke():
    """Another program finds as many notes of each sound as are played."""
    import music21

    part = groove()
    part = replace(part, sections=tuple(replace(s, times=1) for s in part.sections))
    read = music21.midi.MidiFile()
    read.readstr(part_to_midi(part))
    notes = [
        (absolute, event.pitch)
        for track in read.tracks
        for absolute, event in _absolute(track.events)
        if event.isNoteOn()
    ]
    flams = sum(
        "flam" in s.marks for section in part.sections for b in section.bars for s in b.strokes
    )
    expected = list(expected_notes(part, read.ticksPerQuarterNote))
    assert set(expected) <= set(notes)
    assert len(notes) == len(expected) + flams


def _absolute(events):
    tick = 0
    for event in events:
        if event.isDeltaTime():
            tick += event.time
        else:
            yield tick, event


def test_triplets_quintuplets_and_swing_fall_on_whole_ticks():
    """There are as many ticks in a quarter as make every place exact."""
    four = Meter((1, 1, 1, 1), 4)
    bars = tuple(Bar(four, places, (Stroke(1, "right hand", "pad"),)) for places in (3, 4, 5, 7))
    section = Section("grids", bars, 1, None, None)
    part = replace(groove(), swing_percent=58, sections=(section,))
    ticks_per_quarter, _ = midi_events(part_to_midi(part))
    positions = [p for b in bars for p in place_positions(b, swing_percent=58)]
    assert all((position * 4 * ticks_per_quarter).denominator == 1 for position in positions)


def test_a_grace_note_comes_25_ms_before():
    """The soft stroke of a flam comes 25 ms before it, half as hard."""
    pad = bar(Meter((1, 1), 4), 1, line("left hand", "pad", ".f"))
    part = replace(groove(), tempo_bpm=Fraction(60), sections=(Section("a", (pad,), 1, "f", None),))
    ticks_per_quarter, [_, hand] = midi_events(part_to_midi(part))
    on = [(event.tick, event.data[1]) for event in hand if event.status == 0x99]
    assert on == [
        (ticks_per_quarter - round(0.025 * ticks_per_quarter), 42),
        (ticks_per_quarter, 84),
    ]


def test_a_flam_on_the_very_first_place_is_only_said():
    """There is no time before the tune: the flam is kept, its grace note left out."""
    pad = bar(Meter((1, 1), 4), 1, line("left hand", "pad", "f."))
    part = replace(groove(), sections=(Section("a", (pad,), 1, None, None),))
    data = part_to_midi(part)
    assert len(read_by_mido(data)[1]) == 1
    assert part_from_midi(data) == part


def test_an_edited_repeat_is_written_out():
    """Where one playing of a repeat was changed, all are kept as they are."""
    data = part_to_midi(groove())
    snare_accent = bytes([0x99, 38, 100])
    first = data.index(snare_accent)
    edited = data[:first] + bytes([0x99, 38, 72]) + data[first + 3 :]
    verse = part_from_midi(edited).sections[0]
    assert (verse.times, len(verse.bars)) == (1, 8)


def test_a_tune_that_is_too_long_is_refused():
    """Ten thousand bars are as many as a MIDI file is written for."""
    part = groove()
    part = replace(part, sections=(replace(part.sections[0], times=6000),))
    with pytest.raises(BadNotation, match="12000 bars long: want 10000"):
        part_to_midi(part)


def test_a_wrong_file_is_refused_in_one_sentence():
    """What is no MIDI file is said."""
    with pytest.raises(BadNotation, match="MThd"):
        part_from_midi(b"RIFF")
