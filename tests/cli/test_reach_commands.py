"""The commands that tell what a hand can hold."""

import json
import re
from importlib import resources

import jsonschema
import pytest

from loosehand.studio import reach_hands, reach_work

HEAD = "date,player,hand,surface,tempo_bpm,places_per_count,count_held\n"
VALIDATOR = jsonschema.Draft202012Validator(
    json.loads((resources.files("loosehand.reach") / "reach.schema.json").read_text("utf-8"))
)


def lines(player="Ines", hand="left", *, days=range(1, 13)):
    """Return lines of a chart: 90 held, 100 nearly, 110 lost soon."""
    return "".join(
        f"2027-02-{day:02d},{player},{hand},pad,{tempo},4,{held}\n"
        for day in days
        for tempo, held in ((90, 90), (100, 50 + day), (110, 10 + day))
    )


@pytest.fixture
def chart(tmp_path):
    """Write a chart of two players."""
    path = tmp_path / "chart.csv"
    path.write_text(HEAD + lines() + lines("Otto", "right"))
    return path


def test_a_chart_is_told_as_json(in_process, chart):
    """One object, as the schema says it, with an entry for every hand."""
    done = in_process("reach", "--chart", chart, "--json")
    assert (done.status, done.err) == (0, "")
    VALIDATOR.validate(done.object)
    assert done.object["as_of"] == "2027-02-12"
    assert [(hand["player"], hand["hand"]) for hand in done.object["hands"]] == [
        ("Ines", "left"),
        ("Otto", "right"),
    ]
    assert 90.0 < done.object["hands"][0]["tempo_held_bpm"]["60"]["median"] < 100.0


def test_a_chart_is_told_in_words(in_process, chart):
    """A table for each player, a line for each hand, and only those asked for."""
    done = in_process("reach", "--chart", chart)
    assert done.status == 0
    assert "Reach of Ines on 2027-02-12" in done.out
    assert "right, 36 rounds" in done.out
    done = in_process("reach", "--chart", chart, "--player", "Otto", "--hand", "right")
    assert "Ines" not in done.out


def test_the_studio_is_told(in_process, chart, tmp_path):
    """Without a chart the studio's is told, the same as from the file."""
    at = ("--studio", tmp_path / "studio")
    assert in_process("chart-in", chart, *at).status == 0
    told = in_process("reach", "--json", "--player", "Ines", *at).object
    assert told == in_process("reach", "--chart", chart, "--json", "--player", "Ines").object


def test_stored_fits_are_used_for_the_studio(in_process, chart, tmp_path, monkeypatch):
    """The second time no hand is fitted; with --as-of, or from a file, hands are."""
    at = ("--studio", tmp_path / "studio")
    assert in_process("chart-in", chart, *at).status == 0
    first = in_process("reach", "--json", *at)

    fitted, fit_job = [], reach_hands.fit_job

    def noted(job):
        fitted.append(job.player)
        return fit_job(job)

    for module in (reach_work, reach_hands):
        monkeypatch.setattr(module, "fit_job", noted)
    again = in_process("reach", "--json", *at)
    assert again.object == first.object
    only = in_process("reach", "--json", "--player", "Otto", "--hand", "right", *at).object
    assert [hand["player"] for hand in only["hands"]] == ["Otto"]
    assert fitted == []
    assert in_process("reach", "--as-of", "2027-02-12", "--workers", 1, *at).status == 0
    assert fitted == ["Ines", "Otto"]


def test_a_player_of_long_ago_is_told_of_the_own_last_day(in_process, tmp_path):
    """In the studio each player is told of the own last days; a note names an older one."""
    path, at = tmp_path / "chart.csv", ("--studio", tmp_path / "studio")
    path.write_text(HEAD + lines() + lines("Otto").replace("2027-", "2026-"))
    assert in_process("chart-in", path, *at).status == 0
    told = in_process("reach", "--json", *at).object
    VALIDATOR.validate(told)
    assert told["as_of"] == "2027-02-12"
    otto = next(hand for hand in told["hands"] if hand["player"] == "Otto")
    assert any("it is told of 2026-02-12" in note for note in otto["notes"])
    words = ("--tempo", 96, "--for", 60, "--target-by", "2027-12-01")
    asked = in_process("reach", "--json", *words, *at).object
    assert [("target" in hand) for hand in asked["hands"]] == [True, False]


def test_a_tempo_and_a_time_are_answered(in_process, chart):
    """The chance of holding, and with a day that of getting there."""
    words = ("--tempo", 96, "--for", 60, "--target-by", "2027-12-01")
    done = in_process("reach", "--chart", chart, "--json", *words)
    VALIDATOR.validate(done.object)
    hand = done.object["hands"][0]
    assert 0.0 < hand["chance"]["probability"] < 1.0
    assert hand["target"]["by"] == "2027-12-01"
    assert "for 60 s" in in_process("reach", "--chart", chart, *words).out


