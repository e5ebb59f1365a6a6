"""MIDI files and percussion notes against the published specifications."""

import pytest

from loosehand.hear.midi import midi_strokes, velocity_to_level_db
from loosehand.hear.midi_file import parse_midi, read_quantity
from loosehand.parts.percussion import PERCUSSION

SPECIFICATION = "MIDI Manufacturers Association (1996), Standard MIDI Files 1.0 (RP-001)"

HEADER_0 = "4D546864 00000006 0000 0001 0060"
EXAMPLE_0 = (
    HEADER_0 + "4D54726B 0000003B"
    "00 FF5804 04021808  00 FF5103 07A120  00 C005  00 C12E  00 C246"
    "00 923060  00 3C60  60 914340  60 904C20"
    "8140 823040  00 3C40  00 814340  00 804C40  00 FF2F00"
)
EXAMPLE_1 = (
    "4D546864 00000006 0001 0004 0060"
    "4D54726B 00000014  00 FF5804 04021808  00 FF5103 07A120  8300 FF2F00"
    "4D54726B 00000010  00 C005  8140 904C20  8140 4C00  00 FF2F00"
    "4D54726B 0000000F  00 C12E  60 914340  8220 4300  00 FF2F00"
    "4D54726B 00000015  00 C246  00 923060  00 3C60  8300 3000  00 3C00  00 FF2F00"
)


@pytest.mark.published(
    source=SPECIFICATION, locator="table of variable-length quantities", kind="from-memory"
)
@pytest.mark.parametrize(
    ("number", "coded"),
    [
        (0x00000000, "00"),
        (0x00000040, "40"),
        (0x0000007F, "7F"),
        (0x00000080, "81 00"),
        (0x00002000, "C0 00"),
        (0x00003FFF, "FF 7F"),
        (0x00004000, "81 80 00"),
        (0x00100000, "C0 80 00"),
        (0x001FFFFF, "FF FF 7F"),
        (0x00200000, "81 80 80 00"),
        (0x08000000, "C0 80 80 00"),
        (0x0FFFFFFF, "FF FF FF 7F"),
    ],
)
def test_numbers_of_variable_length(number, coded):
    """Each coded number of the table is read as the number beside it."""
    data = bytes.fromhex(coded)
    assert read_quantity(data, 0) == (number, len(data))


@pytest.mark.published(
    source="Dobrian, Timing in MIDI files",
    locator="a dotted quarter note at 480 ticks a quarter",
    kind="printed",
)
def test_a_dotted_quarter_note():
    """720 ticks are written 85 50."""
    assert read_quantity(bytes.fromhex("85 50"), 0) == (720, 2)


def _holds_the_example(midi):
    """Whether a file holds the example's four notes, in 4/4 at 120, 96 ticks a quarter."""
    (meter,) = midi.time_signatures
    assert midi.remarks == ()
    assert midi.tempo_map.ticks_per_quarter == 96
    assert midi.tempo_map.quarters_per_minute(0) == 120
    assert (meter.tick, meter.numerator, meter.denominator) == (0, 4, 4)
    assert [(n.tick, n.channel + 1, n.note, n.velocity) for n in midi.notes] == [
        (0, 3, 48, 96),
        (0, 3, 60, 96),
        (96, 2, 67, 64),
        (192, 1, 76, 32),
    ]
    assert midi.end_tick == 384
    assert midi_strokes(midi, notes=None).time_s.tolist() == [0.0, 0.5, 1.0]


@pytest.mark.published(
    source=SPECIFICATION,
    locator="example file of format 0, bytes as transcribed in a public library's tests",
    kind="printed",
)
def test_the_example_of_format_0():
    """One track with running status holds the example's notes."""
    midi = parse_midi(bytes.fromhex(EXAMPLE_0))
    assert midi.file_format == 0
    _holds_the_example(midi)


@pytest.mark.published(
    source=SPECIFICATION, locator="the same example as format 1", kind="from-memory"
)
def test_the_example_of_format_1():
    """Four tracks with notes ended by velocity 0 hold the same notes."""
    midi = parse_midi(bytes.fromhex(EXAMPLE_1))
    assert (midi.file_format, midi.tracks) == (1, 4)
    _holds_the_example(midi)


