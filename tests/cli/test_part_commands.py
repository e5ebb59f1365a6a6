"""The command that tells what a part asks, and the ways of playing it."""

import json
from datetime import UTC, datetime, timedelta
from importlib import resources

import jsonschema
import pytest

from loosehand.parts.text import parse_part
from loosehand.sheets.part_midi import part_from_midi
from loosehand.sheets.part_musicxml import part_from_musicxml
from tests.project_files import ROOT

VALIDATOR = jsonschema.Draft202012Validator(
    json.loads((resources.files("loosehand.studio") / "part.schema.json").read_text("utf-8"))
)
TODAY = datetime.now(UTC).astimezone().date()
TEXT = """title: Slow train
tempo: 104
meter: 4/4
grid: 4
[verse] x30 mf
RH hat   xxxx xxxx xxxx xxxx
LH snare .... x... .... x...
RF kick  x... .... x... ....
"""


@pytest.fixture
def groove(tmp_path):
    """Write a part."""
    (tmp_path / "groove.txt").write_text(TEXT)
    return "groove.txt"


@pytest.fixture
def at(in_process, tmp_path):
    """Fill a studio with some weeks of Ines on the hat; return the words that name it."""
    rows = ["date,player,hand,tempo_bpm,places_per_count,count_held,surface,technique,loudness"]
    for ago in (3, 6, 10, 13, 17):
        day = TODAY - timedelta(days=ago)
        for tempo in range(90, 112, 4):
            held = tempo if tempo < 100 else 150 - tempo
            rows.append(f"{day},Ines,right,{tempo},4,{held},hat,whip fours,medium")
    (tmp_path / "chart.csv").write_text("\n".join(rows) + "\n")
    words = ("--studio", tmp_path / "studio")
    assert in_process("chart-in", "chart.csv", *words).status == 0
    return words


def test_a_part_is_told_without_a_studio(in_process, groove):
    """What it asks and the ways of playing it, for nobody in particular."""
    done = in_process("part", groove)
    assert done.status == 0, done.err
    assert done.out.startswith("Slow train\n")
    assert "The right hand leads: 480 strokes in 1 min 9 s" in done.out
    assert "No technique of this hand was heard" in done.out


def test_the_example_of_the_document_is_so(in_process, tmp_path):
    """The first part of docs/parts.md begins as that page says."""
    blocks = (ROOT / "docs" / "parts.md").read_text(encoding="utf-8").split("```")[1::2]
    shown = next(block for block in blocks if "strokes in" in block).strip()
    (tmp_path / "groove.txt").write_text(blocks[0])
    told = in_process("part", "groove.txt").out
    assert "\n".join(line.rstrip() for line in told.splitlines()).startswith(shown)


def test_a_players_chances_are_told(in_process, groove, at):
    """The technique that was heard is said to be, and its chance comes from the chart."""
    done = in_process("part", groove, "--player", "Ines", "--json", *at).object
    VALIDATOR.validate(done)
    known = [each["technique"] for each in done["ways"] if each["is_known"]]
    assert known == ["whip fours"]
    fours = next(each for each in done["ways"] if each["is_known"])
    assert "30 rounds heard on the hat" in fours["heard"][0]
    assert 0.0 < fours["chance"] < 1.0
    told = " ".join(in_process("part", groove, "--player", "Ines", *at).out.split())
    assert "Slow train, for Ines" in told
    assert "Mixed, against whip fours throughout" in told


def test_the_json_is_as_its_schema_says(in_process, groove):
    """Also for nobody."""
    done = in_process("part", groove, "--json").object
    VALIDATOR.validate(done)
    assert (done["player"], done["title"]) == (None, "Slow train")


def test_the_part_is_written_in_other_formats(in_process, groove, tmp_path):
    """MusicXML and MIDI read back as the same part; sound and notation are what they should be."""
    words = [
        word
        for name in ("musicxml", "midi", "wav", "svg")
        for word in (f"--{name}", tmp_path / f"out.{name}")
    ]
    done = in_process("part", groove, *words)
    assert done.status == 0, done.err
    assert done.out.count("Wrote ") == 4
    part = parse_part(TEXT)
    assert part_from_musicxml((tmp_path / "out.musicxml").read_bytes()) == part
    assert part_from_midi((tmp_path / "out.midi").read_bytes()) == part
    assert (tmp_path / "out.wav").read_bytes()[:4] == b"RIFF"
    assert (tmp_path / "out.svg").read_text().startswith("<svg ")
    again = in_process("part", tmp_path / "out.musicxml", "--json").object
    assert again["demand"] == in_process("part", groove, "--json").object["demand"]


def test_a_file_that_is_there_is_not_written_over(in_process, groove, tmp_path):
    """Unless told so; nothing is printed before."""
    (tmp_path / "out.mid").write_text("mine")
    done = in_process("part", groove, "--midi", "out.mid")
    assert done.refused(2)
    assert "--over" in done.err
    assert (tmp_path / "out.mid").read_text() == "mine"
    assert in_process("part", groove, "--midi", "out.mid", "--over").status == 0
    assert (tmp_path / "out.mid").read_bytes()[:4] == b"MThd"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("tempo: 0\n", "line 1, column"),
        ("", "line 1, column"),
        (TEXT + "LH hat xxxx xxxx xxxx xxxx\n", "line 9"),
        (TEXT.replace("x30", "x9000"), "four hours"),
        (TEXT.replace("x30", "x900000"), "100000"),
    ],
)
def test_a_part_that_cannot_be_is_refused(in_process, tmp_path, text, says):
    """One sentence that names the place, exit 2."""
    (tmp_path / "bad.txt").write_text(text)
    done = in_process("part", "bad.txt")
    assert done.refused(2)
    assert says in done.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("none.txt",), "none.txt cannot be read"),
        (("groove.txt", "--studio", "none"), "--player"),
        (("groove.txt", "--player", "Ines", "--studio", "none"), "none"),
        (("groove.txt", "--svg", "none/out.svg"), "not a place for a file"),
    ],
)
def test_what_cannot_be_is_refused(in_process, groove, words, says):
    """One sentence, exit 2, and no studio is made by looking for one."""
    done = in_process("part", *words)
    assert done.refused(2)
    assert says in done.err


def test_an_unknown_player_is_refused(in_process, groove, at):
    """The studio's players are named."""
    done = in_process("part", groove, "--player", "Otto", *at)
    assert done.refused(2)
    assert "Otto" in done.err
