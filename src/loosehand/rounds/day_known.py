"""What the planner is told: the rounds played so far, what is known of the hands, what is asked."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import InputError
from loosehand.rounds.workout import Hand, Purpose

__all__ = ["Estimate", "HandReach", "PastRound", "PlanAsked", "PlayerToday", "check_asked"]

_MINUTES = (3.0, 120.0)
_ROUND_S = (2.0, 1800.0)
_REST_S = (0.0, 600.0)


class Estimate(Protocol):
    """A figure of which the planner reads the middle."""

    @property
    def median(self) -> float:
        """Its middle."""


class HandReach(Protocol):
    """What is known of how long a hand holds a tempo. `loosehand.reach` gives one."""

    @property
    def rounds(self) -> int:
        """Rounds that it is known from."""

    def tempo_held_bpm(self, time_s: float) -> Estimate:
        """Tempo held so long with even chance."""

    def chance_of_holding(self, *, tempo_bpm: float, time_s: float) -> float:
        """Chance of holding a tempo so long on an ordinary day."""

    def draw_hold_s(
        self, tempo_bpm: float, rng: np.random.Generator, size: int
    ) -> NDArray[np.float64]:
        """Hold times of simulated rounds, infinite where the hand never lets go."""


@dataclass(frozen=True)
class PastRound:
    """A round that was played, whether or not it counts on the chart.

    Attributes
    ----------
    day : when
    order : place in its day
    hand : left, right or alternating
    technique : tag of the chart, or None
    tempo_bpm, places_per_count, round_s : what was asked
    count_held : counts held, None where not judged
    held_on : whether the hand had not lost the click when the round ended
    feel : loose, working, tense, pain, or None
    purpose : what it was for
    counts_played : counts that were really played, None where not known
    """

    day: date
    order: int
    hand: Hand
    technique: str | None
    tempo_bpm: float
    places_per_count: int
    round_s: float
    count_held: int | None
    held_on: bool
    feel: str | None = None
    purpose: Purpose = "round"
    counts_played: int | None = None

    @property
    def counts(self) -> int:
        """Whole counts that the round has."""
        return math.floor(self.tempo_bpm * self.round_s / 60.0 + 1e-6)

    @property
    def is_lost(self) -> bool:
        """Whether the hand is known to have lost the click."""
        return self.count_held is not None and not self.held_on


@dataclass(frozen=True)
class PlayerToday:
    """A player on the day of the workout.

    Attributes
    ----------
    today : the day
    weak : the hand that is the weaker one
    history : rounds played so far, those of today too, of all techniques
    hands : what is known of left, right and alternating, None for nothing
    technique, places_per_count : of the rounds that the hands are known from; today's
    """

    today: date
    weak: Literal["left", "right"]
    history: tuple[PastRound, ...]
    hands: Mapping[Hand, HandReach | None]
    technique: str | None = None
    places_per_count: int = 4

    @property
    def strong(self) -> Literal["left", "right"]:
        """The other hand."""
        return "right" if self.weak == "left" else "left"

    def since(self, days: int) -> tuple[PastRound, ...]:
        """Rounds of the last days, today the last of them."""
        first = self.today - timedelta(days=days - 1)
        return tuple(each for each in self.history if first <= each.day <= self.today)

    def is_alike(self, past: PastRound) -> bool:
        """Whether a round tells of the same ability as those that the hands are known from."""
        return (past.technique, past.places_per_count) == (self.technique, self.places_per_count)


@dataclass(frozen=True)
class PlanAsked:
    """What is asked of a plan.

    Attributes
    ----------
    minutes : from the press at the stand to the end, or None for as long as it takes
    round_s, rest_s, count_in_counts : of the rounds
    hands : that are to play; which come first the planner says
    full_ladder : the common ladder from its lowest tempo to its highest
    warm_already : the player says to be warm, and leaves the warm-up out
    play_out : rounds go on to their end after the hand lost the click
    light_anyway : after pain, light and slow alternation instead of rest
    technique_why : why today's technique is the one it is (see ``technique_due``)
    """

    minutes: float | None
    round_s: float = 60.0
    rest_s: float = 60.0
    count_in_counts: int = 4
    hands: tuple[Hand, ...] = ("left", "right", "alternating")
    full_ladder: bool = False
    warm_already: bool = False
    play_out: bool = False
    light_anyway: bool = False
    technique_why: str | None = None


def check_asked(asked: PlanAsked) -> PlanAsked:
    """Check what is asked and return it.

    Raises
    ------
    InputError   naming the first that cannot be
    """
    figures = (
        ("minutes", asked.minutes, _MINUTES),
        ("round_s", asked.round_s, _ROUND_S),
        ("rest_s", asked.rest_s, _REST_S),
        ("count_in_counts", asked.count_in_counts, (1, 16)),
    )
    for field, value, (low, high) in figures:
        if value is not None and not low <= value <= high:
            raise InputError(f"{field} = {value:g} cannot be; want {low:g} to {high:g}")
    if not asked.hands or set(asked.hands) - {"left", "right", "alternating"}:
        raise InputError(
            f"hands = {list(asked.hands)} cannot play; want left, right or alternating"
        )
    return asked
