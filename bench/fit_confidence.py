"""Fit the weights of ``loosehand.judge.confidence`` on simulated takes of other seeds.

``python bench/fit_confidence.py --takes 40`` prints offset and weights to be copied into the
module. Seeds start at 20, far from those that ``bench/run.py`` reports on.
"""

import argparse
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.decode import read_mono
from loosehand.hear.heard import ListenRequest
from loosehand.hear.listen import listen
from loosehand.judge.confidence import SIGNS, signs_of_doubt
from loosehand.judge.read_take import judge_hands
from loosehand.players.takes import Take, make_take

FIRST_SEED = 20
RIDGE = 10.0
TIERS = ("clean_pad", "home_phone", "hard")


def signs_and_truth(take: Take, folder: Path) -> tuple[NDArray[np.float64], bool] | None:
    """Signs of doubt of one take, and whether its count came within one of the truth."""
    path = folder / f"take{take.suffix}"
    path.write_bytes(take.coded)
    request = ListenRequest(take.tempo_bpm, take.places_per_count, take.hand, None, None)
    sound = read_mono(path, longest_s=600.0)
    heard = listen(sound.samples, request, sample_rate_hz=sound.sample_rate_hz)
    if heard.quality.refusal is not None or heard.grid is None:
        return None
    hands, _ = judge_hands(heard, request)
    signs = signs_of_doubt(heard, [(hand.grid, hand.hold, hand.strokes) for hand in hands])
    held = min(hand.hold.count_held for hand in hands)
    return signs, abs(held - take.performance.count_held) <= 1


def all_signs(takes: int) -> Iterator[tuple[NDArray[np.float64], bool]]:
    """Signs of many takes of every tier."""
    with tempfile.TemporaryDirectory() as folder:
        for tier in TIERS:
            for seed in range(FIRST_SEED, FIRST_SEED + takes):
                told = signs_and_truth(make_take(tier, seed), Path(folder))
                if told is not None:
                    yield told


def fit(signs: NDArray[np.float64], right: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ridge logistic regression by Newton's method: offset, then weights."""
    middle, spread = signs.mean(axis=0), signs.std(axis=0) + 1e-6
    design = np.c_[np.ones(len(signs)), (signs - middle) / spread]
    weights = np.zeros(design.shape[1])
    for _ in range(60):
        chance = 1 / (1 + np.exp(-design @ weights))
        slope = design.T @ (chance - right) + RIDGE * np.r_[0, weights[1:]]
        bend = (design.T * (chance * (1 - chance))) @ design + RIDGE * np.eye(len(weights))
        weights -= np.linalg.solve(bend, slope)
    scaled = weights[1:] / spread
    return np.r_[weights[0] - scaled @ middle, scaled]


def main() -> None:
    """Print the weights."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--takes", type=int, default=40)
    pairs = list(all_signs(words.parse_args().takes))
    weights = fit(np.array([p[0] for p in pairs]), np.array([float(p[1]) for p in pairs]))
    print(f"offset {weights[0]:.2f} from {len(pairs)} takes")
    for sign, weight in zip(SIGNS, weights[1:], strict=True):
        print(f"{weight:8.2f}  {sign}")


if __name__ == "__main__":
    main()
