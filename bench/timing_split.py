"""How well the timekeeper/motor/correction split finds what was planted.

Run: ``python bench/timing_split.py [--takes N]``. For each planted correction and click it prints
the share of takes in which a figure was told, and of those the share within 15 % of the truth
(a correction: within 15 % or 0.05, whichever is more), each with its Wilson 95 % interval; how
often the 80 % range holds the truth; and, for all takes, told or not, the share within 15 % of
the same likelihood and of bounded generalised least squares (own writing of the published
method), so that the two methods are compared on the same takes.
"""

import argparse
import time
from unittest import mock

import numpy as np

from loosehand.judge import variability
from loosehand.judge.variability import SplitRequest, correction_split

STROKES = 400
TOLERANCE = 0.15
PLAYERS_MS = ((10.0, 5.0), (8.0, 7.0))
FIGURES = ("timekeeper_ms", "motor_ms", "correction")


def wilson_interval(hits, trials):
    """95 % interval of a share (Wilson 1927); (0, 1) with no trial."""
    if trials == 0:
        return 0.0, 1.0
    z2 = 1.959964**2
    share = hits / trials
    middle = (share + z2 / (2 * trials)) / (1 + z2 / trials)
    reach = np.sqrt(z2 * (share * (1 - share) + z2 / (4 * trials)) / trials) / (1 + z2 / trials)
    return max(middle - reach, 0.0), min(middle + reach, 1.0)


def share_text(hits, trials):
    """Share with its interval, as text."""
    if trials == 0:
        return "   -              "
    low, high = wilson_interval(hits, trials)
    return f"{hits / trials:5.2f} [{low:.2f}, {high:.2f}]"


def corrected_player_ms(rng, strokes, *, correction, click_every, parts_ms, measurement_ms):
    """Asynchronies in ms of a player of the linear model, from its own recursion.

    Starts from nought, and from the steady state where there is one to reach.
    """
    warm = 0 if correction == 0.0 else 50 * click_every
    timekeeper = rng.normal(0.0, parts_ms[0], strokes + warm)
    motor = rng.normal(0.0, parts_ms[1], strokes + warm)
    asynchrony, clock = np.empty(strokes + warm), 0.0
    for place in range(strokes + warm):
        asynchrony[place] = clock + motor[place]
        put_right = correction * asynchrony[place] if place % click_every == 0 else 0.0
        clock += timekeeper[place] - put_right
    return asynchrony[warm:] + rng.normal(0.0, measurement_ms, strokes)


def bounded_least_squares(asynchrony_ms, click_every, measurement_ms):
    """Timekeeper, motor, correction by bounded generalised least squares.

    Jacoby, Tishby, Repp, Ahissar, Keller (2015), Timing & Time Perception 3:52-87: least squares
    with the residuals' tridiagonal covariance, 20 rounds, motor variance held between nought and
    timekeeper variance. Own writing; the correction acts only where a click sounds.
    """
    away = asynchrony_ms - asynchrony_ms.mean()
    change = np.diff(away)
    at_click = away[:-1] * (np.arange(change.size) % click_every == 0)
    apart = np.abs(np.subtract.outer(np.arange(change.size), np.arange(change.size)))
    covariance = np.eye(change.size)
    for _ in range(20):
        weighted = np.linalg.solve(covariance, at_click)
        correction = -float(weighted @ change) / float(weighted @ at_click)
        rest = change + correction * at_click
        rest = rest - rest.mean()
        variance = float(rest @ rest) / (rest.size - 1)
        motor = min(max(-float(rest[1:] @ rest[:-1]) / (rest.size - 2), 0.0), variance / 3.0)
        covariance = np.where(apart == 0, variance, np.where(apart == 1, -motor, 0.0))
        covariance += 1e-9 * np.eye(change.size)
    motor_ms = np.sqrt(max(motor - measurement_ms**2, 0.0))
    return np.sqrt(variance - 2.0 * motor), motor_ms, correction


def near(value, truth, name):
    """Whether a figure is as near the truth as the bar asks."""
    least = variability.CORRECTION_TOLERANCE if name == "correction" else 0.0
    return abs(value - truth) <= max(TOLERANCE * truth, least)


def one_cell(rng, *, takes, click_every, correction, parts_ms, measurement_ms):
    """Print one cell: one planted correction, click and player."""
    request = SplitRequest(4, click_every, 0, 1e-3 * measurement_ms)
    truth = dict(zip(FIGURES, (*parts_ms, correction), strict=True))
    told, good, held, always, peer = ({name: 0 for name in FIGURES} for _ in range(5))
    spent = 0.0
    for _ in range(takes):
        asynchrony_ms = corrected_player_ms(
            rng,
            STROKES,
            correction=correction,
            click_every=click_every,
            parts_ms=parts_ms,
            measurement_ms=measurement_ms,
        )
        begin = time.perf_counter()
        split = correction_split(np.arange(STROKES), 1e-3 * asynchrony_ms, request=request)
        spent += time.perf_counter() - begin
        with mock.patch.object(variability, "LEAST_SURE", 0.0):
            anyway = correction_split(np.arange(STROKES), 1e-3 * asynchrony_ms, request=request)
        other = bounded_least_squares(asynchrony_ms, click_every, measurement_ms)
        for name, peer_value in zip(FIGURES, other, strict=True):
            figure = getattr(split, name)
            held[name] += figure.low80 <= truth[name] <= figure.high80
            always[name] += near(getattr(anyway, name).told or 0.0, truth[name], name)
            peer[name] += near(peer_value, truth[name], name)
            if figure.told is not None:
                told[name] += 1
                good[name] += near(figure.told, truth[name], name)
    for name in FIGURES:
        print(
            f"{click_every:5d} {correction:10.2f} {parts_ms[0]:5.0f}/{parts_ms[1]:<3.0f} "
            f"{name:14s} {share_text(told[name], takes)} {share_text(good[name], told[name])} "
            f"{held[name] / takes:6.2f} {always[name] / takes:8.2f} {peer[name] / takes:6.2f}",
            flush=True,
        )
    return {name: (told[name], good[name]) for name in FIGURES}, spent


def main():
    """Print all cells and the sum over them."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--takes", type=int, default=60, help="takes a cell")
    parser.add_argument("--measurement-ms", type=float, default=0.3)
    words = parser.parse_args()
    rng = np.random.default_rng(1973)
    print(
        f"{STROKES} strokes a take, {words.takes} takes a cell, ear's error "
        f"{words.measurement_ms} ms; SD timekeeper/motor in ms"
    )
    print(
        "click correction  player figure         told               of told, within 15 % "
        "range80 | all takes: ours  least squares"
    )
    total = {name: [0, 0, 0] for name in FIGURES}
    spent, cells = 0.0, 0
    for click_every in (1, 4, 8):
        for correction in (0.0, 0.25, 0.5, 0.8):
            for parts_ms in PLAYERS_MS:
                found, seconds = one_cell(
                    rng,
                    takes=words.takes,
                    click_every=click_every,
                    correction=correction,
                    parts_ms=parts_ms,
                    measurement_ms=words.measurement_ms,
                )
                spent += seconds
                cells += 1
                for name, (told, good) in found.items():
                    total[name] = [total[name][0] + told, total[name][1] + good, cells]
    for name, (told, good, _) in total.items():
        print(
            f"all cells: {name:14s} told {share_text(told, cells * words.takes)}  "
            f"of told within 15 %: {share_text(good, told)}"
        )
    print(f"time for one split: {1e3 * spent / (cells * words.takes):.1f} ms")


if __name__ == "__main__":
    main()