def test_later_rounds_are_left_out(in_process, chart):
    """A day in the past is told from what was there, and a note says what was not."""
    done = in_process("reach", "--chart", chart, "--json", "--as-of", "2027-02-06")
    hand = done.object["hands"][0]
    assert (done.object["as_of"], hand["rounds"]) == ("2027-02-06", 18)
    assert "18 rounds after 2027-02-06 left out." in hand["notes"]


@pytest.mark.parametrize(
    "rows",
    [
        "2027-02-01,Ines,left,pad,104,4,41\n",
        "2027-02-01,Ines,left,pad,104,4,104\n",
        "2027-02-01,Ines,left,pad,104,4,0\n",
        lines(days=range(1, 4)).replace("2027", "2023") + lines(days=range(1, 2)),
        lines() + lines().replace(",pad,", ",hat,"),
        lines() + "2029-01-01,Ines,left,pad,104,4,41\n",
    ],
    ids=["one", "held", "not a count", "years between", "two surfaces", "a day far ahead"],
)
def test_a_chart_of_any_kind_is_answered(in_process, tmp_path, rows):
    """One round, all held, nothing held, years between, another surface: there is an answer."""
    path = tmp_path / "chart.csv"
    path.write_text(HEAD + rows)
    done = in_process("reach", "--chart", path, "--json")
    assert done.status == 0, done.err
    VALIDATOR.validate(done.object)
    assert in_process("reach", "--chart", path).status == 0


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--player", "Nobody"), "no player 'Nobody'"),
        (("--hand", "alternating"), "no round of hand 'alternating'"),
        (("--hand", "both"), "hand = 'both' is not known"),
        (("--as-of", "2020-01-01"), "up to 2020-01-01"),
        (("--as-of", "yesterday"), "is not a day"),
        (("--tempo", "104"), "say both"),
        (("--for", "60"), "say both"),
        (("--target-by", "2027-12-01"), "say both"),
        (("--tempo", "1000", "--for", "60"), "is not a tempo"),
        (("--tempo", "104", "--for", "long"), "is not a number of seconds"),
        (("--tempo", "104", "--for", "0"), "for = 0 cannot be"),
        (("--tempo", "104", "--for", "60", "--target-by", "2027-01-01"), "within a year"),
        (("--tempo", "104", "--for", "60", "--target-by", "2031-01-01"), "within a year"),
        (("--studio", "here"), "not both"),
        (("--workers", "0"), "workers = 0"),
    ],
)
def test_what_cannot_be_is_refused(in_process, chart, words, sentence):
    """One sentence says what is wrong; nothing is printed."""
    done = in_process("reach", "--chart", chart, *words)
    assert done.refused(2), done
    assert sentence in done.err


@pytest.mark.parametrize("text", ["", HEAD, HEAD + "2027-02-01,Ines,left,pad,104,4,400\n"])
def test_a_chart_that_is_none_is_refused(in_process, tmp_path, text):
    """An empty file, a chart without rounds, a count that cannot be."""
    path = tmp_path / "chart.csv"
    path.write_text(text)
    assert in_process("reach", "--chart", path, "--json").refused(2)


def test_no_studio_and_no_file_are_refused(in_process, tmp_path):
    """A studio or a chart that is not there is one sentence."""
    assert in_process("reach", "--studio", tmp_path / "none").refused(2)
    assert in_process("reach", "--chart", tmp_path / "none.csv").refused(2)


def test_hands_are_fitted_once(in_process, chart, tmp_path):
    """Refit says what it did and how long it took; said again there is nothing to do."""
    at = ("--studio", tmp_path / "studio", "--day", "2027-02-16", "--workers", 1)
    assert in_process("chart-in", chart, *at[:2]).status == 0
    done = in_process("refit", "--no-record", *at)
    assert done.status == 0, done.err
    assert re.fullmatch(
        r"Fitted 2 of 2 hands of 2 players, and scored the forecasts of 0 weeks, in [0-9.]+ s\.\n",
        done.out,
    )
    assert in_process("refit", *at).out.startswith("Fitted 0 of 2 hands of 2 players, and scored")
    assert "forecasts of 0 weeks" in in_process("refit", *at).out


@pytest.mark.parametrize("words", [("--workers", "0"), ("--day", "soon"), ()])
def test_a_refit_that_cannot_be_is_refused(in_process, tmp_path, words):
    """No workers, no day, no studio."""
    assert in_process("refit", "--studio", tmp_path / "none", *words).refused(2)
