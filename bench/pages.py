"""Measure how fast the pages of chart, reach and parts open on ten years of daily rounds.

    python bench/pages.py

A studio is filled with eight rounds a day for ten years, then every page is asked for many times
by a client in the same process: what is timed is the server's work, from the request to the last
byte, packed as it is sent. Times are of this machine; where others work on it too, the processor's
time (client and server) says more than the clock's.

The first opening is not counted: it is that which fits and stores what the page Reach shows. Last
comes how long the fits take after a round, once for each round of a day.
"""

import argparse
import json
import platform
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from starlette.testclient import TestClient

from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.database import Studio, open_studio
from loosehand.studio.filing import import_rows, write_count
from loosehand.studio.part_examples import EXAMPLE_TUNE
from loosehand.studio.parts_store import add_part
from loosehand.studio.reach_store import reach_of
from loosehand.studio.round_tags import RoundTags
from loosehand.web import make_app

__all__ = ["main"]

NOW = datetime(2027, 3, 1, 12, 0, tzinfo=UTC)
PLAYER = "Nerys"
DAYS = 3650
SEED = 20270301
KINDS = (("whip fours", "pad", "medium"), ("wrist singles", "pad", "soft"))
PAGES = {
    "the last five weeks": f"/chart/{PLAYER}",
    "five weeks of five years ago": f"/chart/{PLAYER}?period=2022-03-01",
    "a year by month": f"/chart/{PLAYER}?period=2024",
    "everything by month": f"/chart/{PLAYER}?period=all",
    "a sheet to type into": f"/chart/{PLAYER}/paper",
    "a sheet to print": f"/chart/{PLAYER}/paper.pdf?blank=0",
    "the reach, from stored fits": f"/reach/{PLAYER}",
    "the reach, with both questions": (
        f"/reach/{PLAYER}?tempo=95&minutes=3&goal_tempo=100&goal_minutes=1"
    ),
    "a part, its staff drawn before": "/part/1",
    "ways of playing it": f"/part/1/ways?player={PLAYER}",
}


def _rounds(rng: np.random.Generator) -> Iterator[ChartRow]:
    """Eight invented rounds a day: two hands at four tempos that rise over the years."""
    for day in range(DAYS):
        technique, surface, loudness = KINDS[day % 5 == 0]
        lowest_bpm = 80.0 + 5.0 * (day * 4 // DAYS)
        for hand in ("left", "right"):
            for tempo_bpm in lowest_bpm + 5.0 * np.arange(4):
                held = min(int(tempo_bpm), int(tempo_bpm * rng.uniform(0.2, 1.4)))
                tags = RoundTags(
                    hand, float(tempo_bpm), 4, 60.0, technique, surface, loudness, None
                )
                when = NOW.date() - timedelta(days=DAYS - 1 - day)
                yield ChartRow(when, None, PLAYER, tags, held, None)


def _no_hearing(_path: object, _told: object) -> None:
    raise SystemExit("no take is heard here")


@contextmanager
def _client(folder: Path) -> Iterator[tuple[TestClient, Studio]]:
    """A client of the pages on a filled studio, and the studio."""
    studio = open_studio(folder / "studio", create=True, busy_timeout_s=3.0)
    try:
        import_rows(studio, list(_rounds(np.random.default_rng(SEED))), now=NOW)
        add_part(studio, EXAMPLE_TUNE, player=None, now=NOW)
        app = make_app(studio, hearing=_no_hearing, now=lambda: NOW, hosts=frozenset({"127.0.0.1"}))
        with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 50_000)) as client:
            yield client, studio
    finally:
        studio.close()


def _measured(client: TestClient, way: str, runs: int) -> dict[str, float]:
    """Times of a page by the clock and of the processor, and its size; not of the first opening."""
    spent_ms, worked_ms, size = [], [], 0
    for _ in range(runs + 1):
        start, start_cpu = time.perf_counter(), time.process_time()
        answer = client.get(way)
        spent_ms.append(1000.0 * (time.perf_counter() - start))
        worked_ms.append(1000.0 * (time.process_time() - start_cpu))
        if answer.status_code != 200:
            raise SystemExit(f"{way}: {answer.status_code}")
        size = len(answer.content)
    return {
        "median_ms": round(statistics.median(spent_ms[1:]), 1),
        "slowest_ms": round(max(spent_ms[1:]), 1),
        "median_processor_ms": round(statistics.median(worked_ms[1:]), 1),
        "size_kb": round(size / 1000.0, 1),
    }


def _after_rounds(studio: Studio) -> dict[str, float]:
    """Times of telling the reach after a round, by the clock and of the processor."""
    spent_ms, worked_ms = [], []
    for row in list(_rounds(np.random.default_rng(SEED + 1)))[-8:]:
        write_count(studio, row, now=NOW)
        start, start_cpu = time.perf_counter(), time.process_time()
        reach_of(studio, PLAYER, today=NOW.date())
        spent_ms.append(1000.0 * (time.perf_counter() - start))
        worked_ms.append(1000.0 * (time.process_time() - start_cpu))
    return {
        "median_ms": round(statistics.median(spent_ms), 1),
        "slowest_ms": round(max(spent_ms), 1),
        "median_processor_ms": round(statistics.median(worked_ms), 1),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    found = {}
    with tempfile.TemporaryDirectory() as folder, _client(Path(folder)) as (client, studio):
        for name, way in PAGES.items():
            found[name] = _measured(client, way, options.runs)
        after = _after_rounds(studio)
    if options.json:
        print(json.dumps({"rounds": 8 * DAYS, "pages": found, "after_a_round": after}, indent=2))
        return
    print(f"{8 * DAYS} rounds over {DAYS} days; {platform.machine()}, {options.runs} runs each")
    for name, figures in found.items():
        print(
            f"{name:30} median {figures['median_ms']:6.1f} ms   "
            f"slowest {figures['slowest_ms']:6.1f} ms   "
            f"processor {figures['median_processor_ms']:6.1f} ms   {figures['size_kb']:6.1f} kB"
        )
    print(
        f"{'the fits, after a round':30} median {after['median_ms']:6.1f} ms   "
        f"slowest {after['slowest_ms']:6.1f} ms   "
        f"processor {after['median_processor_ms']:6.1f} ms"
    )


if __name__ == "__main__":
    main()
