"""The command that scores forecasts, beside the pages."""

import time
from datetime import timedelta

import pytest
from starlette.testclient import TestClient

from loosehand.studio.filing import import_rows
from loosehand.studio.reach_store import reach_of
from loosehand.web import make_app, refit_beside
from loosehand.web.refit_beside import RefitBeside, refit_command
from tests.web.conftest import NOW, chart_row, no_hearing

TODAY = NOW.date()
LONGEST_S = 60.0


@pytest.fixture
def beside(studio):
    """Return what runs the command for the small studio; ended with the test."""
    opened = RefitBeside(studio.folder)
    yield opened
    opened.close()


@pytest.fixture
def slow(monkeypatch):
    """Run a command that takes long in place of the real one."""
    words = [refit_beside.sys.executable, "-c", "import time; time.sleep(600)"]
    monkeypatch.setattr(refit_beside, "refit_command", lambda folder, *, today: words)


def test_forecasts_are_scored_beside_the_pages(studio, beside):
    """Once the command has ended the record is there; it runs once a day."""
    rows = [
        chart_row(TODAY - timedelta(days=28 - 3 * day), tempo_bpm=tempo, held=held)
        for day in range(8)
        for tempo, held in ((90, 90), (95, 95 if day % 2 else 60), (100, 31))
    ]
    import_rows(studio, rows, now=NOW)
    assert beside.ask(today=TODAY)
    assert beside.wait(longest_s=LONGEST_S) == 0
    left = reach_of(studio, "Nerys", today=TODAY)[0]
    assert left.record.origins >= 2
    assert not beside.ask(today=TODAY)
    assert beside.ask(today=TODAY + timedelta(days=1))


def test_it_never_runs_twice_at_once_and_never_waits(slow, beside):
    """While it runs it is not begun again, whatever day it is; closing ends it at once."""
    begin = time.perf_counter()
    assert beside.ask(today=TODAY)
    assert not beside.ask(today=TODAY + timedelta(days=1))
    beside.close()
    assert beside.wait(longest_s=1.0) != 0
    assert time.perf_counter() - begin < 5.0
    assert not beside.ask(today=TODAY + timedelta(days=2))


def test_what_cannot_be_begun_is_let_be(monkeypatch, beside):
    """Without the program there is no record, and no error either."""
    monkeypatch.setattr(refit_beside.sys, "executable", "/none/such")
    assert not beside.ask(today=TODAY)
    assert beside.wait(longest_s=1.0) is None


def test_it_says_which_studio_and_day(tmp_path):
    """One process, the folder, the day of the pages."""
    words = refit_command(tmp_path, today=TODAY)
    assert words[1:4] == ["-m", "loosehand", "refit"]
    assert words[4:] == ["--studio", str(tmp_path), "--day", "2027-03-01", "--workers", "1"]


def test_the_pages_begin_it_and_end_it(studio, slow):
    """It begins when the app does, again on a look at a reach of another day, and ends with it."""
    asked, beside = [], RefitBeside(studio.folder)
    real = beside.ask
    beside.ask = lambda *, today: asked.append(today) or real(today=today)
    app = make_app(
        studio,
        hearing=no_hearing,
        now=lambda: NOW,
        hosts=frozenset({"testserver"}),
        refit=beside,
    )
    with TestClient(app, client=("127.0.0.1", 50000)) as client:
        assert asked == [TODAY]
        assert client.get("/reach/Nerys").status_code == 200
        assert asked == [TODAY, TODAY]
        assert beside._process.poll() is None
    assert beside._process.poll() is not None
