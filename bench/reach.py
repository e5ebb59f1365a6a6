"""How near the truth the reach comes on invented charts, and how fast it is.

    python bench/reach.py accuracy        # errors and coverage after 7 and 30 ladders
    python bench/reach.py flat            # how often a flat hand is said to have improved
    python bench/reach.py laws            # what a wrong law costs
    python bench/reach.py speed           # one hand, and a studio on two processes
    python bench/reach.py update          # one more round, against fitting anew

Players are drawn by `loosehand.players.charts`, which knows nothing of the model. Every figure
carries its Monte Carlo error: shares Wilson's 95 % interval, roots of mean squares one standard
error. `plain` is what a reader of the chart would say without a model: the middle between the
highest tempo held for the minute and the lowest lost one over it, median of the last seven days.

Seeds: the bench scores players from 520000 on, and nothing of the project may be tuned on them;
to explore, hand in a seed under 1000.
"""

import one_thread  # noqa: F401  isort: skip  before any numeric library

import argparse
import math
import multiprocessing
import statistics
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from timing_split import wilson_interval

from loosehand.errors import LoosehandError
from loosehand.players.charts import (
    CHART_LAWS,
    ChartPlayer,
    ChartRound,
    LadderHabit,
    draw_chart_hands,
    draw_chart_player,
    play_ladders,
)
from loosehand.reach.seen import HandKind, RoundSeen

__all__ = ["main"]

SEED = 520_000
FIRST_DAY = date(2027, 1, 4)
LADDERS = (7, 30)
FLAT_LADDERS = 30
SPEED_DAYS = 90
STUDENTS = 40
BARS = {
    "error_60": {7: 3.0, 30: 1.5},
    "error_sustainable": {7: 3.0, 30: 1.5},
    "error_gain": {30: 1.5},
}
HABITS = {
    "plain": LadderHabit(),
    "near": LadderHabit(step_bpm=2.0, below_edge_bpm=10.0),
    "shuffled": LadderHabit(is_shuffled=True),
    "tested": LadderHabit(test_every_days=7),
}
# Streams of chance, so that no part of the bench meets the players of another.
STREAMS = {"accuracy": 0, "flat": 1, "laws": 2, "speed": 3, "update": 4}


@dataclass(frozen=True)
class Task:
    """One player to be drawn, played and fitted, from one stream of chance."""

    stream: str
    seed: int
    law: str
    player: int
    ladders: int
    habit: str = "plain"
    carry_over_share: float = 0.5
    is_flat: bool = False
    fit_laws: tuple[str, ...] | None = None

    def rng(self) -> np.random.Generator:
        """Chance of this player: the same for every law that is fitted to it."""
        law = CHART_LAWS.index(self.law)
        return np.random.default_rng(
            [self.seed, STREAMS[self.stream], law, self.ladders, self.player]
        )


# ---------------------------------------------------------------- from invented to seen


def kind_of(hand: str) -> HandKind:
    """Kind of the rounds of a hand on an invented chart."""
    places = 8 if hand == "alternating" else 4
    return HandKind(hand, "singles", "pad", "medium", places)


def seen(rounds: Iterable[ChartRound]) -> list[RoundSeen]:
    """Rounds as the model sees them."""
    return [
        RoundSeen(
            day=FIRST_DAY + timedelta(days=one.day),
            order=one.order,
            kind=kind_of(one.hand),
            tempo_bpm=one.tempo_bpm,
            round_s=one.round_s,
            count_held=one.count_held,
            held_on=one.held_on,
            rest_s=one.rest_s,
        )
        for one in rounds
    ]


def fit(rounds: Sequence[RoundSeen], hand: str, laws: tuple[str, ...] | None = None):
    """Fit one hand as of the last day of the chart."""
    from loosehand.reach.fit import fit_hand

    words = {} if laws is None else {"laws": laws}
    return fit_hand(rounds, kind=kind_of(hand), as_of=rounds[-1].day, **words)


