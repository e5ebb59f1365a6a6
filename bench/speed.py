"""Measure how fast and how big: one take, the cold command, many takes, a three-hour file.

    python bench/speed.py
    python bench/speed.py --only-five-minutes     # a take of five minutes alone

Times are of this machine; each is the median of several runs where that is cheap. The 200 takes
are 200 readings of one minute of AAC, so that only the work is measured. The five minutes are a
round of one hand's sixteenths at 120, held to its end (so that all 2,400 strokes are heard, judged
and asked for their technique), as AAC, heard by a process that heard a minute before.
"""

import argparse
import json
import platform
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import one_thread
from sources import BENCH_SEED, Kept, keep_take

if TYPE_CHECKING:
    import numpy as np

    from loosehand.hear.heard import ListenRequest
    from loosehand.players.recipe import Recipe

__all__ = ["main"]

HERE = Path(__file__).parent
FIVE_MINUTES_BPM = 120.0
FIVE_MINUTES_BAR_S = 3.0
"""Core seconds that hearing, judging and technique of five minutes may take after start-up."""
FIVE_MINUTES_RUNS = 5
MOST_RECIPES = 500


def _minute_of_aac(folder: Path) -> Kept:
    """The first minute-long take in an .m4a file."""
    for seed in range(BENCH_SEED, BENCH_SEED + 500):
        kept = keep_take("home_phone", seed, folder)
        if kept.path.suffix == ".m4a" and kept.truth.hands != "alternating":
            return kept
    raise SystemExit("no minute of AAC among the takes")


def _median_s(act: Callable[[], object], runs: int) -> float:
    spent = []
    for _ in range(runs):
        start = time.perf_counter()
        act()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def _five_minutes(tier: str, folder: Path) -> tuple[Path, "ListenRequest"]:
    """A held round of five minutes in an .m4a file, sounding as takes of a tier do."""
    import numpy as np

    from loosehand.hear.heard import ListenRequest
    from loosehand.players.codec import encode
    from loosehand.players.people import draw_player
    from loosehand.players.play import play
    from loosehand.players.sound import render
    from loosehand.players.takes import draw_plan

    rng = np.random.default_rng([BENCH_SEED, len(tier), 300])
    counts = int(5 * FIVE_MINUTES_BPM)
    plan = replace(
        draw_plan(rng, round_s=300.0),
        tempo_bpm=FIVE_MINUTES_BPM,
        places_per_count=4,
        hand="right",
        counts=counts,
        failure=None,
        failure_count=None,
    )
    done = play(draw_player(rng), plan, rng)
    recipe = _recipe_of_aac(tier, rng)
    samples, rate_hz = render(done, recipe, rng)
    path = folder / f"five_minutes_{tier}.m4a"
    path.write_bytes(
        encode(samples, rate_hz, suffix=recipe.file.suffix, bit_rate=recipe.file.bit_rate)
    )
    return path, ListenRequest(plan.tempo_bpm, plan.places_per_count, plan.hand, counts, None)


def _recipe_of_aac(tier: str, rng: "np.random.Generator") -> "Recipe":
    """The first recipe of a tier that makes an .m4a file."""
    from loosehand.players.recipe import draw_recipe

    for _ in range(MOST_RECIPES):
        recipe = draw_recipe(tier, rng)
        if recipe.file.suffix == ".m4a":
            return recipe
    raise SystemExit(f"no AAC among {MOST_RECIPES} recipes of {tier}")


def _five_minutes_figures(folder: Path) -> dict[str, float]:
    """Core and wall seconds of hearing five minutes, median of several, in a warmed process."""
    from loosehand.batch.hear_file import hear_file

    folder.mkdir(parents=True, exist_ok=True)
    figures: dict[str, float] = {}
    for tier in ("clean_pad", "home_phone"):
        path, request = _five_minutes(tier, folder)
        core_s, wall_s = [], []
        for _ in range(FIVE_MINUTES_RUNS):
            wall, core = time.perf_counter(), time.process_time()
            reading = hear_file(path, request)
            core_s.append(time.process_time() - core)
            wall_s.append(time.perf_counter() - wall)
        if reading.technique is None or reading.count_held is None:
            raise SystemExit(f"five minutes of {tier} were not judged: {reading.quality}")
        named = f"five minutes of AAC, {tier}"
        figures |= {
            f"{named}, core (s)": statistics.median(core_s),
            f"{named}, wall (s)": statistics.median(wall_s),
            f"{named}, counts held of {request.counts_planned}": reading.count_held,
        }
    return figures


