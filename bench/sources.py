"""Where the bench's takes come from, tier by tier, and the folder that keeps them.

Tiers without a dash come from ``loosehand.players``; ``other-`` tiers from the second generator;
``sampled`` are the first players hitting real drums; ``spoken`` are hard takes of the second
generator with a speech synthesiser counting aloud. Bench seeds, tuning seeds and the small seeds
that tests and tuning of the ear may use are apart.
"""

import hashlib
import pickle
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from bench_take import BenchTake, Truth
from other_takes import OTHER_TIERS, other_take
from sampled import draw_sampled, sampled_drums
from spoken import can_speak, counted_words
from true_count import true_held

from loosehand.hear.heard import ListenRequest

__all__ = ["BENCH_SEED", "TIERS", "TUNING_SEED", "Kept", "keep_take", "make", "tiers_here"]

BENCH_SEED = 500_000
TUNING_SEED = 900_000
OUR_TIERS = ("clean_pad", "home_phone", "hard", "nobody", "unjudgeable")
TIERS = (*OUR_TIERS, *(f"other-{tier}" for tier in OTHER_TIERS), "sampled", "spoken")


@dataclass(frozen=True)
class Kept:
    """A take on disk: its file, what is told, its truth and the count truly held.

    ``held_jittered`` is the count of true strokes with 1 ms of noise: how far the best listener
    could get under this definition.
    """

    name: str
    tier: str
    path: Path
    request: ListenRequest
    truth: Truth
    held: int
    held_jittered: int


def tiers_here() -> tuple[list[str], list[str]]:
    """Tiers that can be made here, and those that lack their packages."""
    lacking = [] if sampled_drums() else ["sampled"]
    lacking += [] if can_speak() else ["spoken"]
    return [tier for tier in TIERS if tier not in lacking], lacking


def make(tier: str, seed: int) -> BenchTake:
    """Make a take of any tier."""
    if tier.startswith("other-"):
        return other_take(tier.removeprefix("other-"), seed)
    if tier == "spoken":
        return other_take("hard", seed, words=counted_words)
    if tier == "sampled":
        return _ours("home_phone" if seed % 2 else "clean_pad", seed, draw_sampled(seed))
    return _ours(tier, seed, None)


def _ours(tier: str, seed: int, drum) -> BenchTake:
    from loosehand.players.takes import make_take

    take = make_take(tier, seed, voices=None if drum is None else (drum, drum))
    done = take.performance
    hand = np.array([int(side == "right") for side in done.stroke_hand], dtype=np.int64)
    truth = Truth(
        stroke_s=done.stroke_time_s,
        level_db=done.level_db,
        hand=hand,
        place=done.stroke_place,
        first_count_s=done.first_count_s,
        count_period_s=done.count_period_s,
        counts_offered=done.counts_offered,
        places_per_count=done.places_per_count,
        hands=done.hand_asked,
        plays=take.kind != "nobody",
        judgeable=take.kind in ("played", "nobody"),
        kind=(done.failure or "none") if take.kind == "played" else take.kind,
    )
    request = ListenRequest(
        tempo_bpm=take.tempo_bpm,
        places_per_count=take.places_per_count,
        hand=take.hand,
        counts_planned=take.counts_planned,
        first_count_s=None,
    )
    named = tier if drum is None else "sampled"
    return BenchTake(f"{named}-{seed}", named, take.coded, take.suffix, request, truth)


def _version(tier: str) -> str:
    """Short hash of all that makes the takes of a tier."""
    import loosehand

    here, package = Path(__file__).parent, Path(loosehand.__file__).parent
    files = [here / "truth.py", here / "true_count.py", here / "sources.py"]
    if tier.startswith("other-") or tier == "spoken":
        files += [*sorted(here.glob("other_*.py")), here / "sound_files.py", here / "spoken.py"]
    else:
        files += [*sorted((package / "players").glob("*.py")), here / "sampled.py"]
        files += sorted((package / "click").glob("*.py"))
    digest = hashlib.sha256()
    for file in files:
        digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def keep_take(tier: str, seed: int, folder: Path) -> Kept:
    """Give a take from the folder, made first where it is not there yet."""
    home = folder / f"{tier}-{_version(tier)}"
    home.mkdir(parents=True, exist_ok=True)
    note = home / f"{seed}.truth"
    if note.exists():
        kept = pickle.loads(note.read_bytes())
        return replace(kept, path=home / kept.path.name)
    take = make(tier, seed)
    path = home / f"{seed}{take.suffix}"
    path.write_bytes(take.data)
    judged = take.truth.plays and take.truth.judgeable
    held = true_held(take.truth).count_held if judged else 0
    jittered = true_held(take.truth, jitter_s=1e-3, seed=seed).count_held if judged else 0
    kept = Kept(take.name, tier, path, take.request, take.truth, held, jittered)
    note.write_bytes(pickle.dumps(kept))
    return kept
