"""Run every check and say what came of each; ``python3 check.py`` starts this.

The last line counts the tests. Tests that could not run here are counted aloud before it,
with their reasons, so that nobody takes a skipped test for one that passed.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ElementTree
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
NO_TEST_WAS_COLLECTED = 5
MOST_TEST_PROCESSES = 4
NICENESS = "10"
NAME_COLUMNS = 26
LONGEST_INSTALLING_S = 600
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
CHROMIUM_INSTALLING = (
    ("-qq", "update"),
    ("-qq", "install", "-y", "--no-install-recommends", "chromium"),
)

# One thread a process, for the tests share the cores among themselves; one encoding everywhere.
CHECKING_ENVIRONMENT = {
    "MKL_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "PYTHONUTF8": "1",
}


@dataclass(frozen=True)
class Outcome:
    """What came of one check."""

    name: str
    passed: bool
    duration_s: float

    def line(self) -> str:
        """Return the line that sums it up."""
        word = "passed" if self.passed else "FAILED"
        return f"{self.name:<{NAME_COLUMNS}}{word}  {self.duration_s:6.1f} s"


@dataclass
class Counts:
    """Tests by what came of them, with the reasons of those that did not run."""

    passed: int = 0
    failed: int = 0
    known_disagreements: int = 0
    skip_reasons: Counter[str] = field(default_factory=Counter)

    @property
    def skipped(self) -> int:
        """Number of tests that did not run here."""
        return sum(self.skip_reasons.values())

    def closing_line(self) -> str:
        """Return the line that a run of the checks ends with."""
        return f"tests: {self.passed} passed, {self.failed} failed, {self.skipped} skipped"


def main() -> int:
    """Run all checks.

    Returns
    -------
    status : 0 if all passed, else 1
    """
    python = sys.executable
    outcomes = [
        run_check("lint", [python, "-m", "ruff", "check", "--quiet"]),
        run_check("format", [python, "-m", "ruff", "format", "--check", "--quiet"]),
        run_check("types", [python, "-m", "mypy", "--no-error-summary"]),
        run_check("arrows of the design", [_installed("lint-imports"), "--no-logo"]),
    ]
    ensure_chromium()
    counts = Counts()
    with tempfile.TemporaryDirectory() as folder:
        outcomes += run_tests(Path(folder), counts)
    return report(outcomes, counts)


def run_check(name: str, command: Sequence[str]) -> Outcome:
    """Run a check that is quiet when all is well; show what it says when it is not."""
    started_s = time.monotonic()
    result = subprocess.run(
        command,
        cwd=ROOT,
        env={**os.environ, **CHECKING_ENVIRONMENT},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    outcome = Outcome(name, result.returncode == 0, time.monotonic() - started_s)
    if not outcome.passed:
        print(result.stdout, flush=True)
    print(outcome.line(), flush=True)
    return outcome


def chromium_path() -> str | None:
    """Path of a Chromium for the tests in a browser, None where there is none."""
    found = (shutil.which(name) for name in CHROMIUM_NAMES)
    return next((path for path in found if path), None)


def ensure_chromium() -> None:
    """Install Chromium where it is missing and can be had; without it some tests are skipped."""
    apt, is_root = shutil.which("apt-get"), getattr(os, "geteuid", lambda: 1)() == 0
    if chromium_path() or not apt or not is_root:
        return
    print("Installing Chromium, for the tests in a browser (once) ...", flush=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in CHROMIUM_INSTALLING:
        try:
            done = subprocess.run(
                [apt, *words],
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                encoding="utf-8",
                errors="replace",
                timeout=LONGEST_INSTALLING_S,
                check=False,
            )
        except subprocess.TimeoutExpired:
            print(f"It was not there after {LONGEST_INSTALLING_S} s; going on without it.")
            return
        if done.returncode != 0:
            lines = done.stdout.strip().splitlines() or ["nothing"]
            print(f"It could not be installed; going on without it. The last line: {lines[-1]}")
            return


def run_tests(folder: Path, counts: Counts) -> list[Outcome]:
    """Run the tests, and add to the counts.

    Those that play in real time wait most of it, so they run beside the others, which let them
    go first. Those that measure time run after all others and alone.
    """
    processes = min(os.cpu_count() or 1, MOST_TEST_PROCESSES)
    spread = ["--numprocesses", str(processes), "--dist", "loadgroup"]
    together = ["-m", "not timing and not real_time", *spread]
    played = ["-m", "real_time and not timing", "--numprocesses", "0"]
    alone = ["-m", "timing", "--numprocesses", "0"]
    with ThreadPoolExecutor(max_workers=1) as beside:
        playing = beside.submit(run_pytest, played, folder / "played.xml", said=subprocess.PIPE)
        others = run_pytest(together, folder / "tests.xml", gently=True)
        outcomes = [
            outcome_of_tests("tests", others, counts),
            outcome_of_tests("tests in real time", playing.result(), counts, may_be_empty=True),
        ]
    timed = run_pytest(alone, folder / "timing.xml")
    last = outcome_of_tests("tests that measure time", timed, counts, may_be_empty=True)
    return [*outcomes, last]


@dataclass(frozen=True)
class PytestRun:
    """A run of pytest that is over: its exit status, how long, what it said if that was kept."""

    status: int
    duration_s: float
    said: str | None
    results: Path


def run_pytest(
    words: Sequence[str], results: Path, *, said: int | None = None, gently: bool = False
) -> PytestRun:
    """Run pytest once, showing or keeping what it says; gently, it lets other programs go first."""
    nice = shutil.which("nice") if gently else None
    first = [nice, "-n", NICENESS] if nice else []
    pytest = [sys.executable, "-m", "pytest", "-q", "-rfE", f"--junitxml={results}"]
    started_s = time.monotonic()
    done = subprocess.run(
        [*first, *pytest, *words],
        cwd=ROOT,
        env={**os.environ, **CHECKING_ENVIRONMENT},
        stdout=said,
        stderr=subprocess.STDOUT if said else None,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    return PytestRun(done.returncode, time.monotonic() - started_s, done.stdout, results)


def outcome_of_tests(
    name: str, run: PytestRun, counts: Counts, *, may_be_empty: bool = False
) -> Outcome:
    """Say what came of a run of pytest, and add to the counts."""
    if run.said is not None:
        print(run.said, flush=True)
    before = counts.passed
    if run.results.exists():
        count_tests(run.results.read_text(encoding="utf-8"), counts)
    passed = run.status == 0 or (run.status == NO_TEST_WAS_COLLECTED and may_be_empty)
    if run.status == 0 and not may_be_empty and counts.passed == before:
        passed = False  # a run in which nothing ran shows nothing
    outcome = Outcome(name, passed, run.duration_s)
    print(outcome.line(), flush=True)
    return outcome


def count_tests(results_xml: str, counts: Counts) -> None:
    """Add the tests of a JUnit XML report to the counts.

    A test that passes but whose clearing up fails is listed twice there; it counts as failed.
    """
    suites = ElementTree.fromstring(results_xml)
    seen: dict[tuple[str, str], list[ElementTree.Element]] = {}
    for case in suites.iter("testcase"):
        name = (case.get("classname", ""), case.get("name", ""))
        seen.setdefault(name, []).append(case)
    for cases in seen.values():
        _count_one(cases, counts)


def _count_one(cases: Iterable[ElementTree.Element], counts: Counts) -> None:
    """Add one test, from all that its report says of it."""
    said = [entry for case in cases for entry in case]
    skipped = [entry for entry in said if entry.tag == "skipped"]
    if any(entry.tag in ("failure", "error") for entry in said):
        counts.failed += 1
    elif not skipped:
        counts.passed += 1
    elif skipped[0].get("type") == "pytest.xfail":
        counts.known_disagreements += 1
    else:
        counts.skip_reasons[skipped[0].get("message", "no reason given")] += 1


def report(outcomes: Sequence[Outcome], counts: Counts) -> int:
    """Say what came of everything, skipped tests aloud, the count last."""
    print()
    for outcome in outcomes:
        print(outcome.line())
    if counts.known_disagreements:
        print(f"Known disagreements, listed in the docs: {counts.known_disagreements}")
    if counts.skipped:
        print(f"SKIPPED, so not shown to hold here: {counts.skipped}")
        for reason, times in counts.skip_reasons.most_common():
            print(f"  {times} x {reason}")
    all_passed = all(outcome.passed for outcome in outcomes)
    if not all_passed:
        failed = ", ".join(outcome.name for outcome in outcomes if not outcome.passed)
        print(f"NOT GREEN: {failed}")
    print(counts.closing_line(), flush=True)
    return 0 if all_passed else 1


def _installed(program: str) -> str:
    """Path of a program that was installed beside this Python."""
    found = shutil.which(program, path=str(Path(sys.executable).parent))
    if found is None:
        sys.exit(f"{program} is missing beside {sys.executable}: delete .venv and run check.py.")
    return found


if __name__ == "__main__":
    sys.exit(main())
