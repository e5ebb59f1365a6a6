"""How well a planned workout meets the time that was asked for.

Run: ``python bench/plan_length.py [--players N]``. Invented players whose hands follow one of three
laws play the plan that was made from a mistaken idea of them; the plan is told what came of each
round and changes what is left. Printed: the share of workouts whose real length lies within 10 % of
the time asked for, with Wilson 95 % intervals, as planned at first and as changed while playing.

The players here share no code with ``loosehand.players`` or ``loosehand.reach``, and what a round
costs besides its playing is drawn anew, not taken from the planner.
"""

import argparse
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from loosehand.rounds.conduct import Outcome
from loosehand.rounds.day_known import PastRound, PlanAsked, PlayerToday
from loosehand.rounds.plan import plan_workout
from loosehand.rounds.plan_running import next_rounds

BUDGETS_MIN = (10, 15, 20, 30, 45)
WITHIN = 0.10
SEED = 530000
LAWS = ("hyperbolic", "top rate", "log-linear")
TODAY = date(2027, 3, 15)


@dataclass(frozen=True)
class TrueHand:
    """A hand whose law is known: tempo held for a time, form of the day, noise of a round."""

    law: str
    minute_bpm: float
    over_bpm: float  # tempo held for ten seconds over that held for a minute
    form_bpm: float
    noise_bpm: float

    def held_bpm(self, time_s):
        """Tempo held so long on a day without form or noise."""
        if self.law == "log-linear":
            return self.minute_bpm - self.over_bpm * np.log(time_s / 60.0) / np.log(6.0)
        top_s = 15.0 if self.law == "top rate" else 0.0
        shape = 1.0 / (time_s + top_s) - 1.0 / (60.0 + top_s)
        return self.minute_bpm + self.over_bpm * shape / (
            1.0 / (10.0 + top_s) - 1.0 / (60.0 + top_s)
        )

    def hold_s(self, tempo_bpm, shift_bpm):
        """Longest time at which the shifted curve still holds the tempo; inf beyond an hour."""
        low_s, high_s = np.full_like(shift_bpm, 0.5), np.full_like(shift_bpm, 3600.0)
        for _ in range(40):
            middle_s = np.sqrt(low_s * high_s)
            holds = self.held_bpm(middle_s) + shift_bpm >= tempo_bpm
            low_s, high_s = np.where(holds, middle_s, low_s), np.where(holds, high_s, middle_s)
        return np.where(low_s > 3500.0, np.inf, low_s)


@dataclass(frozen=True)
class Middle:
    """A figure's middle."""

    median: float


@dataclass(frozen=True)
class ThoughtHand:
    """What the planner believes of a hand: a hyperbola, off by some tempo, with its own spread."""

    minute_bpm: float
    over_bpm: float
    spread_bpm: float
    rounds: int = 60

    @property
    def curve(self):
        """The hyperbola without spread."""
        return TrueHand("hyperbolic", self.minute_bpm, self.over_bpm, 0.0, 0.0)

    def tempo_held_bpm(self, time_s):
        """Tempo held so long with even chance."""
        return Middle(self.curve.held_bpm(time_s))

    def chance_of_holding(self, *, tempo_bpm, time_s):
        """Chance under a normal spread of the tempo."""
        z = (self.curve.held_bpm(time_s) - tempo_bpm) / self.spread_bpm
        return 1.0 / (1.0 + np.exp(-1.702 * z))

    def draw_hold_s(self, tempo_bpm, rng, size):
        """Hold times of rounds, each with its own shift."""
        return self.curve.hold_s(tempo_bpm, rng.logistic(scale=self.spread_bpm / 1.702, size=size))


def draw_player(rng, *, error_bpm):
    """True hands and what is thought of them."""
    law = LAWS[int(rng.integers(3))]
    weak_bpm = rng.normal(90.0, 10.0)
    middles = {
        "left": weak_bpm,
        "right": weak_bpm + abs(rng.normal(6.0, 4.0)),
        "alternating": weak_bpm * rng.uniform(1.5, 1.9),
    }
    form_bpm, noise_bpm = rng.uniform(0.8, 3.0), rng.uniform(0.5, 2.5)
    true, thought = {}, {}
    for hand, middle_bpm in middles.items():
        over_bpm = np.exp(rng.uniform(np.log(5.0), np.log(12.0)))
        true[hand] = TrueHand(law, middle_bpm, over_bpm, form_bpm, noise_bpm)
        thought[hand] = ThoughtHand(
            middle_bpm + rng.normal(0.0, error_bpm),
            over_bpm * np.exp(rng.normal(0.0, 0.25)),
            float(np.hypot(np.hypot(form_bpm, noise_bpm), error_bpm)) * rng.uniform(0.7, 1.4),
        )
    return true, thought


