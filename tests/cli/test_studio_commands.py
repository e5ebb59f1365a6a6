"""The commands that keep the chart, as anybody would use them."""

import zipfile

import numpy as np
import pytest
import soundfile

from loosehand.studio.chart_csv import read_chart_csv

WRITE = ("write", "--player", "Ines", "--hand", "left", "--tempo", "104")
DAY = ("--day", "2027-03-01")
FILE = ("--player", "Ines", "--hand", "left", "--tempo", "104", *DAY)
CHART = "date,player,hand,tempo_bpm,places_per_count,count_held\n2027-03-01,Ines,left,104,4,41\n"


@pytest.fixture
def at(tmp_path):
    """Return the words that name a studio of the test's own."""
    return ("--studio", tmp_path / "studio")


def _chart(in_process, at):
    """Return the rounds that stand, through the CSV."""
    done = in_process("chart-out", *at)
    assert done.status == 0, done.err
    return read_chart_csv(done.out)


def test_a_number_written_is_shown_and_corrected(in_process, at):
    """Write, look, correct, look again: the person's number stands and both are kept."""
    done = in_process(*WRITE, "--held", 41, "--surface", "pad", *DAY, *at)
    assert (done.status, done.out) == (
        0,
        "Written: 41 of 104 counts, as round 1 of Ines on 2027-03-01.\n",
    )
    assert "41'" in in_process("chart", *at).out
    words = ("--player", "Ines", *DAY, "--order", 1, "--held", 44, "--why", "a chair creaked")
    done = in_process("correct", *words, *at)
    assert "44 stands now; it was 41, which is kept" in done.out
    assert "44'*" in in_process("chart", "--player", "Ines", *at).out
    rounds = " ".join(in_process("chart", "--rounds", *at).out.split())
    assert "corrected" in rounds
    assert "(written 41):" in rounds
    (row,) = _chart(in_process, at)
    assert (row.count_held, row.tags.surface) == (44, "pad")


def test_a_take_is_heard_and_filed(in_process, at, stopped_midi, tmp_path):
    """A take comes onto the chart with its sound, and is heard the same again."""
    done = in_process("file", stopped_midi, *FILE, "--technique", "whip fours", *at)
    assert done.status == 0, done.err
    assert done.out.startswith("41 held of 104")
    assert done.out.endswith("Filed as round 1 of Ines on 2027-03-01.\n")
    (row,) = _chart(in_process, at)
    assert (row.count_held, row.tags.technique) == (41, "whip fours")
    (kept,) = (tmp_path / "studio" / "sound").glob("??/*.mid")
    assert kept.read_bytes() == stopped_midi.read_bytes()
    assert in_process("reread", *at).out == "Heard 1 take again; 0 readings changed.\n"


def test_filing_prints_the_reading_as_json(in_process, at, stopped_midi):
    """With --json the reading alone is printed."""
    done = in_process("file", stopped_midi, *FILE, "--json", *at)
    assert done.object["count_held"] == 41
    assert done.object["counts_offered"] == 104


def test_the_end_can_be_the_players_to_say(in_process, at, stopped_midi):
    """'Stopped by choice' stands on the chart."""
    words = ("--ended", "stopped by choice", "--feel", "tense")
    assert in_process("file", stopped_midi, *FILE, *words, *at).status == 0
    (row,) = _chart(in_process, at)
    assert (row.ended, row.tags.feel) == ("stopped by choice", "tense")


def test_the_sound_is_deleted_and_the_numbers_stay(in_process, at, stopped_midi, tmp_path):
    """The recording goes when it is asked to, the number does not."""
    in_process("file", stopped_midi, *FILE, *at)
    assert in_process("drop-sound", "--player", "Ines", *at).refused(2)
    assert in_process("drop-sound", "--player", "Ines", "--order", 1, *at).refused(2)
    done = in_process("drop-sound", "--player", "Ines", *DAY, "--order", 1, *at)
    assert done.out == "Deleted the sound of 1 take; the numbers stay.\n"
    assert list((tmp_path / "studio" / "sound").glob("??/*")) == []
    assert _chart(in_process, at)[0].count_held == 41
    assert in_process("drop-sound", "--player", "Ines", "--all", *at).refused(2)