def _timed(division, events):
    track = bytes.fromhex(events + "00 FF2F00")
    head = bytes.fromhex("4D546864 00000006 0000 0001") + division.to_bytes(2, "big")
    return parse_midi(head + b"MTrk" + len(track).to_bytes(4, "big") + track)


@pytest.mark.published(
    source="Dobrian, Timing in MIDI files; " + SPECIFICATION,
    locator="set tempo, FF 51 03, and the tempo where a file names none",
    kind="printed",
)
@pytest.mark.parametrize(
    ("events", "us_per_quarter", "tempo"),
    [
        ("00 FF5103 07A120", 500_000, 120),
        ("00 FF5103 0927C0", 600_000, 100),
        ("", 500_000, 120),
    ],
)
def test_set_tempo(events, us_per_quarter, tempo):
    """The three bytes are microseconds a quarter note; without them it is 120."""
    tempo_map = _timed(480, events).tempo_map
    assert tempo_map.changes == ((0, us_per_quarter),)
    assert tempo_map.quarters_per_minute(0) == tempo


@pytest.mark.published(
    source=SPECIFICATION, locator="seconds = ticks x tempo / division / 10**6", kind="analytic"
)
def test_ticks_to_seconds():
    """At 480 ticks and 120: 720 ticks are 0.75 s; a sixteenth at 180 is 83.33325 ms."""
    assert _timed(480, "").tempo_map.tick_to_s(720) == 0.75
    assert _timed(480, "").tempo_map.tick_to_s(960) == 1
    at_180 = _timed(480, "00 FF5103 051615").tempo_map
    assert float(at_180.tick_to_s(120)) == pytest.approx(0.08333325, abs=5e-10)


@pytest.mark.published(
    source=SPECIFICATION, locator="division: -25 with 40 makes milliseconds", kind="printed"
)
def test_millisecond_ticks():
    """25 frames a second of 40 subframes: a tick is a millisecond, whatever the tempo."""
    assert _timed(0xE728, "00 FF5103 0927C0").tempo_map.tick_to_s(1234) * 1000 == 1234


@pytest.mark.published(
    source="MIDI Manufacturers Association, Downloadable Sounds Level 1",
    locator="concave transform, 20 log10(127**2 / velocity**2), as quoted in public code",
    kind="analytic",
)
@pytest.mark.parametrize(("velocity", "level_db"), [(127, 0.0), (64, -11.905), (1, -84.152)])
def test_velocity_to_level(velocity, level_db):
    """Level falls with the square of velocity."""
    assert velocity_to_level_db(velocity) == pytest.approx(level_db, abs=5e-4)


GENERAL_MIDI_PERCUSSION = [
    "AcousticBassDrum",
    "BassDrum1",
    "SideStick",
    "AcousticSnare",
    "HandClap",
    "ElectricSnare",
    "LowFloorTom",
    "ClosedHiHat",
    "HighFloorTom",
    "PedalHiHat",
    "LowTom",
    "OpenHiHat",
    "LowMidTom",
    "HiMidTom",
    "CrashCymbal1",
    "HighTom",
    "RideCymbal1",
    "ChineseCymbal",
    "RideBell",
    "Tambourine",
    "SplashCymbal",
    "Cowbell",
    "CrashCymbal2",
    "Vibraslap",
    "RideCymbal2",
    "HiBongo",
    "LowBongo",
    "MuteHiConga",
    "OpenHiConga",
    "LowConga",
    "HighTimbale",
    "LowTimbale",
    "HighAgogo",
    "LowAgogo",
    "Cabasa",
    "Maracas",
    "ShortWhistle",
    "LongWhistle",
    "ShortGuiro",
    "LongGuiro",
    "Claves",
    "HiWoodBlock",
    "LowWoodBlock",
    "MuteCuica",
    "OpenCuica",
    "MuteTriangle",
    "OpenTriangle",
]


@pytest.mark.published(
    source="MIDI Manufacturers Association, General MIDI System Level 1 (RP-003)",
    locator="percussion key map, as listed in the documentation of a public MIDI library",
    kind="printed",
)
def test_general_midi_percussion():
    """All 47 sounds, 35 to 81, by name."""
    ours = {note: name.replace(" ", "").replace("-", "") for note, name in PERCUSSION.items()}
    assert ours == dict(enumerate(GENERAL_MIDI_PERCUSSION, start=35))
    assert (len(PERCUSSION), min(PERCUSSION), max(PERCUSSION)) == (47, 35, 81)
