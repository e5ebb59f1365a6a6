"""MIDI files: exact times, agreement with another reader, and what is there of broken ones."""

import io
from fractions import Fraction

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.errors import LoosehandError, UnsupportedMidi
from loosehand.hear.midi_file import TempoMap, is_midi, parse_midi, read_quantity

END = "00 FF2F00"


def _file(*tracks, file_format=1, division=480, announced=None):
    head = b"MThd" + (6).to_bytes(4, "big") + file_format.to_bytes(2, "big")
    head += (len(tracks) if announced is None else announced).to_bytes(2, "big")
    head += division.to_bytes(2, "big")
    bodies = [bytes.fromhex(track) for track in tracks]
    return head + b"".join(b"MTrk" + len(body).to_bytes(4, "big") + body for body in bodies)


def _ticks(midi):
    return [(note.tick, note.note) for note in midi.notes]


def test_running_status_and_silent_notes():
    """A status byte may be left out, and a note-on of velocity 0 is no stroke."""
    midi = parse_midi(_file("00 9926 64 10 26 00 10 26 50 10 8926 00 00 26 40" + END))
    assert _ticks(midi) == [(0, 38), (32, 38)]
    assert [note.velocity for note in midi.notes] == [100, 80]
    assert midi.notes[0].channel == 9


def test_meta_and_system_events_are_passed_over():
    """Names, keys, sysex in one piece and in two, controllers and wheels are no strokes."""
    midi = parse_midi(
        _file(
            "00 FF0305 4b69742031  00 FF5902 0000  00 FF7F03 000000  00 F003 7e7ff7  05 F701 f7"
            "00 B9077F 00 C905 00 D940 00 E90040 00 A92640  05 992640" + END
        )
    )
    assert (_ticks(midi), midi.remarks) == ([(10, 38)], ())


def test_running_status_outlives_a_meta_event():
    """Files that go on after a meta event without a status byte are read."""
    midi = parse_midi(_file("00 992640 00 FF0601 41 10 2650" + END))
    assert _ticks(midi) == [(0, 38), (16, 38)]


def test_tempo_changes_are_exact():
    """Seconds are whole microsecond sums over the division, with no float added up."""
    midi = parse_midi(_file("00 FF5103 051615 8360 FF5103 0927C0" + END, division=480))
    assert midi.tempo_map.changes == ((0, 333_333), (480, 600_000))
    assert midi.tempo_map.tick_to_s(480) == Fraction(333_333, 1_000_000)
    assert midi.tempo_map.tick_to_s(1_000_480) == Fraction(333_333, 10**6) + Fraction(
        10**6 * 600_000, 480 * 10**6
    )


def test_tempo_may_stand_in_any_track_and_late():
    """Before the first tempo event it is 120; the last of two at one tick holds."""
    midi = parse_midi(_file("00 9926 40" + END, "60 FF5103 0F4240 00 FF5103 07A121" + END))
    assert midi.tempo_map.changes == ((0, 500_000), (96, 500_001))


def test_a_tempo_of_no_length_is_passed_over():
    """A tempo of 0 microseconds is no tempo."""
    midi = parse_midi(_file("00 FF5103 000000 00 992640" + END))
    assert midi.tempo_map.changes == ((0, 500_000),)
    assert "tempo of no length" in midi.remarks[0]


@pytest.mark.parametrize(
    ("division", "ticks_per_second"),
    [(0xE850, 24 * 80), (0xE728, 1000), (0xE350, Fraction(30_000 * 80, 1001)), (0xE204, 120)],
)
def test_smpte_divisions(division, ticks_per_second):
    """Ticks may be parts of a film frame; the tempo then says nothing of time."""
    midi = parse_midi(_file("00 FF5103 0927C0 8768 992640" + END, division=division))
    assert midi.tempo_map.tick_to_s(1000) == Fraction(1000) / ticks_per_second
    assert midi.tempo_map.quarters_per_minute(0) is None


@pytest.mark.parametrize("division", [0, 0x8001, 0xE700, 0xFF28])
def test_divisions_without_time_are_refused(division):
    """A division that gives a tick no length is refused."""
    with pytest.raises(UnsupportedMidi, match=r"no time|division"):
        parse_midi(_file("00 992640" + END, division=division))