def plain_minute_bpm(rounds: Sequence[ChartRound]) -> float | None:
    """Tempo held for a minute as read off the chart without a model."""
    edges = []
    for day in sorted({one.day for one in rounds})[-7:]:
        mine = [one for one in rounds if one.day == day]
        held = [one.tempo_bpm for one in mine if one.held_on]
        lost = [one.tempo_bpm for one in mine if not one.held_on]
        over = [tempo for tempo in lost if not held or tempo > max(held)]
        if held and over:
            edges.append(0.5 * (max(held) + min(over)))
    return statistics.median(edges) if edges else None


# ---------------------------------------------------------------- one player


def draw(task: Task, rng: np.random.Generator) -> ChartPlayer:
    """Draw the player of a task."""
    player = draw_chart_player(rng, task.law, carry_over_share=task.carry_over_share)
    return replace(player, gain_bpm_per_month=0.0) if task.is_flat else player


def score(task: Task) -> dict:
    """Draw a player, play the ladders, fit them, and compare with the truth."""
    rng = task.rng()
    player = draw(task, rng)
    rounds = play_ladders({"left": player}, range(task.ladders), rng, habit=HABITS[task.habit])
    row: dict = {"task": task, "player": player, "rounds": len(rounds)}
    begin = time.perf_counter()
    try:
        reach = fit(seen(rounds), "left", task.fit_laws)
    except LoosehandError as error:
        return row | {"failed": str(error)}
    row["fit_s"] = time.perf_counter() - begin
    for time_s in (60, 240):
        told = reach.tempo_held_bpm(float(time_s))
        row |= against(str(time_s), told, player.tempo_held_bpm(float(time_s)))
        row[f"beyond_{time_s}"] = reach.is_beyond_seen(float(time_s))
    told = reach.sustainable_bpm()
    if told is not None and player.sustainable_bpm is not None:
        row |= against("sustainable", told, player.sustainable_bpm)
    row |= against("gain", reach.trend_bpm_per_month(), player.gain_bpm_per_month)
    row["improved"] = reach.probability_improved(FIRST_DAY) >= 0.95
    row["law"] = reach.law
    plain_bpm = plain_minute_bpm(rounds)
    if plain_bpm is not None:
        row["error_plain"] = plain_bpm - player.tempo_held_bpm(60.0)
    return row


def against(name: str, told, truth: float) -> dict:
    """Error, coverage and width of an interval."""
    return {
        f"error_{name}": told.median - truth,
        f"covered_{name}": told.low80 <= truth <= told.high80,
        f"width_{name}": told.high80 - told.low80,
    }


