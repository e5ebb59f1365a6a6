"""The runner of the checks: what it counts, what it says, and when it is green."""

import subprocess
import sys
from collections import Counter

import pytest

from tests import run_every_check
from tests.run_every_check import (
    Counts,
    Outcome,
    PytestRun,
    count_tests,
    outcome_of_tests,
    report,
    run_check,
    run_pytest,
    run_tests,
)

RESULTS = """<testsuites><testsuite>
<testcase classname="a" name="test_1"/>
<testcase classname="a" name="test_2"><failure message="no"/></testcase>
<testcase classname="a" name="test_3"><skipped type="pytest.skip" message="no browser"/></testcase>
<testcase classname="a" name="test_4"><skipped type="pytest.xfail" message="known"/></testcase>
<testcase classname="a" name="test_5"/>
<testcase classname="a" name="test_5"><error message="clearing up failed"/></testcase>
</testsuite></testsuites>"""


def test_tests_are_counted_by_what_came_of_them():
    """Passed, failed, skipped and known disagreements are told apart, each test once."""
    counts = Counts()
    count_tests(RESULTS, counts)
    assert counts == Counts(
        passed=1, failed=2, known_disagreements=1, skip_reasons=Counter({"no browser": 1})
    )


def test_the_last_line_counts_and_skipped_tests_are_said_aloud(capsys):
    """Skipped tests are counted with their reasons, and the count of all comes last."""
    counts = Counts(passed=5, skip_reasons=Counter({"no browser": 2, "no server": 1}))
    assert report([Outcome("tests", True, 1.0)], counts) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "SKIPPED, so not shown to hold here: 3" in lines
    assert "  2 x no browser" in lines
    assert lines[-1] == "tests: 5 passed, 0 failed, 3 skipped"


def test_one_check_that_fails_fails_all(capsys):
    """Any check that fails makes the whole not green, and is named."""
    outcomes = [Outcome("lint", False, 0.1), Outcome("tests", True, 1.0)]
    assert report(outcomes, Counts(passed=1)) == 1
    assert "NOT GREEN: lint" in capsys.readouterr().out


@pytest.mark.parametrize(("status", "shown"), [(0, False), (4, True)])
def test_a_check_speaks_only_when_it_fails(capsys, status, shown):
    """What a check says is shown when it fails, and left out when it passes."""
    command = [sys.executable, "-c", f"print('what is wrong'); raise SystemExit({status})"]
    outcome = run_check("lint", command)
    assert outcome.passed is (status == 0)
    assert ("what is wrong" in capsys.readouterr().out) is shown


@pytest.fixture
def bare_computer(monkeypatch):
    """Return the programs that are run, on a computer with apt-get, without Chromium, as root."""
    ran = []
    programs = {"apt-get": "/usr/bin/apt-get"}

    def run(command, **_):
        ran.append(command)
        return subprocess.CompletedProcess(command, 0, "fine\n")

    monkeypatch.setattr(run_every_check.shutil, "which", programs.get)
    monkeypatch.setattr(run_every_check.subprocess, "run", run)
    monkeypatch.setattr(run_every_check.os, "geteuid", lambda: 0, raising=False)
    return programs, ran


def test_chromium_is_installed_where_it_can_be(bare_computer):
    """Without Chromium, as root, where apt-get is: it is installed, from a fresh list."""
    run_every_check.ensure_chromium()
    assert [command[2] for command in bare_computer[1]] == ["update", "install"]
    assert bare_computer[1][1][-1] == "chromium"


@pytest.mark.parametrize("lacks", ["apt-get", "root", "need"])
def test_chromium_is_not_installed_where_it_cannot_or_need_not_be(
    bare_computer, monkeypatch, capsys, lacks
):
    """Without apt-get, without the right to, or with a browser there, nothing is run or said."""
    programs, ran = bare_computer
    if lacks == "apt-get":
        del programs["apt-get"]
    elif lacks == "root":
        monkeypatch.setattr(run_every_check.os, "geteuid", lambda: 1000, raising=False)
    else:
        programs["chromium-browser"] = "/usr/bin/chromium-browser"
        assert run_every_check.chromium_path() == "/usr/bin/chromium-browser"
    run_every_check.ensure_chromium()
    assert ran == []
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("fails", ["status", "time"])
def test_an_installing_that_fails_is_said_and_gone_on_without(
    bare_computer, monkeypatch, capsys, fails
):
    """Where Chromium cannot be installed, that is said in a line, and the checks go on."""

    def run(command, **_):
        if fails == "time":
            raise subprocess.TimeoutExpired(command, 1)
        return subprocess.CompletedProcess(command, 100, "fine\nE: no such package\n")

    monkeypatch.setattr(run_every_check.subprocess, "run", run)
    run_every_check.ensure_chromium()
    said = capsys.readouterr().out.splitlines()
    assert len(said) == 2
    assert "going on without it" in said[1]
    assert run_every_check.chromium_path() is None


def test_every_test_is_run_once(monkeypatch, tmp_path):
    """Whatever marks of time a test has, one of the runs takes it, and only one."""
    asked = []

    def run(words, results, **_):
        asked.append(words[words.index("-m") + 1])
        return PytestRun(0, 0.1, None, results)

    monkeypatch.setattr(run_every_check, "run_pytest", run)
    run_tests(tmp_path, Counts())
    for marks in ((), ("timing",), ("real_time",), ("timing", "real_time")):
        has = {name: name in marks for name in ("timing", "real_time")}
        assert sum(eval(expression, {}, has) for expression in asked) == 1, marks
    assert asked[-1] == "timing"


@pytest.mark.parametrize("gently", [False, True])
def test_what_pytest_says_can_be_kept(tmp_path, gently):
    """A run beside another one keeps what it says for later, and hands back its exit status."""
    run = run_pytest(["--no-such-word"], tmp_path / "r.xml", said=subprocess.PIPE, gently=gently)
    assert run.status == pytest.ExitCode.USAGE_ERROR
    assert "--no-such-word" in run.said


@pytest.mark.parametrize(
    ("status", "results", "may_be_empty", "passed"),
    [
        (0, RESULTS, False, True),
        (1, RESULTS, False, False),
        (0, None, False, False),
        (0, None, True, True),
        (5, None, False, False),
        (5, None, True, True),
    ],
)
def test_a_run_in_which_nothing_ran_shows_nothing(tmp_path, status, results, may_be_empty, passed):
    """A run is green if its tests were, and if there were any, save where there may be none."""
    path, counts = tmp_path / "results.xml", Counts()
    if results is not None:
        path.write_text(results, encoding="utf-8")
    run = PytestRun(status, 2.5, None, path)
    outcome = outcome_of_tests("tests", run, counts, may_be_empty=may_be_empty)
    assert outcome == Outcome("tests", passed, 2.5)
    assert counts.passed == (0 if results is None else 1)


def test_what_was_kept_is_shown_once_it_is_over(tmp_path, capsys):
    """What a run beside another one said is shown whole, before the line that sums it up."""
    run = PytestRun(0, 2.5, "two dots ..\n", tmp_path / "none.xml")
    outcome_of_tests("tests in real time", run, Counts(), may_be_empty=True)
    said = capsys.readouterr().out
    assert said.index("two dots ..") < said.index("tests in real time")
