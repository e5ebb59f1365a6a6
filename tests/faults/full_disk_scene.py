"""What is done on a disk that has no room: run by ``test_full_disk`` inside a small disk.

``python full_disk_scene.py DISK TAKE`` makes a studio on the disk, writes a round, fills the
disk, tries to do more, makes room again, and prints what came of each as JSON.
"""

import contextlib
import io
import json
import sys
from pathlib import Path

from loosehand.cli import main

WRITE = ("write", "--player", "Ines", "--hand", "left", "--tempo", "104", "--held", "41")
FILE = ("--player", "Ines", "--hand", "left", "--tempo", "104")


def run(*words):
    """Run a command; return its status and what it said."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(words)
    return {"status": status, "out": out.getvalue(), "err": err.getvalue()}


def fill(disk, *, leave_bytes):
    """Fill the disk up to a few bytes."""
    ballast = disk / "ballast"
    with contextlib.suppress(OSError), ballast.open("ab", buffering=0) as stream:
        while True:
            stream.write(b"\0" * 4096)
    with ballast.open("rb+") as stream:
        stream.truncate(max(0, ballast.stat().st_size - leave_bytes))
    return ballast


def listing(folder):
    """Return the names and sizes of a studio's files, the database's own working files aside."""
    return sorted(
        [path.relative_to(folder).as_posix(), path.stat().st_size]
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith("studio.sqlite3-")
    )


def scene(disk, take):
    """Play the scene."""
    studio = disk / "studio"
    at = ("--studio", str(studio))
    done = {"first": run(*WRITE, *at), "before": listing(studio)}
    ballast = fill(disk, leave_bytes=0)
    done["write"] = run(*WRITE, *at)
    done["file_no_room"] = run("file", take, *FILE, *at)
    done["chart_out"] = run("chart-out", str(disk / "chart.csv"), *at)
    done["pack"] = run("pack", str(disk / "studio.zip"), *at)
    done["new_studio"] = run(*WRITE, "--studio", str(disk / "second"))
    with ballast.open("rb+") as stream:
        stream.truncate(ballast.stat().st_size - 100_000)
    done["file_little_room"] = run("file", take, *FILE, *at)
    done["after"] = listing(studio)
    done["left"] = sorted(path.name for path in disk.iterdir())
    ballast.unlink()
    done["again"] = run(*WRITE, *at)
    done["chart"] = run("chart-out", *at)
    return done


if __name__ == "__main__":
    print(json.dumps(scene(Path(sys.argv[1]), sys.argv[2])))
