"""start.py and check.py as a person runs them."""

import ast
import os
import subprocess
import sys

import pytest

import setup_environment
from tests.project_files import ROOT

SCRIPTS = ("start.py", "check.py")
AS_AN_OLD_PYTHON = """
import runpy, sys
sys.version_info = (3, 10, 4, "final", 0)
sys.argv = [{path!r}]
runpy.run_path({path!r}, run_name="__main__")
"""


@pytest.mark.parametrize("script", SCRIPTS)
def test_an_old_python_is_told_in_one_sentence(script):
    """A Python that is too old ends with one sentence that names both versions."""
    program = AS_AN_OLD_PYTHON.format(path=str(ROOT / script))
    result = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert result.returncode == 1
    assert result.stdout == ""
    assert result.stderr == "Loosehand needs Python 3.11 or newer; this is Python 3.10.\n"


@pytest.mark.parametrize("script", SCRIPTS)
def test_an_old_python_can_read_the_script(script):
    """Nothing in the scripts is newer than Python 3.4, nor than 2.7 where that differs."""
    tree = ast.parse((ROOT / script).read_text(encoding="utf-8"), feature_version=(3, 4))
    newer = (ast.JoinedStr, ast.AnnAssign, ast.Starred, ast.arg, ast.Nonlocal)
    assert not [node for node in ast.walk(tree) if isinstance(node, newer)]


def test_check_takes_no_words():
    """check.py runs every check, so it refuses words, before it sets anything up."""
    result = subprocess.run(
        [sys.executable, str(ROOT / "check.py"), "quick"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 2
    assert result.stderr == "check.py takes no words: it runs every check.\n"


@pytest.fixture
def started(monkeypatch):
    """Return the commands that start would run, with an environment that is already there."""
    commands = []
    monkeypatch.setattr(setup_environment, "ensure_environment", lambda *_, **__: sys.executable)
    monkeypatch.setattr(
        setup_environment, "run_program", lambda command: commands.append(command) or 7
    )
    return commands


def test_without_words_the_demo_starts(started):
    """Plain start.py opens the demo studio in the browser."""
    setup_environment.start([])
    assert started == [[sys.executable, "-m", "loosehand", "serve", "--demo"]]


def test_words_and_exit_status_are_passed_through(started):
    """Words go to the command line as they are, and its exit status comes back."""
    assert setup_environment.start(["hear", "a take.m4a", "--tempo", "104"]) == 7
    assert started[0][1:] == ["-m", "loosehand", "hear", "a take.m4a", "--tempo", "104"]


@pytest.mark.skipif(os.name == "nt", reason="a shell script, for where changes are checked")
def test_the_landing_script_runs_the_checks():
    """The script that guards landing is executable and runs check.py."""
    script = ROOT / ".ci" / "run"
    assert os.access(script, os.X_OK)
    assert script.read_text(encoding="utf-8").rstrip().endswith("exec python3 check.py")
