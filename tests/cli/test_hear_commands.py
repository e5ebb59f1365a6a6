"""``loosehand hear``: readings, and every kind of bad input."""

import json
import subprocess
import sys

import jsonschema
import mido
import numpy as np
import pytest
import soundfile

from loosehand.players.takes import make_take
from tests.cli.conftest import write_midi
from tests.judge.part_scenes import ACCENTS, HEAD, TEXT, write_accents, write_recording
from tests.project_files import PACKAGE

SCHEMA = json.loads((PACKAGE / "judge" / "reading.schema.json").read_text(encoding="utf-8"))
REQUEST = ("--tempo", "104", "--per-count", "4", "--hand", "left")
RATE_HZ = 44100


def _quiet_noise(seconds, *, channels=1, rate_hz=RATE_HZ):
    """Return noise that nobody would take for strokes, seed 4."""
    return np.random.default_rng(4).normal(scale=1e-3, size=(round(seconds * rate_hz), channels))


@pytest.fixture(scope="session")
def played(tmp_path_factory):
    """Write a simulated take on a clean pad and return its file and truth."""
    take = make_take("clean_pad", 12, round_s=20.0)
    path = tmp_path_factory.mktemp("takes") / f"take{take.suffix}"
    path.write_bytes(take.coded)
    return path, take


def _told(take):
    """Return the words that tell of a simulated take."""
    return (
        "--tempo",
        take.tempo_bpm,
        "--per-count",
        take.places_per_count,
        "--hand",
        take.hand,
    )


def test_hearing_loads_no_database_and_no_statistics(held_midi):
    """What hears a take waits for nothing that it does not need."""
    code = (
        "import sys; from loosehand.cli import main; main(sys.argv[1:]); "
        "print(sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    words = ["hear", str(held_midi), *REQUEST]
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True)
    heavy = {"scipy", "sqlalchemy", "alembic", "rich", "mir_eval", "pytest"}
    assert done.stdout.startswith("104 held")
    assert {name for name in heavy if f"'{name}'" in done.stderr} == set()


def test_a_take_held_to_the_end(loosehand, held_midi):
    """A minute of exact sixteenths is held to its end."""
    done = loosehand("hear", held_midi, *REQUEST, "--counts", 104, "--json")
    assert (done.status, done.err) == (0, "")
    assert done.object["count_held"] == 104
    assert done.object["ended"] == "held to the end"
    assert len(done.object["strokes"]) == 416


def test_a_take_that_stops(in_process, stopped_midi):
    """Where the hand stops after 41 counts, 41 were held."""
    done = in_process("hear", stopped_midi, *REQUEST, "--round-s", 60, "--json")
    assert done.status == 0
    assert done.object["count_held"] == 41
    assert done.object["ended"] == "stopped"


def test_the_reading_keeps_to_its_schema(in_process, held_midi, played):
    """What is printed is the object that is documented, for MIDI and for sound."""
    path, take = played
    for words in ((held_midi, *REQUEST), (path, *_told(take))):
        done = in_process("hear", *words, "--json")
        jsonschema.validate(done.object, SCHEMA)


def test_a_simulated_take_is_heard(in_process, played):
    """A take on a clean pad is read within a count of the truth that was planted."""
    path, take = played
    done = in_process("hear", path, *_told(take), "--json")
    assert done.status == 0
    assert abs(done.object["count_held"] - take.performance.count_held) <= 1


def test_words_for_people(loosehand, stopped_midi):
    """Without --json the reading is a paragraph, a table by place and the strokes summed up."""
    done = loosehand("hear", stopped_midi, *REQUEST, "--counts", 104)
    assert done.status == 0
    assert done.out.startswith("41 held of 104")
    assert "Left hand, 104 a minute, 4 places a count" in done.out
    assert "164 strokes from" in done.out
    assert max(map(len, done.out.splitlines())) <= 80


