"""Hands as plain as can be, and rounds played with them."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from loosehand.rounds.day_known import PastRound, PlayerToday

TODAY = date(2027, 3, 15)


@dataclass(frozen=True)
class Middle:
    """A figure's middle."""

    median: float


@dataclass(frozen=True)
class PlainHand:
    """Holds V = S + R / t, shifted from round to round by a logistic spread."""

    minute_bpm: float
    spread_bpm: float = 3.0
    reserve: float = 90.0
    rounds: int = 40

    def _held_bpm(self, time_s):
        return self.minute_bpm + self.reserve * (1.0 / time_s - 1.0 / 60.0)

    def tempo_held_bpm(self, time_s):
        """Tempo held so long with even chance."""
        return Middle(self._held_bpm(time_s))

    def chance_of_holding(self, *, tempo_bpm, time_s):
        """Chance of holding a tempo so long."""
        return 1.0 / (1.0 + np.exp((tempo_bpm - self._held_bpm(time_s)) / self.spread_bpm))

    def draw_hold_s(self, tempo_bpm, rng, size):
        """Hold times of simulated rounds."""
        shift_bpm = rng.logistic(scale=self.spread_bpm, size=size)
        over_bpm = tempo_bpm - (self._held_bpm(1e9) + shift_bpm)
        return np.where(over_bpm > 0, self.reserve / np.maximum(over_bpm, 1e-9), np.inf)


HANDS = {"left": PlainHand(88.0), "right": PlainHand(96.0), "alternating": PlainHand(150.0)}


def past(days_ago, *, order=0, hand="left", tempo_bpm=80.0, held=None, **others):
    """A round played so many days ago, held to its end unless told otherwise."""
    round_s = others.pop("round_s", 60.0)
    counts = int(tempo_bpm * round_s / 60.0)
    return PastRound(
        day=TODAY - timedelta(days=days_ago),
        order=order,
        hand=hand,
        technique=others.pop("technique", None),
        tempo_bpm=tempo_bpm,
        places_per_count=4,
        round_s=round_s,
        count_held=counts if held is None else held,
        held_on=held is None,
        **others,
    )


def player(*history, hands=HANDS, today=TODAY, **others):
    """A left-weak player on the day."""
    return PlayerToday(today, "left", tuple(history), hands, **others)