def draw_past(rng, hands):
    """A few weeks of practice, sometimes with the week's test played already."""
    days = [TODAY - timedelta(days=int(k)) for k in range(2, 30, 2)]
    tested = rng.random() < 6 / 7
    past = []
    for day in days:
        for order in range(8):
            hand = ("left", "right")[order % 2]
            tempo_bpm = float(round(hands[hand].minute_bpm - 8))
            test = tested and day == days[1] and order < 2
            past.append(
                PastRound(
                    day=day, order=order, hand=hand, technique=None, tempo_bpm=tempo_bpm,
                    places_per_count=4, round_s=60.0, count_held=int(tempo_bpm), held_on=True,
                    feel="loose", purpose="test" if test else "round",
                )
            )  # fmt: skip
    return tuple(past)


def play(plan, true, rng, *, changes):
    """Real length in s of a workout, and its last plan."""
    form = rng.normal()
    now_s, index, outcomes = 10.0 + rng.uniform(2.5, 9.0), 0, []
    while index < len(plan.steps):
        planned = plan.steps[index].planned
        hand = true[planned.hand]
        shift_bpm = hand.form_bpm * form + rng.normal(0.0, hand.noise_bpm)
        count_s = 60.0 / planned.tempo_bpm
        hold_s = float(hand.hold_s(planned.tempo_bpm, np.array([shift_bpm]))[0])
        lost = hold_s < planned.round_s and planned.kind != "warm-up"
        # A lost round ends after four unlocked counts; some play on a little, some stop at once.
        played_s = hold_s + rng.choice([2.0, 4.0, 5.0, 6.0]) * count_s if lost else planned.round_s
        played_s = min(max(played_s, 5.0 * count_s), planned.round_s)
        held = int(hold_s / count_s) if lost else planned.counts
        outcomes.append(Outcome(index, held, planned.counts, "whole", None, None))
        now_s += 4.0 * count_s + played_s + rng.uniform(0.5, 2.5) + rng.uniform(2.0, 5.5)
        index += 1
        if changes:
            left_s = plan.target_s - now_s
            plan = next_rounds(plan, outcomes, next_index=index, time_left_s=left_s)
        now_s += plan.frame.rest_s if index < len(plan.steps) else 0.0
    return now_s, plan


def measured(*, players, budget_min, error_bpm, seed, new=False):
    """Ratios of real to wanted length, as first planned and as changed while playing."""
    first, last = [], []
    for player in range(players):
        rng = np.random.default_rng([seed, budget_min, player])
        true, thought = draw_player(rng, error_bpm=error_bpm)
        hands = dict.fromkeys(thought) if new else thought
        known = PlayerToday(TODAY, "left", () if new else draw_past(rng, thought), hands)
        asked = PlanAsked(minutes=float(budget_min), rest_s=float(rng.choice([30.0, 45.0, 60.0])))
        plan = plan_workout(known, asked, rng=rng)
        for ratios, changes in ((first, False), (last, True)):
            real_s, _ = play(plan, true, np.random.default_rng([seed, 1, player]), changes=changes)
            ratios.append(real_s / (60.0 * budget_min))
    return np.array(first), np.array(last)


def main():
    """Print the table."""
    from timing_split import share_text  # beside this file; the tests import only what is above

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--players", type=int, default=200)
    parser.add_argument("--error-bpm", type=float, default=3.0, help="SD of what is thought")
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    for new in (False, True):
        print("new players" if new else f"known players, off by {options.error_bpm:g} bpm (SD)")
        print("| minutes | within 10 % | within a minute | middle 90 % of the length | unchanged |")
        print("| --- | --- | --- | --- | --- |")
        for budget_min in BUDGETS_MIN:
            first, last = measured(
                players=options.players, budget_min=budget_min, error_bpm=options.error_bpm,
                seed=options.seed, new=new,
            )  # fmt: skip
            low, high = budget_min * np.quantile(last, [0.05, 0.95])
            within = share_text(int(np.sum(np.abs(last - 1.0) <= WITHIN)), options.players)
            minute = share_text(
                int(np.sum(np.abs(last - 1.0) * budget_min <= 1.0)), options.players
            )
            unchanged = share_text(int(np.sum(np.abs(first - 1.0) <= WITHIN)), options.players)
            print(f"| {budget_min} | {within} | {minute} | {low:.1f} to {high:.1f} | {unchanged} |")


if __name__ == "__main__":
    main()
