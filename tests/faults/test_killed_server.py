"""The server is killed in the middle of rounds, and no take is lost."""

import contextlib
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from datetime import UTC, datetime

import numpy as np
from sqlalchemy import select

from loosehand.hear.decode import read_mono
from loosehand.studio.database import DATABASE_NAME, open_studio
from loosehand.studio.models import Round
from loosehand.studio.sound import path_of_content
from loosehand.studio.workouts import add_player, begin_workout
from tests.faults.page_over_socket import PageOverSocket
from tests.web.live.conftest import workout_of
from tests.web.live.page_and_room import RATE_HZ, steady

KILLS = 10
ROUND_S = 4.0
TEMPOS = (120.0, 125.0, 130.0, 135.0, 140.0)
SPEED = 6.0


def free_port():
    """A port that nobody has."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def start(folder, port):
    """Start the real server and wait until it answers."""
    words = ["serve", "--studio", str(folder), "--port", str(port), "--no-browser"]
    process = subprocess.Popen(
        [sys.executable, "-m", "loosehand", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    for _ in range(400):
        with contextlib.suppress(OSError):
            urllib.request.urlopen(f"http://127.0.0.1:{port}/static/icon.svg", timeout=1).read()
            return process
        assert process.poll() is None, "the server did not start"
        time.sleep(0.05)
    raise AssertionError("the server did not answer")


def play_to_five(planned):
    """Hold to the end, but the right hand stops after five counts."""
    place, off_s = steady(planned["counts"], 4)
    return (place[:20], off_s[:20]) if planned["hand"] == "right" else (place, off_s)


def test_killed_at_ten_random_moments_of_rounds(tmp_path):
    """Ten kills in ten rounds: ten rows, each once, each with its count; all sound is there."""
    folder, port = tmp_path / "studio", free_port()
    with contextlib.closing(open_studio(folder, create=True, busy_timeout_s=5.0)) as studio:
        workout = workout_of(tempos=TEMPOS, round_s=ROUND_S, rest_s=0.0, loudness=None)
        add_player(studio, workout.player, now=datetime.now(UTC))
        key = begin_workout(studio, workout, now=datetime.now(UTC))
    rng = np.random.default_rng(11)
    kills = {index: rng.uniform(0.1, 5.4) for index in range(KILLS)}
    process = start(folder, port)
    try:
        over = PageOverSocket(port, key, speed=SPEED, play_round=play_to_five, feels=[])
        page = over.page
        page.arm()
        answered = 0
        while page.state["phase"] != "done":
            over.step()
            index = page.state["index"]
            if (
                page.state["phase"] == "round"
                and index in kills
                and page.begun.get("index") == index
            ):
                into_s = (page.frame - page.begun["frame"]) / RATE_HZ
                if into_s > kills[index]:
                    del kills[index]
                    process.send_signal(signal.SIGKILL)
                    process.wait()
                    process = start(folder, port)
            if page.state["phase"] == "feel" and answered < len(page.results):
                answered = len(page.results)
                over.send({"kind": "key", "key": "loose"})
            assert page.frame < 600 * RATE_HZ, "the workout does not end"
        assert not kills
        assert over.came_back >= KILLS
    finally:
        process.kill()
        process.wait()
    check_studio(folder, page)


def check_studio(folder, page):
    """Every round is there once, with its count and all of its sound."""
    with contextlib.closing(sqlite3.connect(folder / DATABASE_NAME)) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
    sent = np.concatenate([samples for _, samples in page.sent])
    with (
        contextlib.closing(open_studio(folder, create=False, busy_timeout_s=5.0)) as studio,
        studio.look() as session,
    ):
        rounds = session.scalars(select(Round).order_by(Round.order_in_day)).all()
        assert [each.standing for each in rounds] == ["counts"] * KILLS
        for each in rounds:
            whole = int(each.tempo_bpm * ROUND_S / 60)
            planted = 5 if each.hand == "right" else whole
            assert each.take.readings[-1].count_held == planted
            assert each.take.told["capture"]["frames_lost"] == 0
            path = path_of_content(folder, kind="sound", content_sha256=each.take.content_sha256)
            sound = read_mono(path, longest_s=60.0).samples
            assert sound.size / RATE_HZ > 4.0
            check_sound(sound, sent)
    left = [path for path in (folder / "live").rglob("*") if path.is_file()]
    assert left == []


def check_sound(sound, sent):
    """A stored sound lies whole in what was sent: no gap, repeat or shift."""
    size = 2 ** int(np.ceil(np.log2(sent.size + sound.size)))
    matched = np.fft.irfft(np.fft.rfft(sent, size) * np.conj(np.fft.rfft(sound, size)), size)
    at = int(np.argmax(matched[: sent.size]))
    assert np.abs(sent[at : at + sound.size] - sound).max() <= 2.0**-23
