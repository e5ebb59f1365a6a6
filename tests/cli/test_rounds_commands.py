"""The command that proposes the rounds of a day."""

import json
from datetime import UTC, datetime, timedelta
from importlib import resources

import jsonschema
import pytest

VALIDATOR = jsonschema.Draft202012Validator(
    json.loads((resources.files("loosehand.studio") / "rounds.schema.json").read_text("utf-8"))
)
TODAY = datetime.now(UTC).astimezone().date()


@pytest.fixture
def at(in_process, tmp_path):
    """Fill a studio with some weeks of Ines; return the words that name it."""
    rows = ["date,player,hand,tempo_bpm,places_per_count,count_held,surface,technique"]
    for ago in (3, 6, 10, 13, 17):
        day = TODAY - timedelta(days=ago)
        for hand, edge in (("left", 88), ("right", 95)):
            for tempo in range(edge - 9, edge + 8, 4):
                held = tempo if tempo < edge else 150 - tempo
                rows.append(f"{day},Ines,{hand},{tempo},4,{held},pad,whip fours")
    (tmp_path / "chart.csv").write_text("\n".join(rows) + "\n")
    words = ("--studio", tmp_path / "studio")
    assert in_process("chart-in", "chart.csv", *words).status == 0
    return words


def test_the_rounds_of_today_are_told(in_process, at):
    """A warm-up first, the weak hand's test, reasons, and how long it takes."""
    done = in_process("rounds", "--player", "Ines", *at)
    assert done.status == 0, done.err
    assert f"Ines on {TODAY}: whip fours, pad" in done.out
    assert "alternating   warm-up" in done.out
    assert "left          test" in done.out
    assert "Left: the week's test, fresh and kept apart" in done.out.replace("\n", " ")
    assert "About 20 minutes, with sound check and rests." in done.out


@pytest.mark.parametrize("words", [(), ("--minutes", "5"), ("--minutes", "any", "--full-ladder")])
def test_the_plan_as_json(in_process, at, words):
    """It is as its schema says, and has the rounds that the table has."""
    done = in_process("rounds", "--player", "Ines", "--json", *words, *at)
    VALIDATOR.validate(done.object)
    assert done.object["rounds"][0]["purpose"] == "warm-up"
    assert done.object["weak"]["hand"] == "left"
    table = in_process("rounds", "--player", "Ines", *words, *at).out
    assert f"{len(done.object['rounds'])}   " in table


def test_time_and_ladder_are_obeyed(in_process, at):
    """Another time brings another length; the full ladder has all its rounds."""
    short = in_process("rounds", "--minutes", 10, "--json", *at).object
    assert short["length_s"]["expected"] == pytest.approx(600.0, abs=60.0)
    words = ("--minutes", "any", "--full-ladder")
    full = in_process("rounds", *words, "--json", *at).object
    assert [each["block"] for each in full["rounds"]].count("ladder") == 17 * 3


def test_after_pain_there_are_no_rounds(in_process, at):
    """Rest, in a sentence; light rounds on request."""
    hurt = ("--hand", "left", "--tempo", 60, "--held", 20, "--feel", "pain", "--day", TODAY)
    assert in_process("write", "--player", "Ines", *hurt, *at).status == 0
    done = in_process("rounds", "--json", "--full-ladder", *at).object
    VALIDATOR.validate(done)
    assert (done["kind_of_day"], done["rest_proposed"], done["rounds"]) == ("pain", True, [])
    assert "A round hurt today or yesterday" in in_process("rounds", *at).out
    light = in_process("rounds", "--json", "--light", *at).object
    assert {each["hand"] for each in light["rounds"]} == {"alternating"}


def test_the_only_player_need_not_be_named(in_process, at):
    """Where there are two, one is to be named."""
    assert in_process("rounds", *at).status == 0
    held = ("--hand", "left", "--tempo", 60, "--held", 20)
    in_process("write", "--player", "Otto", *held, *at)
    done = in_process("rounds", *at)
    assert done.refused(2)
    assert "the studio knows Ines, Otto" in done.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--player", "Maud"), "no player 'Maud'"),
        (("--minutes", "soon"), "minutes = 'soon' is not a number"),
        (("--minutes", "1"), "minutes = 1 cannot be"),
        (("--minutes", "nan"), "minutes = nan cannot be"),
        (("--minutes", "1000"), "minutes = 1000 cannot be"),
    ],
)
def test_what_cannot_be_is_refused(in_process, at, words, says):
    """One sentence, and nothing is printed."""
    done = in_process("rounds", *words, *at)
    assert done.refused(2)
    assert says in done.err


def test_there_is_no_studio(in_process, tmp_path):
    """No studio is made by looking for one."""
    assert in_process("rounds", "--studio", tmp_path / "none").refused(2)
    assert not (tmp_path / "none").exists()