def test_what_was_left_out_is_said(in_process, held_midi):
    """What was assumed stands in the reading, not in silence."""
    done = in_process("hear", held_midi, "--json")
    assumed = " ".join(done.object["quality"]["assumed"])
    for word in ("tempo was not told", "4 places a count", "hand was not told"):
        assert word in assumed
    assert done.object["hand"] is None
    told = in_process("hear", held_midi, *REQUEST, "--json").object["quality"]["assumed"]
    assert not any("not told" in sentence for sentence in told)


def test_the_tempo_is_found(in_process, held_midi):
    """With --tempo auto the tempo comes from the take."""
    done = in_process("hear", held_midi, "--tempo", "auto", "--hand", "left", "--json")
    assert done.status == 0
    assert done.object["tempo_bpm"] == pytest.approx(104, abs=0.1)


def test_chosen_notes_alone_are_heard(in_process, held_midi):
    """Other notes are other instruments."""
    done = in_process("hear", held_midi, *REQUEST, "--note", 38, "--note", 40, "--json")
    assert done.object["count_held"] == 104
    assert in_process("hear", held_midi, *REQUEST, "--note", 42, "--json").refused(2)


def test_where_count_1_is_can_be_told(in_process, tmp_path):
    """A told first count is the first count."""
    late = write_midi(tmp_path / "late.mid", tempo_bpm=120, counts=20, lead_counts=4)
    words = ("--tempo", "120", "--hand", "left", "--first-count-s", "2.0", "--json")
    done = in_process("hear", late, *words)
    assert done.object["first_count_s"] == pytest.approx(2.0, abs=0.01)
    assert done.object["grid_source"] == "told"


def test_many_takes_are_a_line_each(in_process, held_midi, stopped_midi):
    """Many takes come in the order given, a line each."""
    done = in_process("hear", stopped_midi, held_midi, *REQUEST, "--counts", 104)
    assert done.status == 0
    first, second = done.out.splitlines()
    assert first.startswith(f"{stopped_midi}: 41 held of 104")
    assert second.startswith(f"{held_midi}: 104 held of 104, held to the end")


def test_a_bad_file_among_many_stops_none(loosehand, held_midi, tmp_path):
    """The others are read; the bad one is named; the status is the highest."""
    (tmp_path / "text.wav").write_text("this is text")
    files = (tmp_path / "text.wav", held_midi, tmp_path / "none.wav")
    done = loosehand("hear", *files, *REQUEST, "--json", "--workers", 1)
    assert done.status == 3
    (line,) = done.out.splitlines()
    assert json.loads(line)["file"] == str(held_midi)
    assert json.loads(line)["count_held"] == 104
    assert [str(path) in done.err for path in files] == [True, False, True]
    assert done.err.count("\n") == 2


@pytest.mark.parametrize("tempo", ["0", "-5", "1000", "nan", "NaN", "inf", "fast", ""])
def test_a_tempo_that_cannot_be_is_status_2(in_process, held_midi, tempo):
    """A tempo of 0, a negative one, 1000, or none at all is one sentence."""
    done = in_process(
        "hear", held_midi, "--tempo", tempo, "--hand", "both" if not tempo else "left"
    )
    assert done.refused(2)


@pytest.mark.parametrize(
    "words",
    [
        ("--per-count", "0"),
        ("--per-count", "13"),
        ("--per-count", "four"),
        ("--hand", "third"),
        ("--counts", "-1"),
        ("--round-s", "nan"),
        ("--counts", "4", "--round-s", "4"),
        ("--first-count-s", "-3"),
        ("--note", "200"),
        ("--workers", "0"),
    ],
    ids=" ".join,
)
def test_a_request_that_cannot_be_is_status_2(in_process, held_midi, words):
    """Whatever cannot be asked is one sentence."""
    assert in_process("hear", held_midi, "--tempo", "104", *words).refused(2)


