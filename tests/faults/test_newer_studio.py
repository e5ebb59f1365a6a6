"""A studio that a newer version made."""

import hashlib
import sqlite3
import subprocess
import sys

import pytest

from loosehand.errors import NeedsMigration
from loosehand.studio.database import DATABASE_NAME, REVISION, open_studio

COMMANDS = (
    ("chart",),
    ("chart-out",),
    ("write", "--player", "Ines", "--hand", "left", "--tempo", "104", "--held", "41"),
    ("correct", "--player", "Ines", "--order", "1", "--held", "41", "--why", "x"),
    ("reread",),
    ("drop-sound", "--player", "Ines", "--all"),
    ("demo",),
)


@pytest.fixture
def newer(tmp_path):
    """Make a studio whose tables are of a revision to come."""
    open_studio(tmp_path, create=True, busy_timeout_s=0.2).close()
    _set_revision(tmp_path, "9999")
    return tmp_path


def _set_revision(folder, revision):
    """Write a revision into a studio, past our own code."""
    connection = sqlite3.connect(folder / DATABASE_NAME)
    with connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (revision,))
    connection.close()


def _checksum(folder):
    """Return what the database file holds."""
    return hashlib.sha256((folder / DATABASE_NAME).read_bytes()).hexdigest()


@pytest.mark.parametrize("revision", ["9999", f"{int(REVISION) + 1:04d}", "next", ""])
def test_a_newer_studio_is_not_touched(newer, revision):
    """A revision that is not known is refused, and not a byte is changed."""
    _set_revision(newer, revision)
    before = _checksum(newer)
    with pytest.raises(NeedsMigration, match=f"newer Loosehand .*{revision}.* --studio"):
        open_studio(newer, create=True, busy_timeout_s=0.2)
    assert _checksum(newer) == before


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
def test_every_command_refuses_a_newer_studio_in_one_sentence(newer, command):
    """One sentence, exit status 2, nothing changed."""
    before = _checksum(newer)
    done = subprocess.run(
        [sys.executable, "-m", "loosehand", *command, "--studio", str(newer)],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "was made by a newer Loosehand (revision 9999" in done.stderr
    assert _checksum(newer) == before
