"""Open a studio: a folder with an embedded database and the sound beside it.

The folder holds ``studio.sqlite3`` and ``sound/`` (see ``loosehand.studio.sound``). Opening
brings an older database up to date and refuses a newer one. One transaction is one act of the
person's: ``Studio.act`` writes all of it or nothing.
"""

import errno
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session
from sqlalchemy.pool import NullPool

from loosehand.errors import DiskFull, NeedsMigration, NotFound, StoreError, StudioLocked

__all__ = ["DATABASE_NAME", "REVISION", "Studio", "default_folder", "open_studio", "store_errors"]

DATABASE_NAME = "studio.sqlite3"
REVISION = "0007"
"""The revision that this version of Loosehand reads and writes."""

_NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_LITTLE_ROOM_BYTES = 1_000_000


@dataclass(frozen=True)
class Studio:
    """An open studio.

    Attributes
    ----------
    folder : where the database and the sound lie
    engine : the database
    """

    folder: Path
    engine: Engine

    @contextmanager
    def act(self) -> Iterator[Session]:
        """One act that writes: all of it is kept, or nothing.

        Raises
        ------
        StudioLocked     if another program holds the database
        DiskFull         if there is no room
        StoreError       if the database fails in another way
        """
        engine = self.engine.execution_options(act=True)
        with store_errors(self.folder), Session(engine) as session, session.begin():
            session.connection()
            yield session

    @contextmanager
    def look(self) -> Iterator[Session]:
        """One consistent look that writes nothing. Raises as ``act``."""
        with store_errors(self.folder), Session(self.engine) as session:
            yield session

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def default_folder() -> Path:
    """Where the studio lies unless told otherwise: the platform's folder for a user's data."""
    from platformdirs import user_data_path

    return user_data_path("loosehand", appauthor=False) / "studio"


def open_studio(folder: Path, *, create: bool, busy_timeout_s: float) -> Studio:
    """Open the studio in a folder, bringing its database up to date.

    Parameters
    ----------
    folder : the studio's folder
    create : make the studio if there is none
    busy_timeout_s : how long to wait for another program to let go of the database

    Raises
    ------
    NotFound         if there is no studio and none is to be made
    NeedsMigration   if the database was made by a newer version
    StudioLocked     if another program holds the database
    DiskFull         if there is no room
    StoreError       if the folder or the database cannot be used
    """
    path = folder / DATABASE_NAME
    with store_errors(folder):
        if not create and not path.exists():
            raise NotFound(
                f"there is no studio at {folder} yet: file a take or write a number first"
            )
        if create:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        studio = Studio(folder, _engine(path, busy_timeout_s=busy_timeout_s))
        try:
            _bring_up_to_date(studio.engine, folder)
        except BaseException:
            studio.close()
            raise
    return studio


@contextmanager
def store_errors(folder: Path) -> Iterator[None]:
    """Turn what the disk or the database says into one sentence of ours."""
    try:
        yield
    except OSError as error:
        raise _from_disk(error, folder) from error
    except (DBAPIError, sqlite3.Error) as error:
        raise _from_database(error, folder) from error


def _from_disk(error: OSError, folder: Path) -> StoreError:
    """Say what the disk said."""
    if error.errno in _NO_ROOM:
        return DiskFull(_no_room(folder))
    where = error.filename if error.filename is not None else folder
    return StoreError(f"the studio cannot use {where}: {error.strerror or error}")


def _from_database(error: DBAPIError | sqlite3.Error, folder: Path) -> StoreError:
    """Say what the database said."""
    said = str(error.orig if isinstance(error, DBAPIError) else error)
    if "is full" in said or ("I/O error" in said and _little_room(folder)):
        return DiskFull(_no_room(folder))
    if "locked" in said or "busy" in said:
        return StudioLocked(
            f"the studio at {folder} is held by another program: close it there and try again"
        )
    if "not a database" in said or "malformed" in said:
        return StoreError(f"{folder / DATABASE_NAME} is damaged or is not a studio's database")
    if "unable to open" in said or "readonly" in said:
        return StoreError(f"the studio at {folder} cannot be opened for writing: {said}")
    return StoreError(f"the studio at {folder} could not be used: {said}")


def _no_room(folder: Path) -> str:
    """Return the sentence for a full disk."""
    return f"the disk that holds {folder} is full: make room and try again; nothing was changed"


def _little_room(folder: Path) -> bool:
    """Whether the disk is as good as full."""
    try:
        return shutil.disk_usage(folder).free < _LITTLE_ROOM_BYTES
    except OSError:
        return False


def _engine(path: Path, *, busy_timeout_s: float) -> Engine:
    """Make the engine: WAL, foreign keys on, transactions begun by us and not by the driver."""
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        connect_args={"timeout": busy_timeout_s},
        poolclass=NullPool,
    )
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _prepare(connection: sqlite3.Connection, _record: Any) -> None:
    """Set a new connection up."""
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys = ON")
    if connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        connection.execute("PRAGMA journal_mode = WAL")


def _begin(connection: Connection) -> None:
    """Begin: an act takes the right to write at once, so that it cannot lose it half-way."""
    act = connection.get_execution_options().get("act", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if act else "BEGIN")


def _bring_up_to_date(engine: Engine, folder: Path) -> None:
    """Run the steps that the database lacks; refuse one that is ahead of us."""
    with engine.connect() as connection:
        if _revision(connection, folder) == REVISION:
            return
    with engine.execution_options(act=True).connect() as connection:
        # A step may make a table anew: that must not count as deleting what others point to.
        connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
        with connection.begin():
            if _revision(connection, folder) != REVISION:
                _upgrade(connection)
                _check_foreign_keys(connection, folder)


def _check_foreign_keys(connection: Connection, folder: Path) -> None:
    """Refuse rows that point nowhere, as the database itself does at other times."""
    if connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
        raise StoreError(
            f"{folder / DATABASE_NAME} holds rows that point to rows that are gone: "
            "it was not brought up to date, and nothing was changed"
        )


def _revision(connection: Connection, folder: Path) -> str | None:
    """Revision of the database, None where it is empty."""
    names = {
        row[0]
        for row in connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type='table'")
    }
    if not names:
        return None
    if "alembic_version" not in names:
        raise StoreError(f"{folder / DATABASE_NAME} is not a studio's database")
    row = connection.exec_driver_sql("SELECT version_num FROM alembic_version").fetchone()
    if row is None or not _known(str(row[0])):
        made_by = "an unknown revision" if row is None else f"revision {row[0]}"
        raise NeedsMigration(
            f"the studio at {folder} was made by a newer Loosehand ({made_by}; this one knows "
            f"up to {REVISION}): use that version, or put the studio elsewhere with --studio"
        )
    return str(row[0])


def _known(revision: str) -> bool:
    """Whether a revision is ours or older: revisions are numbered in order."""
    return revision.isdigit() and int(revision) <= int(REVISION)


def _upgrade(connection: Connection) -> None:
    """Run the steps inside the connection's transaction."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
