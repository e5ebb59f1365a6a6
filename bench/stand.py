"""Measure the stand: false starts, live breaks, what it costs, how soon a stroke is seen.

    python bench/stand.py wake --scenes 60
    python bench/stand.py rounds --rounds 60
    python bench/stand.py load --seconds 20
    python bench/stand.py screen

``wake`` lets talk, steps and a neighbour's drums sound for a minute each where the stand waits to
be woken, and has people strike four times as often. ``rounds`` plays short rounds through the live
side and compares chart and marks with what was planted, by the bench's own slow definition.
``load`` runs the real server with one and with five pages and reads its processor time. ``screen``
opens a real browser and times strokes from their frame to the drawn page.
"""

import argparse
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import one_thread  # noqa: F401

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from bench_take import Truth
from measures import wilson
from true_count import true_held

from loosehand.cli.hear_commands import hear_told
from loosehand.players.drums import DRUM_KINDS, draw_drum
from loosehand.players.speech import draw_voice, spoken_word
from loosehand.studio.database import open_studio
from loosehand.studio.workouts import add_player, begin_workout
from loosehand.web import make_app
from loosehand.web.live.sittings import Sittings
from tests.faults.page_over_socket import PageOverSocket
from tests.run_every_check import chromium_path
from tests.web.live.conftest import Stand, workout_of
from tests.web.live.page_and_room import RATE_HZ, steady

SEED = 510_000
FAILURES = ("none", "slows", "runs", "stops", "thins")


def now():
    return datetime.now(UTC)


def new_stand(folder):
    studio = open_studio(Path(folder) / "studio", create=True, busy_timeout_s=5.0)
    return Stand(studio, Sittings(studio, hearing=hear_told, now=now))


def say_share(what, hits, of):
    low, high = wilson(hits, of)
    print(f"{what}: {hits} of {of}, {100 * hits / of:.1f} % [{100 * low:.1f}, {100 * high:.1f}]")


# ---------------------------------------------------------------- what wakes a round


def annoy(page, kind, rng, *, length_s):
    """Fill the room with what is no four strokes of the player's."""
    at_s = 0.5
    voice = draw_voice(rng.uniform(-14.0, 3.0), rng)
    drum = draw_drum(DRUM_KINDS[int(rng.integers(len(DRUM_KINDS)))], rng)
    gap_s = rng.uniform(0.2, 0.7)
    while at_s < length_s:
        frame = page.frame + int(at_s * RATE_HZ)
        if kind == "talk":
            page.sound_at(frame, spoken_word(voice, int(rng.integers(40)), rng).astype(float))
            at_s += rng.uniform(0.15, 0.5) if rng.random() < 0.8 else rng.uniform(0.6, 2.5)
        elif kind == "steps":
            page.sound_at(frame, step_sound(rng, 10 ** (rng.uniform(-20.0, 0.0) / 20)))
            at_s += gap_s + rng.normal(0.0, 0.03) if rng.random() < 0.9 else rng.uniform(1.0, 4.0)
        else:
            level_db = rng.uniform(-32.0, -12.0)
            page.sound_at(frame, muffled(drum.render(level_db, rng)[0]))
            at_s += gap_s if rng.random() < 0.85 else rng.uniform(1.0, 3.0)


def step_sound(rng, level):
    """A step on a floor: a thump below 120 Hz and a scrape."""
    since_s = np.arange(int(0.15 * RATE_HZ)) / RATE_HZ
    thump = np.sin(2 * np.pi * rng.uniform(45, 110) * since_s) * np.exp(-since_s / 0.04)
    scrape = rng.normal(0.0, 0.15, since_s.size) * np.exp(-since_s / 0.02)
    return 0.2 * level * (thump + scrape)


def muffled(wave):
    """Through a wall: the high half is gone."""
    return np.convolve(wave.astype(float), np.hanning(64) / np.hanning(64).sum(), mode="full")


def waiting_page(stand, seed, *, level=1.0):
    """A page whose sound is checked and that waits to be woken."""
    seat = stand.seat(stand.begin(workout_of(round_s=4.0)), page=f"page-{seed}")
    page = stand.page(seat, play_round=lambda _planned: (np.zeros(0), np.zeros(0)), seed=seed)
    page.woke = True
    page.arm()
    stand.play(page, until=lambda each: each.state["phase"] == "waiting")
    return page