def test_a_missing_file_is_one_sentence(loosehand, tmp_path):
    """A file that is not there, or a folder, is named."""
    for path in (tmp_path / "none.m4a", tmp_path):
        done = loosehand("hear", path, *REQUEST)
        assert done.refused(2)
        assert str(path) in done.err


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.wav", b""),
        ("text.wav", b"Dear teacher, here is my take.\n" * 50),
        ("zeros.m4a", bytes(5000)),
        ("head.wav", b"RIFF\x24\x00\x00\x00WAVEfmt "),
        ("head.mid", b"MThd\x00\x00\x00\x06\x00"),
        ("picture.png", b"\x89PNG\r\n\x1a\n" + bytes(200)),
    ],
)
def test_what_is_neither_sound_nor_midi_is_status_3(loosehand, tmp_path, name, content):
    """Empty files, text called .wav and heads without bodies are one sentence."""
    (tmp_path / name).write_bytes(content)
    assert loosehand("hear", tmp_path / name, *REQUEST).refused(3)


def test_a_renamed_file_is_read_by_what_it_holds(in_process, held_midi, played, tmp_path):
    """A wrong ending does not matter."""
    path, take = played
    for source, words in ((held_midi, REQUEST), (path, _told(take))):
        renamed = tmp_path / "take.txt"
        renamed.write_bytes(source.read_bytes())
        with_name = in_process("hear", source, *words, "--json").object
        assert in_process("hear", renamed, *words, "--json").object == with_name


