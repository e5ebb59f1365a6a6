"""Train the network of ``loosehand.hear.stroke_net`` on simulated takes of both generators.

``python bench/train_stroke_net.py features FOLDER --takes 40`` makes band levels of training
takes; ``python bench/train_stroke_net.py train FOLDER OUT.npz --minutes 30 [--start OLD.npz]``
trains. It needs PyTorch, which nothing else here does. Seeds start at 5000: neither the bench's
nor those that the ear was tuned on. Bands are shaken, dropped and thinned at random, so that no
one microphone or codec is learnt.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from other_takes import other_take

from loosehand.hear.acoustics import above_floor, survey
from loosehand.hear.bands import BAND_EDGES_HZ, BandAnalysis
from loosehand.hear.bleed import ClickSound
from loosehand.hear.decode import read_mono
from loosehand.hear.stroke_net import FRAMES_AHEAD, SPAN
from loosehand.players.takes import make_take

FIRST_SEED = 5000
BANDS = len(BAND_EDGES_HZ) - 1
CHANNELS = 48
DILATIONS = (1, 2, 4, 8)
SEGMENT = 1024
FIRST_OUTPUT = (SPAN - FRAMES_AHEAD - 3) // 2
RISE_LAG_FRAMES = -0.79
BATCH = 32
RATE = 3e-3
OURS = ("clean_pad", "home_phone", "hard", "nobody")
OTHERS = ("pad", "phone", "hard", "nobody")


def features(data: bytes, suffix: str, tempo_bpm: float) -> tuple[NDArray, BandAnalysis]:
    """Levels of sound and click, shape (frames, 2 * bands), as the engine gives them."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"take{suffix}"
        path.write_bytes(data)
        sound = read_mono(path, longest_s=600.0)
    analysis = BandAnalysis(sound.sample_rate_hz)
    power = analysis.whole(sound.samples)
    known = survey(sound.samples, power, analysis, period_s=60.0 / tempo_bpm)
    if known.bleed is None:
        level = above_floor(power, known.floor)
        return np.concatenate((level, np.zeros_like(level)), axis=1), analysis
    clicks = ClickSound(known.bleed, analysis)
    rest = analysis.whole(sound.samples - clicks.samples(0, sound.samples.size))
    click_level = above_floor(clicks.power(0, rest.shape[0]), known.floor)
    return np.concatenate((above_floor(rest, known.floor), click_level), axis=1), analysis


def make_features(folder: Path, takes: int) -> None:
    """Write one file of features a take."""
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(FIRST_SEED, FIRST_SEED + takes):
        for tier in OURS:
            take = make_take(tier, seed, round_s=float(20 + seed % 11))
            level, analysis = features(take.coded, take.suffix, take.tempo_bpm)
            _keep(folder / f"ours-{tier}-{seed}", level, analysis, take.performance.stroke_time_s)
        for tier in OTHERS:
            other = other_take(tier, seed)
            tempo_bpm = other.request.tempo_bpm or 60.0 / other.truth.count_period_s
            level, analysis = features(other.data, other.suffix, tempo_bpm)
            _keep(folder / f"other-{tier}-{seed}", level, analysis, other.truth.stroke_s)


def _keep(path: Path, level: NDArray, analysis: BandAnalysis, stroke_s: NDArray) -> None:
    frame = (stroke_s - analysis.middle_s) / analysis.hop_s + RISE_LAG_FRAMES
    np.savez(f"{path}.npz", level=level.astype(np.float16).T, frame=frame)


