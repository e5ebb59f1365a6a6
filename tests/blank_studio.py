"""A studio for a test, empty or full: its database is made once a process and copied after that.

That the steps make the tables is checked where studios are opened without this (tests/studio,
tests/faults, tests/cli).
"""

import tempfile
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path

from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.database import DATABASE_NAME, open_studio
from loosehand.studio.filing import import_rows
from loosehand.studio.round_tags import RoundTags

TEN_YEARS_DAYS = 3650
TEN_YEARS_LAST = date(2027, 3, 1)
ROUNDS_A_DAY = 10


def new_studio(folder, *, busy_timeout_s, database=None):
    """Open a new studio in a folder: an empty one, or a copy of a database."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    (folder / DATABASE_NAME).write_bytes(blank_database() if database is None else database)
    return open_studio(folder, create=False, busy_timeout_s=busy_timeout_s)


@cache
def blank_database():
    """The database of an empty studio, as bytes."""
    return database_filled_by(lambda _: None)


def database_filled_by(fill):
    """The database of a studio that something was written to, as bytes."""
    with tempfile.TemporaryDirectory() as name:
        studio = open_studio(Path(name), create=True, busy_timeout_s=5.0)
        try:
            fill(studio)
        finally:
            studio.close()
        return (Path(name) / DATABASE_NAME).read_bytes()


@cache
def ten_years_database():
    """The database of ten years of ten rounds a day of one player, Nerys, as bytes."""
    shared = {"places_per_count": 4, "round_s": 60.0, "feel": None}
    kind = {"technique": "whip fours", "surface": "pad", "loudness": "medium"}
    tags = [
        RoundTags(hand=hand, tempo_bpm=tempo_bpm, **shared, **kind)
        for hand in ("left", "right")
        for tempo_bpm in (80.0, 85.0, 90.0, 95.0, 100.0)
    ]
    assert len(tags) == ROUNDS_A_DAY
    rows = [
        ChartRow(TEN_YEARS_LAST - timedelta(days=day), None, "Nerys", each, day % 80, None)
        for day in range(TEN_YEARS_DAYS)
        for each in tags
    ]
    now = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
    return database_filled_by(lambda studio: import_rows(studio, rows, now=now))
