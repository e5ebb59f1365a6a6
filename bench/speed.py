"""Measure how fast and how big: one take, the cold command, many takes, a three-hour file.

    python bench/speed.py

Times are of this machine; each is the median of several runs where that is cheap. The 200 takes
are 200 readings of one minute of AAC, so that only the work is measured.
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
from fractions import Fraction
from pathlib import Path

import one_thread
from sources import BENCH_SEED, Kept, keep_take

__all__ = ["main"]

HERE = Path(__file__).parent


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
    words = parser.parse_args()
    one_thread.COMPILED.mkdir(parents=True, exist_ok=True)
    from loosehand.batch.hear_file import hear_file

    kept = _minute_of_aac(words.out / "takes")
    hear_file(kept.path, kept.request)
    figures: dict[str, float] = {
        "minute of AAC to reading, after start-up (s)": _median_s(
            lambda: hear_file(kept.path, kept.request), 7
        ),
        "--help, cold (s)": _median_s(lambda: _run(_command("--help")), 7),
        "hear a minute of AAC, cold command (s)": _median_s(
            lambda: _run(_command(*_hear_words(kept, kept.path))), 5
        ),
    }
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
    print(f"{platform.machine()}, Python {platform.python_version()}")
    print("| what | value |\n| --- | --- |")
    for name, value in figures.items():
        print(f"| {name} | {value:.3g} |")


if __name__ == "__main__":
    main()