def targets(frames: int, stroke_frame: NDArray) -> tuple[NDArray, NDArray]:
    """Stroke or not, and how far off, for every output (2 ms)."""
    stroke = np.zeros(frames // 2 + 2 * SPAN, dtype=np.float32)
    off = np.full(stroke.size, np.nan, dtype=np.float32)
    for output in (stroke_frame - 1.5) / 2:
        nearest = round(float(output))
        for at, weight in ((nearest - 1, 0.3), (nearest, 1.0), (nearest + 1, 0.3)):
            if 0 <= at < stroke.size:
                stroke[at] = max(stroke[at], weight)
                off[at] = output - at
    return stroke, off


def shaken(level, rng: np.random.Generator):
    """The same takes by other microphones: bands louder, softer, or missing; a tensor."""
    import torch

    takes = level.shape[0]
    gain = rng.normal(0, 0.15, (takes, BANDS)) + rng.normal(0, 0.2, (takes, 1))
    kept = np.ones((takes, BANDS))
    for row in kept:
        if rng.random() < 0.3:
            row[BANDS - int(rng.integers(1, 5)) :] = 0
        if rng.random() < 0.15:
            row[: int(rng.integers(1, 3))] = 0
        if rng.random() < 0.2:
            row[int(rng.integers(BANDS))] = 0
    kept = np.concatenate((kept, kept * (rng.random((takes, 1)) > 0.1)), axis=1)
    power = torch.tensor(10 ** np.tile(gain, (1, 2)), dtype=torch.float32)[:, :, None]
    louder = torch.log1p(torch.expm1(level * np.log(10)).clamp(min=0) * power) / np.log(10)
    return louder * torch.tensor(kept, dtype=torch.float32)[:, :, None]


def layers_of_net():
    """Layers in the order and the shapes of ``loosehand.hear.stroke_net``."""
    from torch import nn

    first = nn.Conv1d(2 * BANDS, CHANNELS, 12, stride=2)
    inner = [nn.Conv1d(CHANNELS, CHANNELS, 9, dilation=dilation) for dilation in DILATIONS]
    return nn.ModuleList([first, *inner, nn.Conv1d(CHANNELS, 2, 1)])


def told_by(layers, level):
    """What the network tells of levels of shape (takes, 2 * bands, frames)."""
    from torch.nn import functional

    for layer in layers[:-1]:
        level = functional.relu(layer(level))
    return layers[-1](level)


def train(folder: Path, out: Path, minutes: float, start: Path | None) -> None:
    """Train for some minutes and write the weights in the form the package reads."""
    import torch
    from torch.nn import functional, utils

    torch.manual_seed(0)
    rng = np.random.default_rng(0)
    takes, share = _takes(folder)
    layers = layers_of_net()
    if start is not None:
        _start_from(layers, start)
    steps = torch.optim.AdamW(layers.parameters(), RATE, weight_decay=1e-3)
    began, step = time.monotonic(), 0
    while (done := (time.monotonic() - began) / 60 / minutes) < 1:
        for group in steps.param_groups:
            group["lr"] = RATE * min(1, step / 200 + 0.05) * 0.5 * (1 + np.cos(np.pi * done)) + 1e-5
        level, stroke, off = _batch(takes, share, rng)
        told = told_by(layers, shaken(torch.tensor(level), rng))
        size = min(told.shape[2], stroke.shape[1])
        wanted, away = torch.tensor(stroke[:, :size]), torch.tensor(off[:, :size])
        odds = functional.binary_cross_entropy_with_logits(
            told[:, 0, :size], wanted, weight=1 + 2 * (wanted > 0.9)
        )
        near = ~torch.isnan(away)
        late = functional.smooth_l1_loss(told[:, 1, :size][near], away[near], beta=0.1)
        steps.zero_grad()
        (odds + 0.03 * late).backward()
        utils.clip_grad_norm_(layers.parameters(), 1.0)
        steps.step()
        step += 1
    stored = {}
    for index, layer in enumerate(layers):
        stored[f"weight_{index}"] = layer.weight.detach().numpy().transpose(2, 1, 0)
        stored[f"bias_{index}"] = layer.bias.detach().numpy()
    np.savez(out, **stored)


def _start_from(layers, start: Path) -> None:
    """Take over weights that were trained before."""
    import torch

    old = np.load(start)
    for index, layer in enumerate(layers):
        weight = torch.tensor(old[f"weight_{index}"].transpose(2, 1, 0))
        layer.load_state_dict({"weight": weight, "bias": torch.tensor(old[f"bias_{index}"])})


def _takes(folder: Path) -> tuple[list, NDArray]:
    """All takes, and how often each is drawn: hard and fast ones more often."""
    takes, share = [], []
    for path in sorted(folder.glob("*.npz")):
        kept = np.load(path)
        level, frame = kept["level"], kept["frame"]
        if level.shape[1] < SEGMENT + SPAN + 10:
            continue
        takes.append((level, *targets(level.shape[1], frame)))
        weight = 3.0 if "-hard-" in path.name else 1.5 if "phone" in path.name else 0.8
        fast = frame.size > 20 and np.median(np.diff(frame)) < 95
        share.append(weight * (2 if fast else 1) * level.shape[1])
    return takes, np.array(share) / np.sum(share)


def _batch(takes: list, share: NDArray, rng: np.random.Generator) -> tuple[NDArray, ...]:
    levels, strokes, offs = [], [], []
    for at in rng.choice(len(takes), BATCH, p=share):
        level, stroke, off = takes[int(at)]
        first = int(rng.integers(0, level.shape[1] - SEGMENT - SPAN - 4)) // 2 * 2
        levels.append(level[:, first : first + SEGMENT + SPAN].astype(np.float32))
        here = slice(first // 2 + FIRST_OUTPUT, first // 2 + FIRST_OUTPUT + SEGMENT // 2)
        strokes.append(stroke[here])
        offs.append(off[here])
    return np.array(levels), np.array(strokes), np.array(offs)


def main() -> None:
    """Make features, or train on them."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("act", choices=("features", "train"))
    words.add_argument("folder", type=Path)
    words.add_argument("out", type=Path, nargs="?")
    words.add_argument("--takes", type=int, default=40)
    words.add_argument("--minutes", type=float, default=30.0)
    words.add_argument("--start", type=Path)
    told = words.parse_args()
    if told.act == "features":
        make_features(told.folder, told.takes)
    elif told.out is None:
        sys.exit("Say where the weights are to go: train FOLDER OUT.npz")
    else:
        train(told.folder, told.out, told.minutes, told.start)


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    main()
