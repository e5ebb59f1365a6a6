"""Files that are whole or not there."""

import pytest

from loosehand.studio.whole_files import passing_beside, take_name, write_whole


def test_a_file_is_written_whole(tmp_path):
    """What was written is there, and nothing else is."""
    write_whole(tmp_path / "chart.csv", b"abc")
    write_whole(tmp_path / "chart.csv", b"defg")
    assert [path.name for path in tmp_path.iterdir()] == ["chart.csv"]
    assert (tmp_path / "chart.csv").read_bytes() == b"defg"


def test_a_file_that_was_not_finished_is_not_there(tmp_path):
    """A failure leaves what was there before, and no passing file."""
    path = tmp_path / "chart.csv"
    path.write_bytes(b"before")

    def half():
        with passing_beside(path) as passing:
            passing.write_bytes(b"half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        half()
    assert path.read_bytes() == b"before"
    assert [found.name for found in tmp_path.iterdir()] == ["chart.csv"]


def test_a_passing_file_takes_its_name(tmp_path):
    """A finished file is there under its name alone."""
    with passing_beside(tmp_path / "a.zip") as passing:
        passing.write_bytes(b"whole")
        take_name(passing, tmp_path / "a.zip")
    assert [path.name for path in tmp_path.iterdir()] == ["a.zip"]