@pytest.mark.parametrize(
    ("name", "content", "status"),
    [("text.wav", b"this is text", 3), ("empty.wav", b"", 3), (None, b"", 2)],
)
def test_what_cannot_be_read_makes_no_studio(in_process, at, tmp_path, name, content, status):
    """A file that is no take is refused before anything is made."""
    if name is not None:
        (tmp_path / name).write_bytes(content)
    done = in_process("file", tmp_path / (name or "none.wav"), *FILE, *at)
    assert done.refused(status)
    assert not (tmp_path / "studio").exists()


def test_a_take_in_which_nobody_plays_is_not_filed(in_process, at, tmp_path):
    """Silence is not a round."""
    soundfile.write(tmp_path / "silence.wav", np.zeros(5 * 44100), 44100)
    done = in_process("file", tmp_path / "silence.wav", *FILE, *at)
    assert done.status == 4
    assert "not filed" in done.err
    assert list((tmp_path / "studio" / "sound").glob("??/*")) == []
    assert _chart(in_process, at) == []


@pytest.mark.parametrize(
    "words",
    [
        (*WRITE, "--held", "105"),
        (*WRITE, "--held", "-1"),
        (*WRITE, "--held", "many"),
        (*WRITE, "--held", "4", "--day", "yesterday"),
        (*WRITE, "--held", "4", "--feel", "great"),
        (*WRITE, "--held", "4", "--loudness", "ff"),
        (*WRITE, "--held", "4", "--order", "0"),
        (*WRITE, "--held", "4", "--round-s", "nan"),
        (*WRITE, "--held", "4", "--ended", "not judged"),
        ("write", "--player", " ", "--hand", "left", "--tempo", "104", "--held", "4"),
        ("write", "--player", "I", "--hand", "left", "--tempo", "0", "--held", "4"),
        ("write", "--player", "I", "--hand", "left", "--tempo", "nan", "--held", "4"),
        ("write", "--player", "I", "--hand", "left", "--tempo", "auto", "--held", "4"),
        ("write", "--player", "I", "--hand", "feet", "--tempo", "104", "--held", "4"),
    ],
    ids=lambda words: " ".join(words[-4:]),
)
def test_a_number_that_cannot_be_makes_no_studio(in_process, at, tmp_path, words):
    """What cannot be written is one sentence, and nothing is made."""
    assert in_process(*words, *at).refused(2)
    assert not (tmp_path / "studio").exists()


@pytest.mark.parametrize(
    "words",
    [
        ("chart",),
        ("chart", "--player", "Ines"),
        ("chart-out",),
        ("reread",),
        ("pack", "a.zip"),
        ("drop-sound", "--player", "Ines", "--all"),
        ("correct", "--player", "Ines", "--order", "1", "--held", "1", "--why", "x"),
    ],
    ids=lambda words: words[0],
)
def test_looking_into_no_studio_makes_none(in_process, at, tmp_path, words):
    """Where there is no studio it is said, and none is made."""
    done = in_process(*words, *at)
    assert done.refused(2)
    assert "no studio at" in done.err
    assert not (tmp_path / "studio").exists()


def test_whose_chart_must_be_said_where_there_are_two(in_process, at):
    """One player's chart needs no name; of two, one must be named, and is not mixed up."""
    in_process(*WRITE, "--held", 41, *at)
    in_process("write", "--player", "Tobin", "--hand", "right", "--tempo", "90", "--held", 9, *at)
    done = in_process("chart", *at)
    assert done.refused(2)
    assert "this studio knows Ines, Tobin" in done.err
    assert "Right" not in in_process("chart", "--player", "Ines", *at).out
    assert in_process("chart", "--player", "Otto", *at).refused(2)
    assert in_process("chart", "--player", "Ines", *DAY, *at).refused(2)
    assert in_process("chart", "--player", "Ines", "--rounds", *DAY, *at).refused(2)


def test_a_round_that_is_not_there_cannot_be_corrected(in_process, at):
    """What there is instead is said."""
    in_process(*WRITE, "--held", 41, *DAY, *at)
    words = ("--player", "Ines", *DAY, "--held", "40", "--why", "x")
    done = in_process("correct", *words, "--order", "7", *at)
    assert done.refused(2)
    assert "no round 7 on 2027-03-01; that day has rounds up to 1" in done.err


