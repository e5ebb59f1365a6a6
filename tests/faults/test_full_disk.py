"""The disk is full."""

import errno
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from sqlalchemy import event

from loosehand.errors import DiskFull, StoreError
from loosehand.studio.chart_csv import read_chart_csv
from loosehand.studio.database import open_studio, store_errors
from loosehand.studio.filing import import_rows
from loosehand.studio.sound import incoming_sound, stored_names

SCENE = Path(__file__).with_name("full_disk_scene.py")
UNSHARE = ("unshare", "--user", "--map-root-user", "--mount")
CHART = (
    "date,player,hand,tempo_bpm,places_per_count,count_held,note\n"
    "2027-03-01,Ines,left,104,4,41,{}\n"
)


@pytest.fixture
def take(tmp_path):
    """Write five seconds of noise, too much for the small disk."""
    noise = np.random.default_rng(1).normal(scale=0.1, size=5 * 44100)
    soundfile.write(tmp_path / "take.wav", noise, 44100)
    return tmp_path / "take.wav"


def _in_a_small_disk(disk, *command):
    """Run a command in a name space of its own, where a folder is a disk of 600 kB."""
    mount = 'mount -t tmpfs -o size=600k tmpfs "$1" && shift && exec "$@"'
    return subprocess.run(
        [*UNSHARE, "sh", "-c", mount, "sh", disk, *command],
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.fixture
def small_disk(tmp_path):
    """Make a folder for a small disk, where the system lets us have one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if shutil.which("unshare") is None or _in_a_small_disk(disk, "true").returncode != 0:
        pytest.skip("this system gives no small disk to its users")
    return disk


def test_on_a_disk_that_is_really_full_nothing_is_half_written(small_disk, take):
    """Each command says one sentence and exits with 2; what was there before is all there."""
    done = _in_a_small_disk(small_disk, sys.executable, str(SCENE), str(small_disk), str(take))
    assert done.returncode == 0, done.stderr
    came = json.loads(done.stdout)
    assert came["first"]["status"] == 0
    refused = ("write", "file_no_room", "file_little_room", "chart_out", "pack", "new_studio")
    for name in refused:
        assert came[name]["status"] == 2, (name, came[name])
        assert came[name]["err"].count("\n") == 1, (name, came[name])
        assert "is full" in came[name]["err"], (name, came[name])
        assert came[name]["out"] == "", (name, came[name])
    assert came["after"] == came["before"]
    assert set(came["left"]) <= {"ballast", "studio", "second"}
    assert came["again"]["status"] == 0
    assert len(read_chart_csv(came["chart"]["out"])) == 2


def test_a_database_that_may_not_grow_keeps_all_or_nothing(tmp_path, now_utc):
    """An act for which there is no room is undone whole, and the studio goes on."""
    studio = open_studio(tmp_path, create=True, busy_timeout_s=0.2)

    def stop_growing(connection, _record):
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")

    event.listen(studio.engine, "connect", stop_growing)
    many = read_chart_csv(CHART.format("x" * 100_000))
    with pytest.raises(DiskFull, match="is full"):
        import_rows(studio, many, now=now_utc)
    event.remove(studio.engine, "connect", stop_growing)
    assert import_rows(studio, many, now=now_utc).added == 1
    studio.close()


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
def test_every_way_of_having_no_room_is_a_full_disk(tmp_path, number):
    """A full disk, a full quota and a file that may not grow are one sentence."""
    with pytest.raises(DiskFull, match="make room"), store_errors(tmp_path):
        raise OSError(number, os.strerror(number))


def test_other_trouble_with_the_disk_is_not_called_full(tmp_path):
    """A disk that may not be written to is not a full one."""
    with pytest.raises(StoreError, match="Permission denied") as caught, store_errors(tmp_path):
        raise PermissionError(errno.EACCES, "Permission denied", str(tmp_path))
    assert not isinstance(caught.value, DiskFull)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full device")
def test_a_sound_for_which_there_is_no_room_says_so(tmp_path, monkeypatch):
    """What the disk says while a sound is written is not lost inside the FLAC writer."""
    real_open = Path.open

    def open_full(path, mode="r", *args, **kwargs):
        if path.parent.name == "incoming" and "w" in mode:
            return real_open(Path("/dev/full"), "wb", *args, **kwargs)
        return real_open(path, mode, *args, **kwargs)

    monkeypatch.setattr(Path, "open", open_full)
    noise = np.random.default_rng(1).normal(scale=0.1, size=200_000).astype(np.float32)

    def bring():
        with incoming_sound(tmp_path, [noise], sample_rate_hz=44100):
            pytest.fail("the disk was to be full")

    with pytest.raises(DiskFull):
        bring()
    assert stored_names(tmp_path) == set()
    assert list((tmp_path / "incoming").iterdir()) == []
