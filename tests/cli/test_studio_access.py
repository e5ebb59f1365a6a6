"""What the commands of the studio share."""

from datetime import UTC

import pytest

from loosehand.cli.studio_access import (
    many,
    present_moment,
    read_file,
    studio_at,
    target_file,
)
from loosehand.errors import Conflict, InputError, NotFound


def test_a_studio_that_is_not_there_is_not_made_unasked(tmp_path):
    """Only a command that puts something in makes a studio."""
    with pytest.raises(NotFound, match="no studio"), studio_at(str(tmp_path / "s"), create=False):
        pass
    with studio_at(str(tmp_path / "s"), create=True) as opened:
        assert opened.folder == tmp_path / "s"


def test_a_file_that_cannot_be_read_is_one_sentence(tmp_path):
    """The name of the file and the reason are in the refusal."""
    with pytest.raises(InputError, match=r"none\.csv cannot be read: No such file"):
        read_file(str(tmp_path / "none.csv"))
    with pytest.raises(InputError, match="cannot be read"):
        read_file(str(tmp_path))
    with pytest.raises(InputError, match="cannot be read"):
        read_file("a\0b")


def test_the_moment_has_a_zone():
    """The clock is read in UTC."""
    assert present_moment().tzinfo is UTC


def test_things_are_counted():
    """One is one, and none are many."""
    assert [many(count, "take") for count in (0, 1, 2)] == ["0 takes", "1 take", "2 takes"]


def test_a_file_that_is_there_is_not_written_over_unasked(tmp_path):
    """A folder or a place that is not there is none for a file; what is there stays."""
    there = tmp_path / "there.csv"
    there.write_text("kept")
    with pytest.raises(Conflict, match="say --over"):
        target_file(str(there), over=False)
    assert target_file(str(there), over=True) == there
    for nowhere in (tmp_path, tmp_path / "none" / "new.csv"):
        with pytest.raises(InputError, match="not a place for a file"):
            target_file(str(nowhere), over=True)