def test_a_chart_goes_out_and_in(in_process, at, tmp_path):
    """What went out comes in, once, unknown columns and all."""
    (tmp_path / "paper.csv").write_text(
        CHART.replace("held\n", "held,lamp\n").replace("41\n", "41,on\n")
    )
    assert in_process("chart-in", "paper.csv", *at).out == "Took in 1 round.\n"
    again = in_process("chart-in", "paper.csv", *at)
    assert again.out == "Took in 0 rounds; 1 were there already.\n"
    assert in_process("chart-out", "out.csv", *at).status == 0
    (row,) = read_chart_csv((tmp_path / "out.csv").read_text(encoding="utf-8"))
    assert (row.count_held, row.extra) == (41, {"lamp": "on"})
    assert in_process("chart-out", "out.csv", *at).refused(2)
    assert in_process("chart-out", "out.csv", "--over", "--player", "Ines", *at).status == 0
    assert in_process("chart-out", "no/such/folder.csv", *at).refused(2)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "lacks the columns date"),
        (b"a,b\n1,2\n", "lacks the columns date"),
        (CHART.replace("count_held", "counts").encode(), "lacks the column count_held"),
        (CHART.replace(",104,", ",NaN,").encode(), "line 2"),
        (CHART.replace("Ines", "In\xe9s").encode("latin-1"), "not UTF-8"),
        (CHART.encode() + b"2027-03-01,Ines,left,104,4,999\n", "line 3"),
        (None, "cannot be read"),
    ],
)
def test_a_wrong_chart_makes_no_studio(in_process, at, tmp_path, content, says):
    """A chart with wrong columns or cells is one sentence; none of it is taken in."""
    if content is not None:
        (tmp_path / "chart.csv").write_bytes(content)
    done = in_process("chart-in", "chart.csv", *at)
    assert done.refused(2)
    assert says in done.err
    assert not (tmp_path / "studio").exists()


def test_a_chart_without_rounds_changes_nothing(in_process, at, tmp_path):
    """A header alone is no mistake."""
    (tmp_path / "chart.csv").write_text(CHART.splitlines()[0] + "\n")
    assert in_process("chart-in", "chart.csv", *at).out.startswith("The chart holds no rounds")
    assert not (tmp_path / "studio").exists()


def test_a_studio_is_packed_and_unpacked_equal(in_process, at, stopped_midi, tmp_path):
    """All of a studio goes through one file and is the same again."""
    in_process(*WRITE, "--held", 41, *DAY, *at)
    in_process("file", stopped_midi, *FILE, *at)
    assert in_process("pack", "a.zip", *at).out.startswith("Packed 6 rows and 1 take file into")
    assert in_process("pack", "a.zip", *at).refused(2)
    other = ("--studio", tmp_path / "other")
    assert in_process("unpack", "a.zip", *other).out.startswith("Unpacked 6 rows and 1 take file")
    assert in_process("chart-out", *other).out == in_process("chart-out", *at).out
    assert in_process("reread", *other).out == "Heard 1 take again; 0 readings changed.\n"
    assert in_process("unpack", "a.zip", *other).refused(2)


def test_a_wrong_archive_makes_no_studio(in_process, at, tmp_path):
    """What is no archive of ours is refused before anything is made."""
    (tmp_path / "text.zip").write_text("not a zip")
    with zipfile.ZipFile(tmp_path / "evil.zip", "w") as archive:
        archive.writestr("../evil", "x")
    for name in ("text.zip", "evil.zip", "none.zip"):
        assert in_process("unpack", name, *at).refused(2)
    assert not (tmp_path / "studio").exists()


def test_pain_shows_the_cautions(in_process, at):
    """Who writes pain is told to stop."""
    done = in_process(*WRITE, "--held", 9, "--feel", "pain", *at)
    assert "means stop" in done.out
    assert "not medical advice" in done.out
    assert "means stop" not in in_process(*WRITE, "--held", 9, "--feel", "loose", *at).out


def test_the_chart_help_shows_the_caution(in_process):
    """The caution is where one looks before playing."""
    help_text = " ".join(in_process("chart", "--help").out.split())
    assert "Pain, tingling, numbness or weakness means stop" in help_text


def test_the_demo_shows_it_all(in_process, at):
    """The demo hears a take, shows a chart of heard and written numbers, and what to try next."""
    done = in_process("demo", *at)
    assert done.status == 0, done.err
    for word in (
        "Nobody in it is real",
        "heard just now",
        " held",
        "Chart of Nerys",
        "' written by hand",
        "Try next",
        "means stop",
    ):
        assert word in done.out, word
    rounds = in_process("chart", "--player", "Nerys", "--rounds", *at).out
    assert rounds.count("heard") == 3
    again = in_process("demo", *at)
    assert again.status == 0
    assert again.out == done.out