def test_a_truncated_recording_is_read_as_far_as_it_goes(loosehand, tmp_path):
    """A recording that was cut off is read or refused, never a failure of ours."""
    noise = _quiet_noise(5)
    soundfile.write(tmp_path / "whole.wav", noise, RATE_HZ)
    whole = (tmp_path / "whole.wav").read_bytes()
    (tmp_path / "half.wav").write_bytes(whole[: len(whole) // 2])
    done = loosehand("hear", tmp_path / "half.wav", *REQUEST, "--json")
    assert done.status in (0, 4)
    assert any("cut off" in note for note in done.object["quality"]["notes"])


@pytest.mark.parametrize(
    ("channels", "rate_hz"), [(1, 44100), (8, 44100), (1, 8000)], ids=["mono", "8 ch", "8 kHz"]
)
def test_nobody_plays_in_silence(in_process, tmp_path, channels, rate_hz):
    """Silence is read, whatever its channels and rate: nobody plays, nothing was held."""
    path = tmp_path / "silence.wav"
    soundfile.write(path, np.zeros((5 * rate_hz, channels)), rate_hz)
    done = in_process("hear", path, *REQUEST, "--json")
    assert done.status == 4
    assert (done.object["count_held"], done.object["strokes"]) == (0, [])
    jsonschema.validate(done.object, SCHEMA)


def test_nobody_plays_is_said(loosehand, tmp_path):
    """Without --json, too, it is said that nobody plays."""
    soundfile.write(tmp_path / "silence.wav", np.zeros(5 * RATE_HZ), RATE_HZ)
    done = loosehand("hear", tmp_path / "silence.wav", *REQUEST)
    assert done.status == 4
    assert done.out.startswith("Nobody plays.")


def test_a_midi_file_without_notes_is_status_3(in_process, tmp_path):
    """A MIDI file without a single note holds no take."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000, time=0)])
    mido.MidiFile(tracks=[track]).save(tmp_path / "empty.mid")
    done = in_process("hear", tmp_path / "empty.mid", *REQUEST, "--json")
    assert done.refused(3)
    assert "no notes" in done.err


@pytest.mark.skipif(sys.platform != "linux", reason="the peak of memory is read from /proc")
def test_a_recording_of_three_hours_runs_in_bounded_memory(tmp_path):
    """A recorder that was left running takes less than 500 MB, and the reading says how far."""
    minute = np.random.default_rng(1).normal(scale=30, size=RATE_HZ * 60).astype(np.int16)
    path = tmp_path / "long.flac"
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, format="FLAC", subtype="PCM_16") as sound:
        for _ in range(180):
            sound.write(minute)
    code = (
        "import sys; from loosehand.cli import main; status = main(sys.argv[1:]); "
        # Not ru_maxrss, which a child begins with the peak of the process that started it.
        "peak = next(line for line in open('/proc/self/status') if line.startswith('VmHWM')); "
        "print(peak.split()[1], file=sys.stderr); sys.exit(status)"
    )
    words = ["hear", str(path), *REQUEST, "--json"]
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True)
    assert done.returncode in (0, 4)
    assert any("420 s" in note for note in json.loads(done.stdout)["quality"]["notes"])
    assert int(done.stderr) * 1024 < 500e6


PART = """tempo: 104
meter: 4/4
grid: 4
[verse] x26
RH hat   Xxxx xxxx xxxx xxxx
LH snare .... x... .... x...
"""


def test_a_take_is_heard_against_a_part(in_process, held_midi, tmp_path):
    """Tempo, places and hand come from the part; the sentence and the JSON tell of its accents."""
    (tmp_path / "part.txt").write_text(PART)
    done = in_process("hear", held_midi, "--part", "part.txt")
    assert done.status == 0, done.err
    assert done.out.startswith("104 held")
    assert "Accents of the right hand: No accents stand" in done.out
    body = in_process("hear", held_midi, "--part", "part.txt", "--json").object
    jsonschema.validate(body, SCHEMA)
    assert (body["hand"], body["tempo_bpm"]) == ("right", 104.0)
    assert (body["part"]["limb"], body["part"]["accents"]["misses"]) == ("right hand", 26)
    assert body["quality"]["assumed"] == []


def test_accents_of_the_part_are_no_fault_in_the_terminal(in_process, tmp_path):
    """The 1 of every bar is loud because it is asked for: neither words nor JSON name a cure."""
    (tmp_path / "part.txt").write_text(f"{HEAD}[a] x12\nRH hat Xxxx xxxx xxxx xxxx\n")
    write_accents(tmp_path / "take.mid", tuple(range(0, 192, 16)))
    words = ("hear", tmp_path / "take.mid", "--part", "part.txt")
    told = in_process(*words).out
    assert "12 of 12 came" in told
    assert "To try" not in told
    assert "loud." not in told
    body = in_process(*words, "--json").object
    jsonschema.validate(body, SCHEMA)
    assert [fault["kind"] for fault in body["technique"]["faults"]] == ["loud"]
    assert (body["part"]["technique"]["faults"], body["part"]["main_fault"]) == ([], None)
    assert body["part"]["accents"]["untold"] == 0


def test_the_cure_of_missed_accents_is_told_once_in_the_terminal(in_process, tmp_path):
    """With the kind in the JSON."""
    (tmp_path / "part.txt").write_text(TEXT)
    write_accents(tmp_path / "take.mid", set(ACCENTS) - set(ACCENTS[::3]))
    words = ("hear", tmp_path / "take.mid", "--part", "part.txt")
    told = " ".join(in_process(*words).out.split())
    assert told.count("To try: ") == 1
    assert "To try: Lower everything else; do not raise the accents." in told
    body = in_process(*words, "--json").object
    jsonschema.validate(body, SCHEMA)
    assert body["part"]["main_fault"]["kind"] == "accents missed"


def test_a_part_is_heard_slower_and_to_its_end(in_process, tmp_path):
    """A phone's recording at 80 that goes on after the part: the hold is of the part's counts."""
    (tmp_path / "part.txt").write_text(TEXT)
    loud = set(ACCENTS) - {6, 38, 127}
    write_recording(tmp_path / "take.m4a", loud, tempo_bpm=80.0, seed=1)
    words = ("hear", tmp_path / "take.m4a", "--part", "part.txt", "--tempo", "80", "--json")
    told = " ".join(in_process(*words[:-1]).out.split())
    assert "27 of 30 came" in told
    assert "Drive as heard: " in told
    body = in_process(*words).object
    assert (body["counts_offered"], body["count_held"], body["hand"]) == (48, 48, "right")
    assert body["part"]["accents"]["missed_bars"] == [1, 3, 8]
    assert body["part"]["accents"]["hits"] == 27
    longer = in_process(*words, "--counts", "54").object
    assert longer["counts_offered"] == 54
    assert longer["part"]["accents"]["missed_bars"] == [1, 3, 8]


def test_the_limb_is_that_of_the_hand(in_process, tmp_path):
    """The left hand's line is taken where the hand is the left one, and the words say so."""
    (tmp_path / "part.txt").write_text(
        TEXT.replace("RH hat", "LH hat").replace("LH snare", "RH snare")
    )
    write_accents(tmp_path / "take.mid", ACCENTS)
    for words in (("--hand", "left"), ("--limb", "left hand")):
        words = ("hear", tmp_path / "take.mid", "--part", "part.txt", *words)
        assert "Accents of the left hand: 30 of 30 came" in " ".join(in_process(*words).out.split())
        body = in_process(*words, "--json").object
        assert (body["hand"], body["part"]["limb"]) == ("left", "left hand")


def test_a_hold_too_short_for_a_technique_has_no_fault_of_the_part(in_process, tmp_path):
    """The terminal never tells the technique without the part."""
    (tmp_path / "part.txt").write_text(f"{HEAD}[a] x2\nRH hat Xxxx xxxx xxxx xxxx\n")
    write_accents(tmp_path / "take.mid", tuple(range(0, 192, 16)))
    words = ("hear", tmp_path / "take.mid", "--part", "part.txt", "--counts", "48")
    body = in_process(*words, "--json").object
    assert body["technique"]["main_fault"]["kind"] == "loud"
    assert body["part"]["main_fault"] is None
    told = in_process(*words).out
    assert "dB loud" not in told
    assert "To try" not in told


def test_a_part_without_accents_is_heard(in_process, held_midi, tmp_path):
    """The hold is told, and why no accents are."""
    (tmp_path / "part.txt").write_text(PART.replace("X", "x"))
    done = in_process("hear", held_midi, "--part", "part.txt")
    assert done.status == 0
    assert done.out.startswith("104 held")
    assert "asks for no accents" in done.out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--limb", "right hand"), "say --part with --limb"),
        (("--part", "part.txt", "--limb", "nose"), "limb = 'nose'"),
        (("--part", "part.txt", "--limb", "left hand"), "leaves out the first place"),
        (("--part", "none.txt"), "none.txt cannot be read"),
        (("--part", "short.txt"), "short.txt: line 4, column 8: count 1 has 3 places"),
        (("--part", "part.txt", "--per-count", "3"), "per_count = 3"),
        (("--part", "part.txt", "--hand", "alternating"), "left or right"),
        (("--part", "part.txt", "--hand", "left"), "the left hand leaves out the first place"),
        (
            ("--part", "part.txt", "--hand", "left", "--limb", "right hand"),
            "--hand left and --limb 'right hand' contradict each other: say one of them",
        ),
        (
            ("--part", "part.txt", "--hand", "right", "--limb", "left hand"),
            "--hand right and --limb 'left hand' contradict each other: say one of them",
        ),
        (("held.mid", "--part", "part.txt"), "one take"),
    ],
)
def test_a_part_that_cannot_be_heard_is_refused(in_process, held_midi, tmp_path, words, says):
    """One sentence, exit 2."""
    (tmp_path / "part.txt").write_text(PART)
    (tmp_path / "short.txt").write_text(
        "tempo: 104\nmeter: 4/4\ngrid: 4\nRH hat xxx xxxx xxxx xxxx\n"
    )
    done = in_process("hear", held_midi, *words)
    assert done.refused(2)
    assert says in done.err