def run(function: Callable, tasks: Sequence, workers: int) -> list:
    """Do all tasks, over processes that start fresh."""
    if workers <= 1:
        return [function(task) for task in tasks]
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        return pool.map(function, tasks, chunksize=max(1, min(8, len(tasks) // workers)))


# ---------------------------------------------------------------- figures with their errors


def rms(rows: Sequence[dict], key: str) -> tuple[float, float, int]:
    """Root of the mean square, its standard error (delta method) and how many."""
    squares = np.array([row[key] for row in rows if key in row]) ** 2
    if len(squares) < 2:
        return math.nan, math.nan, len(squares)
    root = math.sqrt(squares.mean())
    return root, float(squares.std(ddof=1) / (2.0 * root * math.sqrt(len(squares)))), len(squares)


def rms_text(rows: Sequence[dict], key: str, bar: float | None = None) -> str:
    """Root of the mean square as text, with its bar if there is one."""
    root, error, many = rms(rows, key)
    if not many:
        return "–"
    barred = "" if bar is None else f" ({bar:g}{'' if root <= bar else ', missed'})"
    return f"{root:.2f} ± {error:.2f}{barred}"


def mean_text(rows: Sequence[dict], key: str) -> str:
    """Mean with its standard error, as text."""
    values = np.array([row[key] for row in rows if key in row], dtype=float)
    if len(values) < 2:
        return "–"
    return f"{values.mean():+.2f} ± {values.std(ddof=1) / math.sqrt(len(values)):.2f}"


def share_text(rows: Sequence[dict], key: str) -> str:
    """Share with Wilson's 95 % interval, in per cent, as text."""
    values = [bool(row[key]) for row in rows if key in row]
    if not values:
        return "–"
    low, high = wilson_interval(sum(values), len(values))
    share = 100 * sum(values) / len(values)
    return f"{share:.1f} % [{100 * low:.1f}, {100 * high:.1f}] of {len(values)}"


def print_table(title: str, head: Sequence[str], lines: Iterable[Sequence[str]]) -> None:
    """Print a table as Markdown."""
    print(f"\n**{title}**\n")
    for line in (head, ["---"] * len(head), *lines):
        print("| " + " | ".join(line) + " |")
    print(flush=True)


def tell_failures(rows: Sequence[dict]) -> None:
    """Say which fits failed: they are in no figure but this one."""
    failed = [row["failed"] for row in rows if "failed" in row]
    if failed:
        print(f"{len(failed)} of {len(rows)} fits failed, such as: {failed[0]}")


# ---------------------------------------------------------------- the parts


def tasks_of(words: argparse.Namespace, stream: str, ladders: int, **more) -> list[Task]:
    """One task a player and law."""
    return [
        Task(stream, words.seed, law, player, ladders, words.habit, words.carry_over, **more)
        for law in words.laws
        for player in range(words.players)
    ]


def accuracy(words: argparse.Namespace) -> None:
    """Errors and coverage after a week and a month of daily ladders."""
    for ladders in LADDERS:
        rows = run(score, tasks_of(words, "accuracy", ladders), words.workers)
        tell_failures(rows)
        groups = {law: [row for row in rows if row["task"].law == law] for law in words.laws}
        print_accuracy(f"After {ladders} ladders, by the player's true law", groups, ladders)
        if ladders == max(LADDERS):
            print_accuracy("The same players, by carry-over", by_carry_over(rows), ladders)


def by_carry_over(rows: Sequence[dict]) -> dict[str, list[dict]]:
    """Rows of players who come back at once, and of those who do not."""
    return {
        "at once": [row for row in rows if row["player"].recovery_s is None],
        "slowly": [row for row in rows if row["player"].recovery_s is not None],
    }


def print_accuracy(title: str, groups: dict[str, list[dict]], ladders: int) -> None:
    """Print one table of errors and coverage."""

    def bar(key: str) -> float | None:
        return BARS[key].get(ladders)

    sustained = {
        name: [row for row in rows if row["task"].law == "hyperbolic"]
        for name, rows in groups.items()
    }
    lines = [
        [
            "tempo held 60 s, RMS error (bpm)",
            *_cells(groups, rms_text, "error_60", bar("error_60")),
        ],
        ["the same, mean error (bpm)", *_cells(groups, mean_text, "error_60")],
        ["the same, plain (RMS, bpm)", *_cells(groups, rms_text, "error_plain")],
        ["80 % interval at 60 s holds it", *_cells(groups, share_text, "covered_60")],
        ["its width (bpm)", *_cells(groups, mean_text, "width_60")],
        ["tempo held 240 s, RMS error (bpm)", *_cells(groups, rms_text, "error_240")],
        ["80 % interval at 240 s holds it", *_cells(groups, share_text, "covered_240")],
        ["240 s marked as beyond what was seen", *_cells(groups, share_text, "beyond_240")],
        [
            "sustainable tempo of hyperbolic players, RMS error (bpm)",
            *_cells(sustained, rms_text, "error_sustainable", bar("error_sustainable")),
        ],
        ["80 % interval holds it", *_cells(sustained, share_text, "covered_sustainable")],
        [
            "monthly gain, RMS error (bpm)",
            *_cells(groups, rms_text, "error_gain", bar("error_gain")),
        ],
        ["80 % interval of the gain holds it", *_cells(groups, share_text, "covered_gain")],
        ["best held-out law is the true one", *_cells(_with_law(groups), share_text, "law_right")],
        ["seconds a fit (median)", *[_median_text(rows, "fit_s") for rows in groups.values()]],
    ]
    print_table(title, ["", *groups], lines)


def _cells(groups: dict[str, list[dict]], tell: Callable, *words) -> list[str]:
    return [tell(rows, *words) for rows in groups.values()]


def _with_law(groups: dict[str, list[dict]]) -> dict[str, list[dict]]:
    return {
        name: [{"law_right": row["law"] == row["task"].law} for row in rows if "law" in row]
        for name, rows in groups.items()
    }


def _median_text(rows: Sequence[dict], key: str) -> str:
    values = [row[key] for row in rows if key in row]
    return f"{statistics.median(values):.3f}" if values else "–"


def flat(words: argparse.Namespace) -> None:
    """How often a flat hand is said to have improved, and a rising one not."""
    still = run(score, tasks_of(words, "flat", FLAT_LADDERS, is_flat=True), words.workers)
    drawn = run(score, tasks_of(words, "flat", FLAT_LADDERS), words.workers)
    tell_failures(still + drawn)
    lines = []
    for law in (*words.laws, "all"):
        mine = [row for row in still if law in (row["task"].law, "all")]
        moving = [row for row in drawn if law in (row["task"].law, "all")]
        rising = [row for row in moving if row["player"].gain_bpm_per_month >= 1.5]
        falling = [row for row in moving if row["player"].gain_bpm_per_month < -0.2]
        cells = [share_text(some, "improved") for some in (mine, rising, falling)]
        lines.append([law, *cells, rms_text(mine, "error_gain")])
    head = ["law", "flat (bar: under 7 %)", "rising 1.5 bpm a month or more", "falling"]
    title = f"Said to have improved (95 %) since the first of {FLAT_LADDERS} days"
    print_table(title, [*head, "gain of the flat, RMS error (bpm)"], lines)


def laws(words: argparse.Namespace) -> None:
    """What it costs to take one law alone, for players of each."""
    ladders = max(LADDERS)
    choices: tuple[tuple[str, ...] | None, ...] = (None, *((law,) for law in CHART_LAWS))
    lines = []
    for choice in choices:
        rows = run(score, tasks_of(words, "laws", ladders, fit_laws=choice), words.workers)
        tell_failures(rows)
        for law in words.laws:
            mine = [row for row in rows if row["task"].law == law]
            best = [{"right": row["law"] == law} for row in mine if "law" in row]
            lines.append(
                [
                    "all, weighed" if choice is None else f"{choice[0]} alone",
                    law,
                    rms_text(mine, "error_60"),
                    share_text(mine, "covered_60"),
                    rms_text(mine, "error_240"),
                    share_text(mine, "covered_240"),
                    share_text(best, "right") if choice is None else "",
                ]
            )
    head = ["fitted", "true law", "RMS at 60 s (bpm)", "80 % holds", "RMS at 240 s (bpm)"]
    title = f"What a law costs, after {ladders} ladders"
    print_table(title, [*head, "80 % holds", "best held-out law is the true one"], lines)


# ---------------------------------------------------------------- speed


def student_rounds(task: Task) -> list[RoundSeen]:
    """Rounds of weak hand, strong hand and alternating of one student."""
    rng = task.rng()
    hands = draw_chart_hands(rng, task.law, carry_over_share=task.carry_over_share)
    return seen(play_ladders(hands, range(task.ladders), rng, habit=HABITS[task.habit]))


def fit_student(rounds: Sequence[RoundSeen]) -> int:
    """Fit the three hands of a student."""
    for hand in ("left", "right", "alternating"):
        fit(rounds, hand)
    return len(rounds)


def speed(words: argparse.Namespace) -> None:
    """Time one hand's fit, and that of a whole studio."""
    lines = []
    for name, habit in (("until lost", LadderHabit()), ("full", LadderHabit(is_full=True))):
        spent, many = [], 0
        for player in range(5):
            task = Task("speed", words.seed, CHART_LAWS[player % 3], player, SPEED_DAYS)
            rng = task.rng()
            rounds = seen(
                play_ladders({"left": draw(task, rng)}, range(SPEED_DAYS), rng, habit=habit)
            )
            fit(rounds[:40], "left")
            begin = time.perf_counter()
            fit(rounds, "left")
            spent.append(time.perf_counter() - begin)
            many = max(many, len(rounds))
        cells = [f"{statistics.median(spent):.3f}", f"{max(spent):.3f}", str(many)]
        lines.append([f"one hand, {SPEED_DAYS} days, ladders {name}", *cells, "0.3"])
    tasks = [
        Task("speed", words.seed, CHART_LAWS[one % 3], 100 + one, SPEED_DAYS)
        for one in range(words.students)
    ]
    studio = run(student_rounds, tasks, words.workers)
    begin = time.perf_counter()
    many = sum(run(fit_student, studio, words.workers))
    spent_s = time.perf_counter() - begin
    name = f"{words.students} students, 3 hands, {SPEED_DAYS} days, {words.workers} processes"
    lines.append([name, f"{spent_s:.2f}", "–", str(many), "20"])
    print_table("Speed", ["", "seconds (median)", "most", "rounds (most)", "bar"], lines)


def update(words: argparse.Namespace) -> None:
    """One more round: how long it takes, and how far it is from fitting anew."""
    rows = []
    for number in range(words.players):
        law = CHART_LAWS[number % 3]
        rows.append(score_update(Task("update", words.seed, law, number, 10 + number % 21)))
    milliseconds = [row["update_ms"] for row in rows]
    lines = [
        ["time (ms), median", f"{statistics.median(milliseconds):.1f}", ""],
        ["time (ms), 95th percentile", f"{np.quantile(milliseconds, 0.95):.1f}", "50"],
        ["tempo held 60 s within 0.2 bpm of the refit", share_text(rows, "near_bpm"), ""],
        ["the same, largest difference (bpm)", f"{max(row['bpm'] for row in rows):.3f}", "0.2"],
        ["chance within 2 points of the refit", share_text(rows, "near_chance"), ""],
        ["the same, largest (points)", f"{max(row['points'] for row in rows):.2f}", "2"],
    ]
    print_table(f"One more round, {len(rows)} players", ["", "", "bar"], lines)


def score_update(task: Task) -> dict:
    """Update by the last round of a chart, and compare with fitting all of it."""
    from loosehand.reach.fit import refit_hand

    rng = task.rng()
    player = draw(task, rng)
    habit = HABITS[task.habit]
    rounds = seen(play_ladders({"left": player}, range(task.ladders), rng, habit=habit))
    before = fit(rounds[:-1], "left")
    begin = time.perf_counter()
    after = refit_hand(before, rounds, as_of=rounds[-1].day)
    update_ms = 1e3 * (time.perf_counter() - begin)
    anew = fit(rounds, "left")
    bpm, points = 0.0, 0.0
    for time_s in (15.0, 60.0):
        held = [one.tempo_held_bpm(time_s).median for one in (after, anew)]
        bpm = max(bpm, abs(held[0] - held[1]))
        for tempo_bpm in held[1] + np.array([-3.0, 0.0, 3.0]):
            chances = [
                one.chance_of_holding(tempo_bpm=float(tempo_bpm), time_s=time_s)
                for one in (after, anew)
            ]
            points = max(points, 100.0 * abs(chances[0] - chances[1]))
    return {
        "update_ms": update_ms,
        "bpm": bpm,
        "points": points,
        "near_bpm": bpm <= 0.2,
        "near_chance": points <= 2.0,
    }


PARTS = {"accuracy": accuracy, "flat": flat, "laws": laws, "speed": speed, "update": update}


def main() -> None:
    """Measure one part."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("part", choices=PARTS)
    parser.add_argument("--players", type=int, default=400, help="players a figure")
    parser.add_argument("--laws", nargs="+", choices=CHART_LAWS, default=list(CHART_LAWS))
    parser.add_argument("--habit", choices=HABITS, default="plain", help="how ladders are played")
    parser.add_argument("--carry-over", type=float, default=0.5, help="share that recovers slowly")
    parser.add_argument("--students", type=int, default=STUDENTS)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=SEED, help="under 1000 to explore")
    words = parser.parse_args()
    begin = time.perf_counter()
    print(
        f"{words.part}: {words.players} players a law, seed {words.seed}, ladders {words.habit}, "
        f"{100 * words.carry_over:.0f} % recover slowly"
    )
    PARTS[words.part](words)
    print(f"{time.perf_counter() - begin:.0f} s")


if __name__ == "__main__":
    main()
