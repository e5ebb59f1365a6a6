"""How often a steady hand is called tiring, and how well a planted onset is found.

Run: ``python bench/tiring.py [--takes N]`` prints both with Wilson 95 % intervals;
``--calibrate`` prints the quantiles of the evidence on steady hands from which the thresholds in
`loosehand.judge.tiring` were taken (another seed than the check's).
"""

import argparse
import itertools
import time

import numpy as np
from timing_split import corrected_player_ms, share_text

from loosehand.judge import tiring
from loosehand.judge.evenness import HeldStrokes

PLACES = 4
TEMPOS_BPM = (60, 80, 110, 140)
STEADY = ("ar 0.40", "ar 0.60", "ar 0.85", "heavy 0.70", "click 0.30")
PLANTED = (
    ("spread x1.6", "spread", "step", 1.6),
    ("spread x1.8", "spread", "step", 1.8),
    ("spread x2", "spread", "step", 2.0),
    ("spread to x2 in 12", "spread", "ramp", (2.0, 12)),
    ("level -3 dB in 8", "level", "ramp", (-3.0, 8)),
    ("level -3 dB in 16", "level", "ramp", (-3.0, 16)),
    ("drift 2 ms a count", "drift", "slope", 2.0),
    ("drift 4 ms a count", "drift", "slope", 4.0),
)
PROFILE_MS = np.array([0.0, 3.0, -2.0, 4.0])
PROFILE_DB = np.array([3.0, 0.0, 1.0, -1.0])


def autoregressive(rng, strokes, *, lag1, heavy):
    """Unit-variance autoregression of order one; heavy: Student's t with 5 degrees of freedom."""
    warm = 100
    noise = (
        rng.standard_t(5, strokes + warm) * np.sqrt(0.6)
        if heavy
        else rng.normal(size=strokes + warm)
    )
    noise *= np.sqrt(1.0 - lag1**2)
    series, now = np.empty(strokes + warm), 0.0
    for stroke in range(strokes + warm):
        now = lag1 * now + noise[stroke]
        series[stroke] = now
    return series[warm:]


def steady_hand(rng, kind, counts):
    """Asynchronies in ms and levels in dB of a steady minute, without the place profile."""
    strokes = counts * PLACES
    name, number = kind.split()
    level_lag1 = float(rng.uniform(0.0, 0.7))
    level_db = float(rng.uniform(0.7, 1.6)) * autoregressive(
        rng, strokes, lag1=level_lag1, heavy=name == "heavy"
    )
    if name == "click":
        parts_ms = (float(rng.uniform(5.0, 9.0)), float(rng.uniform(4.0, 8.0)))
        timing_ms = corrected_player_ms(
            rng,
            strokes,
            correction=float(number),
            click_every=PLACES,
            parts_ms=parts_ms,
            measurement_ms=0.3,
        )
    else:
        spread_ms = float(rng.uniform(8.0, 16.0))
        timing_ms = spread_ms * autoregressive(
            rng, strokes, lag1=float(number), heavy=name == "heavy"
        )
    return timing_ms, level_db


def planted_hand(rng, kind, counts, onset, sign, size):
    """Plant tiredness from a count on in a steady hand."""
    timing_ms, level_db = steady_hand(rng, kind, counts)
    since = np.maximum(np.arange(counts * PLACES) / PLACES - onset, 0.0)
    if sign == "spread" and isinstance(size, float):
        timing_ms = timing_ms * np.where(np.arange(counts * PLACES) < onset * PLACES, 1.0, size)
    elif sign == "spread":
        timing_ms = timing_ms * (1.0 + (size[0] - 1.0) * np.minimum(since / size[1], 1.0))
    elif sign == "level":
        level_db = level_db + size[0] * np.minimum(since / size[1], 1.0)
    else:
        timing_ms = timing_ms + size * since
    return timing_ms, level_db