def bench_wake(scenes):
    starts = {"talk": [0, 0], "steps": [0, 0], "a neighbour's drums": [0, 0]}
    woken = 0
    with tempfile.TemporaryDirectory() as folder:
        stand = new_stand(folder)
        for scene in range(scenes):
            rng = np.random.default_rng([SEED, scene])
            kind = list(starts)[scene % 3]
            page = waiting_page(stand, scene)
            annoy(page, kind, rng, length_s=60.0)
            end = page.frame + 60 * RATE_HZ
            while page.frame < end and page.state["phase"] == "waiting":
                page.step()
                stand.settle(page)
            starts[kind][0] += page.state["phase"] != "waiting"
            starts[kind][1] += 1
            woken += wakes(stand, scene)
        stand.studio.close()
    for kind, (false, of) in starts.items():
        say_share(f"false starts in a minute of {kind}", false, of)
    say_share("false starts in all", sum(f for f, _ in starts.values()), scenes)
    say_share("woken by four strokes as people strike them", woken, scenes)


def wakes(stand, seed):
    """Strike four times, about evenly, and tell whether the round was woken."""
    rng = np.random.default_rng([SEED, 1, seed])
    page = waiting_page(stand, 10_000 + seed)
    gap_s = rng.uniform(0.3, 0.8)
    for k in range(4):
        page.strike(page.frame + int((0.5 + gap_s * k + rng.normal(0.0, 0.02)) * RATE_HZ), 0.9)
    end = page.frame + 6 * RATE_HZ
    while page.frame < end and page.state["phase"] == "waiting":
        page.step()
        stand.settle(page)
    return page.state["phase"] != "waiting"


# ---------------------------------------------------------------- rounds


def planted(planned, seed):
    """Places and asynchronies of a round that fails in one of five ways."""
    rng = np.random.default_rng([SEED, 2, seed])
    places, counts = planned["places_per_count"], planned["counts"]
    place, off_s = steady(counts, places, sd_s=0.007, seed=int(rng.integers(1 << 30)))
    failure = FAILURES[seed % len(FAILURES)]
    first = int(rng.integers(4, counts - 4)) * places
    place_s = 60.0 / planned["tempo_bpm"] / places
    late = np.maximum(place - first, 0)
    if failure == "slows":
        off_s = off_s + rng.uniform(0.05, 0.25) * place_s * late
    elif failure == "runs":
        off_s = off_s - rng.uniform(0.05, 0.2) * place_s * late
    elif failure == "stops":
        place, off_s = place[:first], off_s[:first]
    elif failure == "thins":
        kept = (place < first) | (place % places != places - 1)
        place, off_s = place[kept], off_s[kept]
    return place, off_s


def truth_of(planned, place, off_s):
    place_s = 60.0 / planned["tempo_bpm"] / planned["places_per_count"]
    return Truth(
        stroke_s=np.sort(1.0 + place * place_s + off_s),
        level_db=np.zeros(place.size),
        hand=np.zeros(place.size, dtype=np.int64),
        place=place,
        first_count_s=1.0,
        count_period_s=60.0 / planned["tempo_bpm"],
        counts_offered=planned["counts"],
        places_per_count=planned["places_per_count"],
        hands=planned["hand"],
        plays=True,
        judgeable=True,
        kind="",
    )


def bench_rounds(rounds):
    exact = near = told = taken_back = 0
    with tempfile.TemporaryDirectory() as folder:
        stand = new_stand(folder)
        done = 0
        while done < rounds:
            rng = np.random.default_rng([SEED, 3, done])
            tempo = float(rng.integers(80, 131))
            seat = stand.seat(
                stand.begin(workout_of(tempos=(tempo,), round_s=20.0, rest_s=2.0)),
                page=f"page-{done}",
            )
            plans = []

            def play(planned, plans=plans, done=done):
                plan = planted(planned, done + len(plans))
                plans.append((planned, plan))
                return plan

            page = stand.page(seat, play_round=play, feels=[], seed=done)
            page.arm()
            stand.play(page, until=lambda each: len(each.results) == 2, longest_s=120.0)
            for (planned, plan), result in zip(plans, page.results, strict=True):
                held = true_held(truth_of(planned, *plan)).count_held
                off = abs((result["held"] if result["held"] is not None else -99) - held)
                exact, near = exact + (off == 0), near + (off <= 1)
            told += page.sitting.breaks_told
            taken_back += page.sitting.withdrawn_breaks
            done += 2
        stand.studio.close()
    say_share("count held exact, on the chart", exact, done)
    say_share("count held within one", near, done)
    say_share("rounds in which a break was told and taken back", taken_back, done)
    print(f"breaks told while playing: {told}")


