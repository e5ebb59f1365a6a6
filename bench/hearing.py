"""Let every listener hear one take, and measure what each said. One call is one row a listener."""

import json
import time
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import numpy as np
from bench_take import Truth
from break_rule import count_held_by_nearest
from measures import Answer, answer_of_reading, measure, paired
from peers import at_peer_rate, hear_with
from sound_files import decode
from sources import Kept, keep_take

__all__ = ["OURS", "Job", "ear_is_here", "hear_job"]

OURS = "loosehand"


@dataclass(frozen=True)
class Job:
    """One take for all listeners. ``peers`` maps names to their tuned settings."""

    tier: str
    seed: int
    folder: Path
    ours: bool
    peers: dict[str, dict]


def ear_is_here() -> bool:
    """Tell whether the project's own ear can be called."""
    try:
        import_module("loosehand.batch.hear_file")
    except ImportError:
        return False
    return True


def _nothing(reason: str, seconds: float, error: str | None) -> Answer:
    none = np.zeros(0)
    return Answer(
        none, None, None, None, None, None, None, None, None, reason, seconds, {"error": error}
    )


def _ours(kept: Kept) -> Answer:
    """Ask for a reading and read its JSON; the errors a user would see count as refusals."""
    from loosehand.batch.hear_file import hear_file
    from loosehand.errors import LoosehandError

    start = time.perf_counter()
    try:
        reading = hear_file(kept.path, kept.request)
        told = json.loads(json.dumps(reading.to_json()))
    except LoosehandError as error:
        return _nothing(str(error), time.perf_counter() - start, None)
    except Exception as error:
        # A crash is a result of the bench, not the end of it.
        return _nothing("crash", time.perf_counter() - start, f"{type(error).__name__}: {error}")
    return answer_of_reading(told, time.perf_counter() - start)


def _held_by(onset_s: np.ndarray, truth: Truth) -> int:
    if not truth.plays or not truth.judgeable:
        return 0
    shifted, _ = paired(truth.stroke_s, onset_s)
    return count_held_by_nearest(shifted, truth)


def _peer(name: str, sound: np.ndarray, truth: Truth, settings: dict) -> Answer:
    start = time.perf_counter()
    onset_s = hear_with(name, sound, settings)
    seconds = time.perf_counter() - start
    inside = onset_s >= truth.first_count_s - 0.5 * truth.place_s
    # Clicks of the count-in are no fault of a peer: it is scored from the first place on.
    onset_s = onset_s[inside]
    held = _held_by(onset_s, truth)
    return Answer(
        onset_s, None, None, None, None, None, held, truth.counts_offered, None, None, seconds
    )


def hear_job(job: Job) -> list[dict]:
    """Rows of one take: one for each listener, and one for true strokes with 1 ms of noise."""
    kept = keep_take(job.tier, job.seed, job.folder)
    truth = kept.truth
    common = {"tier": kept.tier, "seed": job.seed, "suffix": kept.path.suffix}
    rows = []
    if job.ours:
        rows.append({"listener": OURS} | measure(truth, _ours(kept), kept.held))
    if job.peers:
        sound = at_peer_rate(*decode(kept.path.read_bytes()))
        for name, settings in job.peers.items():
            row = measure(truth, _peer(name, sound, truth, settings), kept.held)
            rows.append({"listener": name} | row)
    if truth.plays and truth.judgeable:
        rows.append({"listener": "true strokes, 1 ms of noise"} | _ceiling(kept))
    return [common | row for row in rows]


def _ceiling(kept: Kept) -> dict:
    """How far the count itself hangs on a millisecond."""
    off = abs(kept.held - kept.held_jittered)
    offered = kept.truth.counts_offered
    return {
        "plays": True,
        "judgeable": True,
        "held_true": kept.held,
        "held_heard": kept.held_jittered,
        "counts_true": offered,
        "refused": False,
        "exact": off == 0,
        "within_1": off <= 1,
        "off": off,
        "ended_right": (kept.held_jittered >= offered) == (kept.held >= offered),
    }