def as_held(timing_ms, level_db, counts):
    """Held strokes of a one-minute take, with a place profile."""
    place_s = 60.0 / counts / PLACES
    place = np.arange(counts * PLACES)
    asynchrony_s = 1e-3 * (timing_ms + np.tile(PROFILE_MS, counts))
    time_s = np.maximum.accumulate(place * place_s + asynchrony_s) + 1e-9 * place
    level_db = level_db + np.tile(PROFILE_DB, counts)
    return HeldStrokes(place, time_s, asynchrony_s, level_db, PLACES, place_s)


def calibrate(takes):
    """Print quantiles of the largest evidence of each series on steady hands."""
    rng = np.random.default_rng(20)
    most = []
    for counts, kind in itertools.product(TEMPOS_BPM, STEADY):
        here = [
            [
                one.ratio.max()
                for one in tiring.tiring_evidence(as_held(*steady_hand(rng, kind, counts), counts))
            ]
            for _ in range(takes)
        ]
        most.append(here)
        print(
            counts, kind, np.quantile(here, [0.9, 0.97, 0.99], axis=0).round(1).tolist(), flush=True
        )
    every = np.concatenate(most)
    print("all, by spread, level, drift, at 0.9, 0.95, 0.97, 0.98, 0.985, 0.99, 0.995:")
    print(np.quantile(every, [0.9, 0.95, 0.97, 0.98, 0.985, 0.99, 0.995], axis=0).T.round(2))
    for column, name in enumerate(("spread", "level", "drift")):
        start = np.quantile(every[:, column], 0.95)
        beyond = every[every[:, column] > start, column] - start
        print(name, "mean beyond the 95 % point:", beyond.mean().round(2))


def measure_false_alarms(rng, takes):
    """Print the share of steady takes called tiring."""
    print("steady minutes called tiring")
    alarms, spent, total = 0, 0.0, 0
    for kind in STEADY:
        here = 0
        for counts in TEMPOS_BPM:
            for _ in range(takes):
                held = as_held(*steady_hand(rng, kind, counts), counts)
                begin = time.perf_counter()
                here += tiring.find_tiring(held).onset_count is not None
                spent += time.perf_counter() - begin
        alarms, total = alarms + here, total + takes * len(TEMPOS_BPM)
        print(f"  {kind:12s} {share_text(here, takes * len(TEMPOS_BPM))}", flush=True)
    print(f"  all          {share_text(alarms, total)}   {1e3 * spent / total:.1f} ms a take")


def measure_found(rng, takes):
    """Print the share of planted onsets found within six counts, and named right."""
    print("planted onsets: found within 6 counts, found at all, named right of those")
    within_all, total = 0, 0
    for title, sign, _, size in PLANTED:
        within = found = named = 0
        for take in range(takes):
            counts = TEMPOS_BPM[take % len(TEMPOS_BPM)]
            kind = STEADY[take // len(TEMPOS_BPM) % len(STEADY)]
            onset = int(counts * rng.uniform(0.3, 0.7))
            held = as_held(*planted_hand(rng, kind, counts, onset, sign, size), counts)
            reading = tiring.find_tiring(held)
            if reading.onset_count is None:
                continue
            found += 1
            named += reading.sign == sign
            within += abs(reading.onset_count - (onset + 1)) <= 6
        within_all, total = within_all + within, total + takes
        print(
            f"  {title:20s} {share_text(within, takes)}  {share_text(found, takes)}  "
            f"{share_text(named, found)}",
            flush=True,
        )
    print(f"  all                  {share_text(within_all, total)}")


def main():
    """Calibrate or measure."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--takes", type=int, default=100, help="takes a cell")
    parser.add_argument("--calibrate", action="store_true")
    words = parser.parse_args()
    if words.calibrate:
        calibrate(words.takes)
        return
    rng = np.random.default_rng(2015)
    measure_false_alarms(rng, words.takes)
    measure_found(rng, 2 * words.takes)


if __name__ == "__main__":
    main()