def _print_figures(figures: dict[str, float]) -> None:
    """Print a table, each figure that has a bar beside it."""
    print(f"{platform.machine()}, Python {platform.python_version()}")
    print("| what | value | bar |\n| --- | --- | --- |")
    for name, value in figures.items():
        bar = ""
        if name.startswith("five minutes") and name.endswith("core (s)"):
            missed = ", missed" if value > FIVE_MINUTES_BAR_S else ""
            bar = f"{FIVE_MINUTES_BAR_S:g} at most{missed}"
        print(f"| {name} | {value:.3g} | {bar} |")


def _command(*words: str) -> list[str]:
    start = "from loosehand.cli import main; main()"
    return [sys.executable, "-c", start, *words]


def _run(command: list[str]) -> None:
    subprocess.run(command, check=True, capture_output=True)


def _hear_words(kept: Kept, path: Path) -> list[str]:
    request = kept.request
    return [
        "hear",
        str(path),
        "--tempo",
        str(request.tempo_bpm),
        "--per-count",
        str(request.places_per_count),
        "--hand",
        str(request.hand),
        "--json",
    ]


def _many_s(kept: Kept, takes: int, workers: int) -> float:
    from loosehand.batch.hear_file import hear_many

    start = time.perf_counter()
    found = list(hear_many([kept.path] * takes, kept.request, notes=None, workers=workers))
    if len(found) != takes:
        raise SystemExit(f"{len(found)} readings of {takes} takes")
    return time.perf_counter() - start


def _three_hours(kept: Kept, folder: Path) -> Path:
    """The same minute again and again for three hours, packets copied as they are."""
    import av

    path = folder / "three_hours.m4a"
    if path.exists():
        return path
    with av.open(str(kept.path)) as source:
        stream = source.streams.audio[0]
        packets = [bytes(packet) for packet in source.demux(stream) if packet.size]
        step = stream.codec_context.frame_size or 1024
        rate_hz = stream.rate
        with av.open(str(path), "w", format="ipod") as target:
            copy = target.add_stream_from_template(stream)
            for at in range(int(3 * 3600 * rate_hz / step)):
                packet = av.Packet(packets[at % len(packets)])
                packet.stream, packet.time_base = copy, Fraction(1, rate_hz)
                packet.pts = packet.dts = at * step
                packet.duration = step
                target.mux(packet)
    return path


def _peak_mib(command: list[str]) -> tuple[float, float, int]:
    """Seconds, peak memory in MiB and exit status of a command, run by a small process."""
    watch = (
        "import json, resource, subprocess, sys, time; start = time.perf_counter();"
        "done = subprocess.run(sys.argv[1:], capture_output=True);"
        "peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024;"
        "print(json.dumps([time.perf_counter() - start, peak, done.returncode]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", watch, *command], check=True, capture_output=True, text=True
    )
    seconds, peak, status = json.loads(done.stdout)
    return seconds, peak, status


def main() -> None:
    """Measure and print a table; keep it in bench/out/speed.json."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--takes", type=int, default=200)
    parser.add_argument("--out", type=Path, default=HERE / "out")
    parser.add_argument("--only-five-minutes", action="store_true")
    words = parser.parse_args()
    one_thread.COMPILED.mkdir(parents=True, exist_ok=True)
    from loosehand.batch.hear_file import hear_file

    kept = _minute_of_aac(words.out / "takes")
    hear_file(kept.path, kept.request)
    if words.only_five_minutes:
        _print_figures(_five_minutes_figures(words.out))
        return
    figures: dict[str, float] = {
        "minute of AAC to reading, after start-up (s)": _median_s(
            lambda: hear_file(kept.path, kept.request), 7
        ),
        "--help, cold (s)": _median_s(lambda: _run(_command("--help")), 7),
        "hear a minute of AAC, cold command (s)": _median_s(
            lambda: _run(_command(*_hear_words(kept, kept.path))), 5
        ),
    }
    figures |= _five_minutes_figures(words.out)
    one = _many_s(kept, words.takes, 1)
    two = _many_s(kept, words.takes, 2)
    figures |= {
        f"{words.takes} takes on one core (s)": one,
        f"{words.takes} takes on two cores (s)": two,
        "one core against two, times": one / two,
    }
    plain = _peak_mib(_command(*_hear_words(kept, kept.path)))
    long = _peak_mib(_command(*_hear_words(kept, _three_hours(kept, words.out))))
    figures |= {
        "peak memory, a minute (MiB)": plain[1],
        "peak memory, three hours (MiB)": long[1],
        "three hours, cold command (s)": long[0],
        "three hours, exit status": long[2],
        "peak memory of this process (MiB)": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        / 1024,
    }
    (words.out / "speed.json").write_text(json.dumps(figures, indent=1))
    _print_figures(figures)


if __name__ == "__main__":
    main()
