"""An empty studio for a test: its tables are made once a process and copied after that.

That the steps make the tables is checked where studios are opened without this (tests/studio,
tests/faults, tests/cli).
"""

import tempfile
from functools import cache
from pathlib import Path

from loosehand.studio.database import DATABASE_NAME, open_studio


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
