"""Tune the peers, on takes with seeds of their own, once; the result is kept on disk."""

import json
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from pathlib import Path

import mir_eval
import numpy as np
from measures import paired
from peers import PEERS, at_peer_rate, scores, tune
from sound_files import decode
from sources import TUNING_SEED, keep_take

__all__ = ["tuned_peers"]

_TUNING_TIERS = ("clean_pad", "home_phone", "hard", "other-pad", "other-phone", "other-hard")


def _score(onset_s: np.ndarray, truth) -> float:
    """F at 10 ms, constant lag taken out, from the first place on."""
    onset_s = onset_s[onset_s >= truth.first_count_s - 0.5 * truth.place_s]
    heard_s, _ = paired(truth.stroke_s, onset_s)
    return float(mir_eval.onset.f_measure(truth.stroke_s, heard_s, window=0.01)[0])


def _tables(job: tuple[str, int], folder: Path, names: list[str]) -> dict[str, np.ndarray]:
    """Scores of all settings of all peers on the first 20 s of one tuning take."""
    kept = keep_take(*job, folder)
    sound = at_peer_rate(*decode(kept.path.read_bytes()))
    end_s = kept.truth.first_count_s + 20.0
    sound = sound[: int(end_s * 44100)]
    inside = kept.truth.stroke_s < end_s - 0.1
    truth = replace(kept.truth, stroke_s=kept.truth.stroke_s[inside])
    return {
        name: scores(name, sound, lambda onset_s: _score(onset_s[onset_s < end_s - 0.1], truth))
        for name in names
    }


def tuned_peers(
    names: list[str], folder: Path, pool: Executor, takes_a_tier: int
) -> dict[str, dict]:
    """Best settings of each peer over all tuning takes of three tiers of both generators."""
    note = folder / f"tuned-{takes_a_tier}.json"
    known = json.loads(note.read_text()) if note.exists() else {}
    wanted = [name for name in names if name not in known]
    if wanted:
        jobs = [(tier, TUNING_SEED + at) for tier in _TUNING_TIERS for at in range(takes_a_tier)]
        work = partial(_tables, folder=folder / "takes", names=wanted)
        tables = list(pool.map(work, jobs))
        for name in wanted:
            known[name] = tune(name, [table[name] for table in tables])
        note.write_text(json.dumps(known, indent=1))
    return {name: known[name] for name in names if name in PEERS}
