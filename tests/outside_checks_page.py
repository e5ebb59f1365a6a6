"""Write ``docs/outside-checks.md`` from the published marks of the tests.

``python -m tests.outside_checks_page`` writes it, ``--check`` only says whether it is current.
"""

import contextlib
import io
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "outside-checks.md"
MARK_NAME = "published"
NONE_WRITTEN = "No test carries the mark yet.\n"
HEAD = """# What is checked from outside

Written from the marks of the tests by `python -m tests.outside_checks_page`; a test fails when
this page is not current. Every check listed here runs in `python3 check.py`. A disagreement that
is known stays in the tests as an expected failure, and in this table with its reason.

| kind | what it means |
| --- | --- |
| printed | typed from a page; must agree to half a unit of the last printed digit, or say why not |
| reference-run | the result of other software, named with its version |
| analytic | follows from a closed form |
| simulated | a truth that we planted |
| common-practice | a rule of thumb of the trade, with no source |
| from-memory | a value that was not looked up again |
"""


@dataclass(frozen=True, order=True)
class Check:
    """One check from outside, as the page lists it."""

    module: str
    name: str
    claim: str
    source: str
    locator: str
    kind: str
    disagreement: str


class MarkCollector:
    """A pytest plugin that keeps the published marks of what was collected."""

    def __init__(self):
        self.checks = []

    def pytest_collection_finish(self, session):
        """Keep one check for each mark of each test."""
        for item in session.items:
            self.checks += item_checks(item)


def item_checks(item):
    """Return the checks of one test: one for each published mark on it."""
    function = getattr(item, "function", None)
    claim = ((getattr(function, "__doc__", None) or "").strip().splitlines() or [""])[0]
    xfail = item.get_closest_marker("xfail")
    return [
        Check(
            module=Path(item.path).relative_to(ROOT).as_posix(),
            name=getattr(item, "originalname", None) or item.name,
            claim=claim,
            disagreement=str(xfail.kwargs.get("reason", "no reason given")) if xfail else "",
            **{field: str(value) for field, value in mark.kwargs.items()},
        )
        for mark in item.iter_markers("published")
    ]


def collect_checks():
    """Return the checks of all tests, or exit with what stopped the collection.

    Only files that hold the mark's name are collected: no others can carry it.
    """
    collector = MarkCollector()
    said = io.StringIO()
    words = ["--collect-only", "-q", "-p", "no:cacheprovider", f"--rootdir={ROOT}"]
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
        status = pytest.main([*words, *map(str, marked_files())], plugins=[collector])
    if status != pytest.ExitCode.OK:
        sys.exit(said.getvalue())
    return collector.checks


def marked_files():
    """Return the files of tests that hold the name of the mark."""
    tests = sorted((ROOT / "tests").rglob("test_*.py"))
    return [path for path in tests if MARK_NAME in path.read_text(encoding="utf-8")]


def page_text(checks):
    """Return the page as text: a table for each test module, one row for each check."""
    cases = {}
    for check in checks:
        cases[check] = cases.get(check, 0) + 1
    parts = [HEAD]
    for module in sorted({check.module for check in cases}):
        rows = sorted(check for check in cases if check.module == module)
        parts.append(f"## `{module}`\n")
        parts.append("| what holds | source | where in it | kind | cases |")
        parts.append("| --- | --- | --- | --- | --- |")
        parts += [row_text(row, cases[row]) for row in rows]
        parts.append("")
    return "\n".join(parts) if cases else HEAD + "\n" + NONE_WRITTEN


def row_text(check, cases):
    """Return one row of a table."""
    claim = check.claim or f"`{check.name}`"
    if check.disagreement:
        claim = f"{claim} **Known disagreement:** {check.disagreement}"
    cells = (claim, check.source, check.locator, check.kind, str(cases))
    return "| " + " | ".join(" ".join(cell.replace("|", "\\|").split()) for cell in cells) + " |"


def main(words):
    """Write the page, or say whether it is current."""
    text = page_text(collect_checks())
    current = PAGE.exists() and PAGE.read_text(encoding="utf-8") == text
    if "--check" not in words:
        PAGE.write_text(text, encoding="utf-8", newline="\n")
    elif not current:
        sys.exit(
            f"{PAGE.relative_to(ROOT).as_posix()} is not current: "
            "run python -m tests.outside_checks_page with the Python in .venv."
        )


if __name__ == "__main__":
    main(sys.argv[1:])
