"""The command that serves the pages, as a person runs it."""

import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from contextlib import closing, contextmanager
from datetime import UTC, datetime

import pytest

from loosehand.cli.serve_commands import has_a_screen
from loosehand.studio.database import open_studio
from loosehand.studio.models import Player
from loosehand.web.serve import open_port

ON_POSIX = pytest.mark.skipif(os.name == "nt", reason="Windows sends no such signals to a process")


@pytest.mark.parametrize(
    ("environment", "platform", "screen"),
    [
        ({}, "linux", False),
        ({"DISPLAY": ""}, "linux", False),
        ({"DISPLAY": ":0"}, "linux", True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "linux", True),
        ({"DISPLAY": ":10", "SSH_CONNECTION": "x"}, "linux", False),
        ({}, "darwin", True),
        ({}, "win32", True),
    ],
)
def test_a_browser_is_opened_where_there_is_a_screen(environment, platform, screen):
    """Where no window can open, none is tried."""
    assert has_a_screen(environment, platform=platform) is screen


@contextmanager
def started(tmp_path, *words):
    """Start the server in a process of its own; end it whatever happens."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        # Checks that run in the background ignore it, and the server would inherit that.
        signal.signal(signal.SIGINT, signal.default_int_handler)
    data = {"XDG_DATA_HOME": str(tmp_path / "data"), "PYTHONWARNINGS": "error"}
    with subprocess.Popen(
        [sys.executable, "-m", "loosehand", "serve", "--no-browser", *words],
        env={**os.environ, **data},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        cwd=tmp_path,
    ) as process:
        try:
            yield process
        finally:
            if process.poll() is None:
                process.kill()


@ON_POSIX
@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM])
def test_serving_says_the_address_answers_and_ends_quietly(tmp_path, end):
    """One line says where the pages are; Ctrl-C ends it without another word."""
    with started(tmp_path, "--studio", "new", "--port", "0") as process:
        line = process.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+/", line).group()
        with urllib.request.urlopen(address, timeout=20) as answer:
            assert answer.status == 200
        process.send_signal(end)
        began_s = time.monotonic()
        out, err = process.communicate(timeout=20)
        assert time.monotonic() - began_s < 5
    assert (process.returncode, out, err) == (0, "", "")
    assert (tmp_path / "new" / "studio.sqlite3").exists()


@ON_POSIX
def test_serving_the_local_network_says_where_to_pair(tmp_path):
    """A second line leads to the code; the key lies in the user's data folder."""
    with started(tmp_path, "--studio", "new", "--port", "0", "--local-network") as process:
        lines = [process.stdout.readline() for _ in range(2)]
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=20)
    assert re.search(r"phone in, open http://127\.0\.0\.1:\d+/phone ", lines[1])
    if sys.platform == "linux":
        assert (tmp_path / "data" / "loosehand" / "local-network" / "key.pem").exists()


@ON_POSIX
def test_the_demo_is_made_where_the_studio_is_empty(tmp_path):
    """The demo says that it is being made; filled already, it is served at once."""
    with started(tmp_path, "--demo", "--studio", "demo", "--port", "0") as process:
        assert "Making an invented studio" in process.stdout.readline()
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=20)
        assert (process.returncode, err) == (130, "loosehand: broken off\n")
    filled = open_studio(tmp_path / "filled", create=True, busy_timeout_s=3.0)
    with filled.act() as session:
        session.add(Player(name="Ines", added_at=datetime(2027, 3, 1, tzinfo=UTC)))
    filled.close()
    with started(tmp_path, "--demo", "--studio", "filled", "--port", "0") as process:
        assert "is open at" in process.stdout.readline()
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=20)


@pytest.mark.parametrize("port", ["65536", "-1", "x", "80 80"])
def test_a_port_that_cannot_be_is_refused(in_process, tmp_path, port):
    """A word that is no port is one sentence, and no studio is made."""
    assert in_process("serve", "--studio", "new", "--port", port).refused(2)
    assert not (tmp_path / "new").exists()


def test_a_port_that_is_taken_is_refused(in_process):
    """A taken port is one sentence that says what to do."""
    with closing(open_port("127.0.0.1", 0)) as taken:
        number = taken.getsockname()[1]
        done = in_process("serve", "--studio", "new", "--port", str(number))
    assert done.refused(2)
    assert "say another with --port" in done.err
