"""Fit the weights of ``loosehand.judge.confidence`` on simulated takes of other seeds.

``python bench/fit_confidence.py --takes 60`` prints offset and weights to be copied into the
module. Seeds start at 20, far from those that ``bench/run.py`` reports on. A doubtful start
is rare in these takes and too few to weigh, so its weight is set, not fitted; and the odds are
lowered a little, since a confidence that promises too much is worse than one too small.
"""

import argparse
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from other_takes import other_take
from true_count import true_held

from loosehand.hear.decode import read_mono
from loosehand.hear.heard import ListenRequest
from loosehand.hear.listen import listen
from loosehand.judge.confidence import SIGNS, signs_of_doubt
from loosehand.judge.read_take import judge_hands
from loosehand.players.takes import make_take

FIRST_SEED = 20
RIDGE = 10.0
CAUTION = 0.3
SET = {"start in doubt": -0.5}
OURS = ("clean_pad", "home_phone", "hard")
OTHERS = ("pad", "phone", "hard")
FloatArray = NDArray[np.float64]


def signs_and_truth(
    data: bytes, suffix: str, request: ListenRequest, held: int, folder: Path
) -> tuple[FloatArray, bool] | None:
    """Signs of doubt of one take, and whether its count came within one of the truth."""
    path = folder / f"take{suffix}"
    path.write_bytes(data)
    sound = read_mono(path, longest_s=600.0)
    heard = listen(sound.samples, request, sample_rate_hz=sound.sample_rate_hz)
    if heard.quality.refusal is not None or heard.grid is None:
        return None
    hands, _ = judge_hands(heard, request)
    signs = signs_of_doubt(heard, [(hand.grid, hand.hold, hand.strokes) for hand in hands])
    return signs, abs(min(hand.hold.count_held for hand in hands) - held) <= 1


def all_signs(takes: int) -> Iterator[tuple[FloatArray, bool]]:
    """Signs of many takes of every tier of both generators."""
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(FIRST_SEED, FIRST_SEED + takes):
            for tier in OURS:
                take = make_take(tier, seed)
                request = ListenRequest(
                    take.tempo_bpm, take.places_per_count, take.hand, take.counts_planned, None
                )
                held = take.performance.count_held
                told = signs_and_truth(take.coded, take.suffix, request, held, Path(folder))
                if told is not None:
                    yield told
            for tier in OTHERS:
                other = other_take(tier, seed)
                held = true_held(other.truth).count_held
                told = signs_and_truth(other.data, other.suffix, other.request, held, Path(folder))
                if told is not None:
                    yield told


def fit(signs: FloatArray, right: FloatArray) -> FloatArray:
    """Ridge logistic regression by Newton's method: offset, then weights."""
    given = np.array([SET.get(sign, np.nan) for sign in SIGNS])
    free = np.isnan(given)
    known = signs[:, ~free] @ given[~free]
    middle, spread = signs[:, free].mean(axis=0), signs[:, free].std(axis=0) + 1e-6
    design = np.c_[np.ones(len(signs)), (signs[:, free] - middle) / spread]
    weights = np.zeros(design.shape[1])
    for _ in range(60):
        chance = 1 / (1 + np.exp(-design @ weights - known))
        slope = design.T @ (chance - right) + RIDGE * np.r_[0, weights[1:]]
        bend = (design.T * (chance * (1 - chance))) @ design + RIDGE * np.eye(len(weights))
        weights -= np.linalg.solve(bend, slope)
    given[free] = weights[1:] / spread
    return np.r_[weights[0] - given[free] @ middle, given]


def chances(signs: FloatArray, weights: FloatArray) -> FloatArray:
    """Chance of being right by the weights, caution included."""
    return 1 / (1 + np.exp(-(weights[0] - CAUTION + signs @ weights[1:])))


def cross_validated(signs: FloatArray, right: FloatArray) -> str:
    """What the fit promises on takes that it was not fitted on."""
    fold = np.random.default_rng(0).integers(0, 10, len(right))
    told = np.empty(len(right))
    for one in range(10):
        out = fold == one
        told[out] = chances(signs[out], fit(signs[~out], right[~out]))
    sure = told >= 0.9
    return f"0.9 or more: {np.mean(sure):.1%} of takes, {np.mean(right[sure]):.1%} of these right"


def main() -> None:
    """Print the weights."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--takes", type=int, default=60)
    pairs = list(all_signs(words.parse_args().takes))
    signs, right = np.array([p[0] for p in pairs]), np.array([float(p[1]) for p in pairs])
    weights = fit(signs, right)
    print(cross_validated(signs, right))
    print(f"offset {weights[0] - CAUTION:.2f} from {len(pairs)} takes")
    for sign, weight in zip(SIGNS, weights[1:], strict=True):
        print(f"{weight:8.2f}  {sign}")


if __name__ == "__main__":
    main()