def test_meters_are_kept():
    """7/8 and 5/4, each from its tick on."""
    midi = parse_midi(_file("00 FF5804 07031808 60 FF5804 05021808 00 FF5804 04501808" + END))
    assert [(m.tick, m.numerator, m.denominator) for m in midi.time_signatures] == [
        (0, 7, 8),
        (96, 5, 4),
    ]


def test_notes_of_several_tracks_come_in_order_of_time():
    """Tracks are merged by tick."""
    midi = parse_midi(_file("60 992640" + END, "10 992A40 70 992A40" + END))
    assert _ticks(midi) == [(16, 42), (96, 38), (128, 42)]
    assert midi.end_tick == 128


@pytest.mark.parametrize(
    ("file_format", "match"), [(2, "format 2"), (3, "format 3"), (0x4D54, "format 19796")]
)
def test_other_formats_are_refused(file_format, match):
    """Format 2 has no common time, and there is no other."""
    with pytest.raises(UnsupportedMidi, match=match):
        parse_midi(_file("00 992640" + END, file_format=file_format))


def test_what_is_no_midi_file_is_refused():
    """Empty, other and headless bytes, a file without a track and one too large."""
    for data, match in [
        (b"", "does not begin"),
        (b"RIFF0000WAVE", "does not begin"),
        (b"MThd\0\0\0\6\0", "cut off within its header"),
        (_file(), "no track"),
        (b"RIFF0000RMID" + bytes(50), "wrapped as MIDI but holds none"),
        (_file() + bytes(8_000_000), "8,000,014 bytes"),
    ]:
        with pytest.raises(UnsupportedMidi, match=match):
            parse_midi(data)


def test_a_cut_off_track_is_read_as_far_as_it_goes():
    """Notes before the cut are kept, and a remark says that it was cut."""
    whole = _file("00 992640 10 992650 10 992660" + END)
    midi = parse_midi(whole[:-6])
    assert _ticks(midi) == [(0, 38), (16, 38)]
    assert midi.remarks[0] == "Track 1 of the MIDI file is cut off."


@pytest.mark.parametrize(
    ("rest", "match"),
    [
        ("10 9926FF", "a status byte stands where data should"),
        ("FFFFFFFF7F 992640", "does not end"),
        ("10 F07F 00", "cut off"),
        ("10 F00100 10 2640", "data stands where a status byte should"),
    ],
)
def test_a_damaged_track_is_read_up_to_the_damage(rest, match):
    """Notes before the damage are kept, other tracks whole, and a remark says where it is."""
    midi = parse_midi(_file("00 992640" + rest, "00 992A40" + END))
    assert _ticks(midi) == [(0, 38), (0, 42)]
    assert midi.remarks[0].startswith("Track 1 of the MIDI file was read up to byte ")
    assert match in midi.remarks[0]


def test_missing_tracks_are_told_and_odd_chunks_passed_over():
    """A file with fewer tracks than announced is read; chunks of other kinds are not."""
    track = _file("00 992640" + END)[14:]
    data = _file(announced=3) + b"XFIH\0\0\0\2ab" + track
    midi = parse_midi(data)
    assert _ticks(midi) == [(0, 38)]
    assert midi.remarks == ("The MIDI file announces 3 tracks and holds 1.",)


def test_a_longer_header_is_passed_over():
    """A header that has grown is read by its length."""
    data = _file("00 992640" + END)
    grown = data[:4] + (8).to_bytes(4, "big") + data[8:14] + b"\0\0" + data[14:]
    assert _ticks(parse_midi(grown)) == [(0, 38)]


def test_notes_after_the_end_of_a_track_do_not_count():
    """What stands behind the end mark is not played."""
    assert _ticks(parse_midi(_file("00 992640" + END + "10 992640"))) == [(0, 38)]


@given(st.integers(0, 2**28 - 1), st.binary(max_size=3))
def test_numbers_of_variable_length_agree_with_an_independent_writer(number, rest):
    """Every number written by another library is read back."""
    coded = bytes(mido.midifiles.meta.encode_variable_int(number))
    assert read_quantity(coded + rest, 0) == (number, len(coded))