# ---------------------------------------------------------------- the real server


def start_server(folder):
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "loosehand",
            "serve",
            "--studio",
            str(folder),
            "--port",
            str(port),
            "--no-browser",
        ],
        stdout=subprocess.DEVNULL,
    )
    for _ in range(200):
        with socket.socket() as tried:
            if tried.connect_ex(("127.0.0.1", port)) == 0:
                return process, port
        time.sleep(0.05)
    raise SystemExit("the server did not start")


def cpu_s(process):
    fields = Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def in_round(over, seconds):
    """Go on until a round runs, then through so many seconds of it."""
    page = over.page
    while page.state["phase"] != "round":
        over.step()
    over.speed = 1e9
    end = page.frame + int(seconds * RATE_HZ)
    began_s = time.monotonic()
    began_frame = page.frame
    while page.frame < end:
        over.step()
        ahead_s = (page.frame - began_frame) / RATE_HZ - (time.monotonic() - began_s)
        if ahead_s > 0:
            time.sleep(ahead_s)


def bench_load(seconds):
    for pages in (1, 5):
        with tempfile.TemporaryDirectory() as folder:
            with closing(open_studio(Path(folder), create=True, busy_timeout_s=5.0)) as studio:
                add_player(studio, "Nerys", now=now())
                keys = [
                    begin_workout(
                        studio,
                        workout_of(tempos=(120.0,), round_s=seconds + 30.0),
                        now=now(),
                    )
                    for _ in range(pages)
                ]
            process, port = start_server(folder)
            players = [
                PageOverSocket(port, key, speed=8.0, play_round=lambda p: steady(p["counts"], 4))
                for key in keys
            ]
            for over in players:
                over.page.arm()
                in_round(over, 0.0)
            before_s, began_s = cpu_s(process), time.monotonic()
            threads = [threading.Thread(target=in_round, args=(over, seconds)) for over in players]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            spent_s, passed_s = cpu_s(process) - before_s, time.monotonic() - began_s
            process.send_signal(signal.SIGKILL)
            process.wait()
            print(
                f"{pages} page(s) in a round: {100 * spent_s / passed_s:.1f} % of a core in all, "
                f"{100 * spent_s / passed_s / pages:.1f} % a page, over {passed_s:.0f} s"
            )


# ---------------------------------------------------------------- stroke to screen


def bench_screen():
    from playwright.sync_api import sync_playwright

    from loosehand.web.serve import LocalServer, open_port

    drummer = Path(__file__).resolve().parent.parent / "tests" / "browser" / "drummer.js"
    with tempfile.TemporaryDirectory() as folder:
        studio = open_studio(Path(folder), create=True, busy_timeout_s=5.0)
        add_player(studio, "Nerys", now=now())
        key = begin_workout(studio, workout_of(tempos=(110.0,), round_s=25.0), now=now())
        app = make_app(studio, hearing=hear_told, now=now, hosts=frozenset({"127.0.0.1"}))
        server = LocalServer(app, open_port("127.0.0.1", 0), None)
        ready = threading.Event()
        threading.Thread(target=server.run, kwargs={"ready": ready.set}, daemon=True).start()
        ready.wait(20)
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=chromium_path(), args=["--no-sandbox", "--disable-gpu"]
            )
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            page.add_init_script(path=str(drummer))
            page.goto(f"{server.address}stand/{key}")
            page.click("#arm")
            while page.evaluate("drummer.takes.length") < 2:
                page.wait_for_timeout(500)
            lags_ms = np.array(page.evaluate("window.strokeToScreen_ms"))
            browser.close()
        server.stop()
    print(
        json.dumps(
            {
                "strokes": int(lags_ms.size),
                "stroke to screen, median (ms)": round(float(np.median(lags_ms)), 1),
                "95th percentile (ms)": round(float(np.percentile(lags_ms, 95)), 1),
            }
        )
    )


def main():
    words = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    words.add_argument("what", choices=("wake", "rounds", "load", "screen"))
    words.add_argument("--scenes", type=int, default=60)
    words.add_argument("--rounds", type=int, default=60)
    words.add_argument("--seconds", type=float, default=20.0)
    asked = words.parse_args()
    if asked.what == "wake":
        bench_wake(asked.scenes)
    elif asked.what == "rounds":
        bench_rounds(asked.rounds)
    elif asked.what == "load":
        bench_load(asked.seconds)
    else:
        bench_screen()


if __name__ == "__main__":
    main()
