"""A small studio with pages, for the tests of the pages."""

from datetime import UTC, date, datetime, timedelta
from functools import cache

import pytest
from starlette.testclient import TestClient

from loosehand.cli.hear_commands import hear_told
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.filing import import_rows
from loosehand.studio.round_tags import RoundTags
from loosehand.web import make_app
from tests.blank_studio import database_filled_by, new_studio

NOW = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)


def chart_row(day, *, hand="left", tempo_bpm=100, held=40, player="Nerys", **tags):
    """A round of the small studio."""
    whole = {
        "hand": hand,
        "tempo_bpm": float(tempo_bpm),
        "places_per_count": 4,
        "round_s": 60.0,
        "technique": "whip fours",
        "surface": "pad",
        "loudness": "medium",
        "feel": None,
    } | tags
    return ChartRow(day, None, player, RoundTags(**whole), held, None)


def no_hearing(path, told):
    """Nothing is heard in these tests unless they bring their own ear."""
    raise AssertionError("no take is heard here")


@cache
def small_week():
    """The database of two players with a week of rounds, made once and copied."""
    rows = [
        chart_row(date(2027, 2, 22) + timedelta(days=day), hand=hand, tempo_bpm=tempo, held=held)
        for day in (0, 2, 4)
        for hand in ("left", "right")
        for tempo, held in ((90, 90), (95, 60), (100, 31))
    ]
    rows.append(chart_row(date(2027, 2, 26), player="Tobin", tempo_bpm=80, held=12))
    return database_filled_by(lambda studio: import_rows(studio, rows, now=NOW))


@pytest.fixture
def studio(tmp_path):
    """Two players, a week of rounds, no takes."""
    opened = new_studio(tmp_path / "studio", busy_timeout_s=3.0, database=small_week())
    yield opened
    opened.close()


def client_of(studio):
    """A browser without a screen, on the same site as the pages of a studio; open it with with."""
    app = make_app(studio, hearing=no_hearing, now=lambda: NOW, hosts=frozenset({"testserver"}))
    return TestClient(app, headers={"origin": "http://testserver"}, client=("127.0.0.1", 50000))


@pytest.fixture
def hearing_client(studio):
    """A browser on a studio that hears; it follows no redirection."""
    app = make_app(studio, hearing=hear_told, now=lambda: NOW, hosts=frozenset({"testserver"}))
    here = ("127.0.0.1", 50000)
    return TestClient(
        app, headers={"origin": "http://testserver"}, client=here, follow_redirects=False
    )


@pytest.fixture
def client(studio):
    """A browser without a screen, on the same site as the pages."""
    with client_of(studio) as opened:
        yield opened