_NOTE = st.tuples(
    st.integers(0, 3000), st.integers(0, 127), st.integers(0, 127), st.integers(0, 15)
)
_TEMPO = st.tuples(st.integers(0, 3000), st.integers(1, 2**24 - 1))
_TRACK = st.lists(st.one_of(_NOTE, _TEMPO), max_size=25)


def _by_mido(tracks, division, file_format):
    """A file written by an independent library, and that library's own reading of it."""
    song = mido.MidiFile(type=file_format, ticks_per_beat=division)
    for events in tracks:
        track = mido.MidiTrack()
        for event in events:
            if len(event) == 2:
                track.append(mido.MetaMessage("set_tempo", time=event[0], tempo=event[1]))
            else:
                delta, note, velocity, channel = event
                track.append(
                    mido.Message(
                        "note_on", time=delta, note=note, velocity=velocity, channel=channel
                    )
                )
        song.tracks.append(track)
    file = io.BytesIO()
    song.save(file=file)
    heard, now_s = [], 0.0
    for message in mido.MidiFile(file=io.BytesIO(file.getvalue())):
        now_s += message.time
        if message.type == "note_on" and message.velocity > 0:
            heard.append((now_s, message.note, message.velocity, message.channel))
    return file.getvalue(), heard


@given(
    tracks=st.lists(_TRACK, min_size=1, max_size=4),
    division=st.integers(1, 32767),
)
def test_agrees_with_an_independent_reader(tracks, division):
    """Times, notes, velocities and channels are those that another library reads."""
    data, heard = _by_mido(tracks, division, 1 if len(tracks) > 1 else 0)
    midi = parse_midi(data)
    assert midi.remarks == ()
    ours = [
        (float(midi.tempo_map.tick_to_s(n.tick)), n.note, n.velocity, n.channel) for n in midi.notes
    ]
    assert len(ours) == len(heard)
    for mine, theirs in zip(ours, heard, strict=True):
        assert mine[0] == pytest.approx(theirs[0], rel=1e-9, abs=1e-9)
        assert mine[1:] == theirs[1:]


@given(
    changes=st.lists(st.tuples(st.integers(1, 10**6), st.integers(1, 2**24 - 1)), max_size=20),
    ticks=st.lists(st.integers(0, 10**7), min_size=2, max_size=10),
    division=st.integers(1, 32767),
)
def test_time_never_runs_backwards(changes, ticks, division):
    """A later tick is a later time, across any tempo changes."""
    ordered = ((0, 500_000), *sorted(dict(changes).items()))
    tempo_map = TempoMap(division, None, ordered)
    for earlier, later in zip(sorted(set(ticks)), sorted(set(ticks))[1:], strict=False):
        assert tempo_map.tick_to_s(earlier) < tempo_map.tick_to_s(later)


def _valid_file():
    return _by_mido(
        [[(0, 500_000), (0, 38, 100, 9), (120, 38, 0, 9)], [(60, 42, 90, 9), (0, 36, 9, 9)]], 96, 1
    )[0]


@given(st.binary(max_size=300), st.sampled_from([0, 4, 14, 22, 30]))
def test_any_bytes_give_an_answer_or_a_sentence(data, kept):
    """Random bytes after a true beginning never raise anything but an error of our own."""
    try:
        midi = parse_midi(_valid_file()[:kept] + data)
    except LoosehandError:
        return
    assert all(note.velocity > 0 for note in midi.notes)


@given(st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=12), st.data())
def test_a_mutated_file_gives_an_answer_or_a_sentence(changes, data):
    """A valid file with bytes changed and its end cut off never raises a stranger's error."""
    mutated = bytearray(_valid_file())
    for place, byte in changes:
        mutated[place % len(mutated)] = byte
    end = data.draw(st.integers(0, len(mutated)))
    try:
        midi = parse_midi(bytes(mutated[:end]))
    except LoosehandError:
        return
    assert midi.duration_s >= 0.0
    assert is_midi(bytes(mutated))
