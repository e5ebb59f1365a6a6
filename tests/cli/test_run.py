"""Running commands: help, statuses, whatever goes wrong."""

import os
import re
import subprocess
import sys
import time

import pytest
import typer

from loosehand import __version__
from loosehand.cli import main
from loosehand.cli.run import app
from loosehand.errors import (
    BadTempo,
    DiskFull,
    NeedsMigration,
    StudioLocked,
    TooFewStrokes,
    UnreadableAudio,
)
from tests.project_files import ROOT

COMMANDS = tuple(command.name for command in app.registered_commands)


def _fail_with(monkeypatch, error):
    """Have every opening of a studio fail with an error."""

    def fail(*_, **__):
        raise error

    monkeypatch.setattr("loosehand.studio.database.open_studio", fail)


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (BadTempo("wrong"), 2),
        (UnreadableAudio("wrong"), 3),
        (TooFewStrokes("wrong"), 0),
        (StudioLocked("wrong"), 2),
        (DiskFull("wrong"), 2),
        (NeedsMigration("wrong"), 2),
        (KeyError("wrong"), 1),
        (OSError("wrong"), 1),
        (MemoryError("wrong"), 1),
        (KeyboardInterrupt("wrong"), 130),
    ],
)
def test_every_error_is_a_sentence_and_a_status(monkeypatch, capsys, error, status):
    """Whatever happens is one sentence, and its status is that of the table."""
    _fail_with(monkeypatch, error)
    assert main(["chart"]) == status
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert ("broken off" if status == 130 else "wrong") in err


def test_what_was_not_foreseen_is_named(monkeypatch, capsys):
    """An error of our own making says what kind it is, without a traceback."""
    _fail_with(monkeypatch, ZeroDivisionError("somewhere"))
    main(["chart"])
    assert capsys.readouterr().err == (
        "loosehand: something unforeseen happened (ZeroDivisionError: somewhere)\n"
    )


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["nonsense"], "No such command 'nonsense'"),
        (["hear"], "Missing argument 'FILE...'"),
        (["hear", "a.wav", "--loudly"], "No such option: --loudly"),
        (["hear", "a.wav", "--tempo"], "--tempo"),
        (["write", "--player", "Ines"], "Missing option"),
        (["chart", "extra"], "unexpected extra argument"),
    ],
)
def test_words_that_are_not_known_are_one_sentence(capsys, words, says):
    """A command that cannot be understood says why and where help is."""
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert says in err
    assert "loosehand --help" in err


@pytest.mark.parametrize("words", [[], ["--help"]])
def test_the_help_names_every_command_on_a_line(capsys, words):
    """Every command is there with its whole first sentence."""
    assert main(words) == 0
    out = capsys.readouterr().out
    for name in COMMANDS:
        assert re.search(rf"^  {name} .*[.]$", out, re.MULTILINE), name
    assert "..." not in out.split("Commands:")[1]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(capsys, name):
    """The help of a command says what each option is for."""
    assert main([name, "--help"]) == 0
    out = capsys.readouterr().out
    assert out.startswith(f"Usage: loosehand {name}")
    silent = [
        line for line in out.splitlines() if re.fullmatch(r"  --[a-z-]+( <[a-z]+>)?\s*", line)
    ]
    assert silent == []


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_option_is_in_the_document(name):
    """The page of the command line leaves nothing out."""
    page = (ROOT / "docs" / "command-line.md").read_text(encoding="utf-8")
    assert f"loosehand {name}" in page
    command = typer.main.get_command(app).commands[name]
    options = [option for parameter in command.params for option in parameter.opts]
    missing = [
        option
        for option in options
        if option.startswith("--") and option != "--help" and f"`{option}" not in page
    ]
    assert missing == []


def test_the_version_is_printed(capsys):
    """The version is that of the package."""
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"{__version__}\n"


def test_the_help_loads_nothing_heavy():
    """Neither numbers nor database, sound nor tables are loaded to show the help."""
    code = (
        "import sys; from loosehand.cli import main; main(['--help']); "
        "print(sorted({name.split('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    heavy = {"numpy", "scipy", "sqlalchemy", "alembic", "av", "soundfile", "mido", "rich"}
    assert {name for name in heavy if f"'{name}'" in done.stderr} == set()


@pytest.mark.timing
def test_the_help_comes_at_once():
    """The help is there within 0.4 s, the start of Python included (best of five)."""
    command = [sys.executable, "-m", "loosehand", "--help"]
    times = []
    for _ in range(5):
        began = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True)
        times.append(time.perf_counter() - began)
    assert min(times) <= 0.4


def test_a_reader_that_goes_away_is_no_error(tmp_path):
    """Piping into something that stops reading ends quietly."""
    chart = tmp_path / "chart.csv"
    line = "2027-03-01,Ines,left,104,4,41\n"
    chart.write_text("date,player,hand,tempo_bpm,places_per_count,count_held\n" + line * 5000)
    studio = tmp_path / "studio"
    assert main(["chart-in", str(chart), "--studio", str(studio)]) == 0
    command = [sys.executable, "-m", "loosehand", "chart-out", "--studio", str(studio)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout.readline().startswith(b"date,order")
        process.stdout.close()
        assert process.wait(timeout=60) == 0
        assert process.stderr.read() == b""


@pytest.mark.skipif(os.name != "posix", reason="encodings of a terminal are set otherwise here")
def test_a_poor_terminal_gets_question_marks_not_a_failure(tmp_path):
    """A name that the terminal cannot show does not stop the command."""
    write = ["write", "--player", "Inés", "--hand", "left", "--tempo", "104", "--held", "41"]
    studio = ["--studio", str(tmp_path / "studio")]
    done = subprocess.run(
        [sys.executable, "-m", "loosehand", *write, *studio],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
        check=True,
    )
    assert b"In?s" in done.stdout
    assert done.stderr == b""
