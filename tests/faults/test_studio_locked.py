"""Another program holds the studio's database."""

import multiprocessing
import sqlite3
import subprocess
import sys

import pytest

from loosehand.errors import StudioLocked
from loosehand.studio.database import DATABASE_NAME, open_studio

WRITE = ("write", "--player", "Ines", "--hand", "left", "--tempo", "104", "--held", "41")


@pytest.fixture
def holder(tmp_path):
    """Make a studio and hold its database for writing."""
    open_studio(tmp_path, create=True, busy_timeout_s=0.2).close()
    connection = sqlite3.connect(tmp_path / DATABASE_NAME, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    yield connection
    connection.close()


def _rounds(folder):
    """Count the rounds of a studio, past our own code."""
    connection = sqlite3.connect(folder / DATABASE_NAME)
    count = connection.execute("SELECT count(*) FROM rounds").fetchone()[0]
    connection.close()
    return count


def test_an_act_on_a_locked_studio_is_refused_in_time(holder, tmp_path):
    """Who cannot write is told so after the wait that was asked for."""
    studio = open_studio(tmp_path, create=True, busy_timeout_s=0.2)

    def act():
        with studio.act():
            pytest.fail("the studio was to be locked")

    with pytest.raises(StudioLocked, match="held by another program"):
        act()
    studio.close()


def test_a_locked_studio_can_be_read(holder, tmp_path):
    """Reading goes on while another writes."""
    studio = open_studio(tmp_path, create=False, busy_timeout_s=0.2)
    with studio.look() as session:
        assert session.connection().exec_driver_sql("SELECT 1").scalar() == 1
    studio.close()


def test_a_new_database_that_is_locked_is_refused(tmp_path):
    """A database that another program is just making is not fought over."""
    connection = sqlite3.connect(tmp_path / DATABASE_NAME, isolation_level=None)
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("BEGIN EXCLUSIVE")
    with pytest.raises(StudioLocked):
        open_studio(tmp_path, create=True, busy_timeout_s=0.2)
    connection.close()


def test_a_command_on_a_locked_studio_says_one_sentence(holder, tmp_path):
    """The command waits a little, says one sentence and leaves nothing half-written."""
    done = subprocess.run(
        [sys.executable, "-m", "loosehand", *WRITE, "--studio", str(tmp_path)],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "held by another program" in done.stderr
    holder.execute("ROLLBACK")
    assert _rounds(tmp_path) == 0


def _write_ten(folder):
    """Write ten rounds, as a process of its own."""
    from loosehand.cli import main

    for _ in range(10):
        assert main([*WRITE, "--studio", folder]) == 0


def test_two_programs_that_take_turns_lose_nothing(tmp_path):
    """Two processes that make and fill a studio at once leave all twenty rounds there."""
    context = multiprocessing.get_context("spawn")
    writers = [context.Process(target=_write_ten, args=(str(tmp_path),)) for _ in range(2)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(timeout=120)
    assert [writer.exitcode for writer in writers] == [0, 0]
    assert _rounds(tmp_path) == 20
