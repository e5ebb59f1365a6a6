"""Measure ear and judge, with peers in the same run.

    python bench/run.py --takes 300 --tiers all --workers 2
    python bench/run.py --takes 20 --tiers clean_pad,hard --peers none
    python bench/run.py --takes 300 --write-docs

Takes are made once and kept in ``bench/out/takes``; the report, the rows and the reliability
plot go to ``bench/out``, the report to ``docs/bench.md`` too where asked.
"""

import argparse
import json
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path

import one_thread
from hearing import OURS, Job, ear_is_here, hear_job
from measures import reliability
from peers import PEERS, available, warm_up
from report import markdown, summary
from sources import BENCH_SEED, tiers_here
from tuning import tuned_peers

from loosehand import __version__

__all__ = ["main"]

HERE = Path(__file__).parent
KEPT_FROM = "\n## The reach\n"


def _words() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--takes", type=int, default=20, help="takes a tier")
    parser.add_argument(
        "--tiers", default="all", help="all, or names with commas; name:60 for other than --takes"
    )
    parser.add_argument("--peers", default="all", help="all, none, or names with commas")
    parser.add_argument("--peer-takes", type=int, help="takes a tier for the peers, if fewer")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--tuning-takes", type=int, default=4, help="takes a tier to tune peers")
    parser.add_argument("--first-seed", type=int, default=BENCH_SEED)
    parser.add_argument("--out", type=Path, default=HERE / "out")
    parser.add_argument("--write-docs", action="store_true", help="write docs/bench.md too")
    return parser.parse_args()


def _chosen(word: str, there: list[str], what: str) -> list[str]:
    names = there if word == "all" else [] if word == "none" else word.split(",")
    for name in names:
        if name not in there:
            raise SystemExit(f"{what} {name!r}: want one of {', '.join(there)}")
    return names


def _takes_of_tiers(words: argparse.Namespace, here: list[str]) -> dict[str, int]:
    """How many takes of each tier are asked for."""
    names = here if words.tiers == "all" else words.tiers.split(",")
    takes = {}
    for name in names:
        tier, _, number = name.partition(":")
        takes[_chosen(tier, here, "tier")[0]] = int(number or words.takes)
    return takes


def _notes(
    words: argparse.Namespace, takes: dict[str, int], lacking: list[str], seconds: float
) -> list[str]:
    total = sum(takes.values())
    notes = [
        f"Loosehand {__version__}; {total} takes, seeds from {words.first_seed}; {seconds:.0f} s."
    ]
    if words.peer_takes is not None:
        notes.append(f"Peers heard the first {words.peer_takes} takes of every tier.")
    if not ear_is_here():
        notes.append("The project's own ear is not there yet: peers and truth only.")
    for name in PEERS:
        if name not in available():
            notes.append(f"Peer {name} is not installed and was left out.")
    for tier in lacking:
        notes.append(f"Tier {tier} was left out: its Debian packages are not installed.")
    return notes


def _plot(rows: list[dict], path: Path) -> None:
    """Draw the reliability of the confidence, where matplotlib is installed."""
    try:
        import matplotlib
    except ModuleNotFoundError:
        return
    matplotlib.use("Agg")
    from matplotlib import pyplot

    mine = [row for row in rows if row["listener"] == OURS]
    bins = [one for one in reliability(mine) if one["of"]]
    if not bins:
        return
    given = [one["given"] for one in bins]
    shares = [one["share"] for one in bins]
    low = [one["share"] - one["low"] for one in bins]
    high = [one["high"] - one["share"] for one in bins]
    figure, axes = pyplot.subplots(figsize=(5, 5))
    axes.plot([0, 1], [0, 1], color="0.7")
    axes.errorbar(given, shares, yerr=[low, high], fmt="o", color="black", capsize=3)
    axes.set(xlabel="confidence given", ylabel="share within one count", xlim=(0, 1), ylim=(0, 1))
    figure.savefig(path, dpi=120, bbox_inches="tight")


def main() -> None:
    """Run the bench."""
    words = _words()
    start = time.perf_counter()
    here, lacking = tiers_here()
    takes = _takes_of_tiers(words, here)
    tiers = list(takes)
    names = _chosen(words.peers, available(), "peer")
    words.out.mkdir(parents=True, exist_ok=True)
    rows: list[dict] = []
    one_thread.COMPILED.mkdir(parents=True, exist_ok=True)
    warm_up(names)
    with ProcessPoolExecutor(words.workers, get_context("spawn")) as pool:
        peers = tuned_peers(names, words.out, pool, words.tuning_takes) if names else {}
        jobs = [
            Job(
                tier,
                words.first_seed + at,
                words.out / "takes",
                ear_is_here(),
                peers if words.peer_takes is None or at < words.peer_takes else {},
            )
            for at in range(max(takes.values()))
            for tier in tiers
            if at < takes[tier]
        ]
        waiting = [pool.submit(hear_job, job) for job in jobs]
        for done, found in enumerate(as_completed(waiting), 1):
            rows += found.result()
            if done % 20 == 0 or done == len(jobs):
                spent = time.perf_counter() - start
                print(f"{done} of {len(jobs)} takes, {spent:.0f} s", flush=True)
    rows.sort(key=lambda row: (tiers.index(row["tier"]), row["seed"]))
    text = markdown(rows, peers, _notes(words, takes, lacking, time.perf_counter() - start))
    (words.out / "report.md").write_text(text)
    (words.out / "report.json").write_text(
        json.dumps({"figures": summary(rows), "peers": peers, "rows": rows}, indent=1)
    )
    _plot(rows, words.out / "reliability.png")
    if words.write_docs:
        write_page(HERE.parent / "docs" / "bench.md", text)
    print(text)


def write_page(page: Path, text: str) -> None:
    """Write the page of the docs, keeping what other parts of the bench have in it below."""
    below = page.read_text().partition(KEPT_FROM)[2] if page.exists() else ""
    page.write_text(f"{text}{KEPT_FROM}{below}" if below else text)


if __name__ == "__main__":
    main()
