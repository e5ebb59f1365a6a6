"""The mark of a check from outside, and the page that is written from it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.outside_checks_page import Check, page_text
from tests.project_files import ROOT, TESTS

COMPLETE = 'source="Author (1999), title", locator="table 2", kind="printed"'
CONFTEST = (TESTS / "conftest.py").read_text(encoding="utf-8")
MARK = "@pytest.mark.published({fields})"
EXAMPLE = '''
{mark}
def test_{number}():
    """Something holds."""
'''
INCOMPLETE = (
    ("", "misses source, locator, kind"),
    ('source="a", locator="b"', "misses kind"),
    ('source=" ", locator="b", kind="printed"', "misses source"),
    ('source="a", locator=None, kind="printed"', "misses locator"),
    (COMPLETE.replace("printed", "guessed"), "has kind 'guessed', not one of printed"),
    (COMPLETE + ', page="3"', "has unknown fields page"),
    ('"a", "b", "printed"', "takes named fields only"),
)


def run_with_marks(folder, *marks, place="."):
    """Run pytest, in a project of its own, on tests whose marks have these fields, None for none.

    The tests are test_0, test_1 and so on. No plugin that is installed beside pytest is loaded.
    """
    (folder / place).mkdir(exist_ok=True)
    (folder / "conftest.py").write_text(CONFTEST, encoding="utf-8")
    (folder / "pytest.ini").write_text(
        "[pytest]\naddopts = --strict-markers\nmarkers = published(source, locator, kind): x\n",
        encoding="utf-8",
    )
    tests = [
        EXAMPLE.format(number=number, mark="" if fields is None else MARK.format(fields=fields))
        for number, fields in enumerate(marks)
    ]
    text = "\n".join(["import pytest\n", *tests])
    (folder / place / "test_example.py").write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"]
    environment = {**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=False
    )


def test_a_complete_mark_passes(tmp_path):
    """A mark with source, locator and kind is taken."""
    result = run_with_marks(tmp_path, COMPLETE)
    assert result.returncode == 0, result.stdout + result.stderr
    assert "1 passed" in result.stdout


def test_an_incomplete_mark_stops_the_collection(tmp_path):
    """A mark that leaves something out, or adds something, fails a run that is else complete."""
    result = run_with_marks(tmp_path, INCOMPLETE[0][0], COMPLETE)
    assert result.returncode == pytest.ExitCode.USAGE_ERROR
    assert "passed" not in result.stdout


def test_every_incomplete_mark_says_why(tmp_path):
    """Each mark that leaves something out, or adds something, is named with what is wrong."""
    result = run_with_marks(tmp_path, *(fields for fields, _ in INCOMPLETE), COMPLETE)
    assert result.returncode == pytest.ExitCode.USAGE_ERROR
    assert "passed" not in result.stdout
    said = [line for line in result.stderr.splitlines() if "published mark" in line]
    assert len(said) == len(INCOMPLETE)
    for number, (line, (_, complaint)) in enumerate(zip(said, INCOMPLETE, strict=True)):
        assert f"test_example.py::test_{number}: published mark {complaint}" in line


def test_a_check_from_outside_must_carry_the_mark(tmp_path):
    """A test in the folder of outside checks is refused without the mark."""
    result = run_with_marks(tmp_path, None, place="outside")
    assert result.returncode == pytest.ExitCode.USAGE_ERROR
    assert "must carry a published mark" in result.stderr


def test_elsewhere_a_test_needs_no_mark(tmp_path):
    """A test elsewhere runs without the mark."""
    assert run_with_marks(tmp_path, None).returncode == 0


def test_the_page_lists_cases_once_and_disagreements_openly():
    """Cases of one test become one row; a known disagreement stands in it with its reason."""
    check = Check("tests/a.py", "test_b", "B | b.", "Author (1999)", "eq. 1", "printed", "")
    missed = Check("tests/a.py", "test_c", "C.", "Author (1999)", "eq. 2", "printed", "off by 1")
    text = page_text([check, missed, check])
    assert "| B \\| b. | Author (1999) | eq. 1 | printed | 2 |" in text
    assert "| C. **Known disagreement:** off by 1 | Author (1999) | eq. 2 | printed | 1 |" in text
    assert text.count("## `tests/a.py`") == 1


def test_the_page_of_outside_checks_is_current():
    """docs/outside-checks.md is what the marks of the tests say today."""
    command = [sys.executable, "-m", "tests.outside_checks_page", "--check"]
    result = subprocess.run(command, cwd=Path(ROOT), capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stderr
