"""What a workout asks: its rounds in order, and how each is played to the click."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from loosehand.errors import BadNotation, BadTempo, InputError

__all__ = [
    "COMMON_LADDER_BPM",
    "MOST_ROUNDS",
    "TEMPO_BPM",
    "PlannedRound",
    "RoundSetting",
    "Workout",
    "ladder_rounds",
    "warm_up_round",
    "workout_from_json",
]

Hand = Literal["left", "right", "alternating"]
Kind = Literal["warm-up", "round"]
Purpose = Literal["warm-up", "round", "test"]

COMMON_LADDER_BPM = tuple(float(tempo) for tempo in range(60, 145, 5))
"""The common ladder, 60 to 140 by 5 (common practice, no source)."""
TEMPO_BPM = (20.0, 400.0)
"""Tempos that a round may have, from the lowest to the highest."""
_ROUND_S = (2.0, 1800.0)
_REST_S = (0.0, 600.0)
MOST_ROUNDS = 200
"""More rounds no workout has."""
_PURPOSES = ("warm-up", "round", "test")
_WARM_UP_BPM = 60.0
_PLACES = {"left": 4, "right": 4, "alternating": 4}


@dataclass(frozen=True)
class RoundSetting:
    """What the rounds of a workout share.

    Attributes
    ----------
    round_s : length of a round
    rest_s : rest after a round
    count_in_counts : clicks before count 1
    counts_per_bar : counts from accent to accent of the click
    accent : whether the first count of a bar sounds higher
    silent_bars : whether every fourth bar of a round is silent
    timbre : of the click
    level_db : of the click, 0 is full
    play_out : whether a round goes on to its end after the hand lost the click
    technique, surface, loudness : tags of the rounds, or None
    grip : in the player's words, or None
    """

    round_s: float
    rest_s: float
    count_in_counts: int
    counts_per_bar: int
    accent: bool
    silent_bars: bool
    timbre: str
    level_db: float
    play_out: bool
    technique: str | None
    surface: str | None
    loudness: str | None
    grip: str | None


@dataclass(frozen=True)
class PlannedRound:
    """A round to be played.

    Attributes
    ----------
    kind : a warm-up never counts on the chart
    hand : whose
    tempo_bpm : counts a minute
    places_per_count : places of the grid in a count
    round_s : length
    purpose : what it is for; a test is kept apart from training
    """

    kind: Kind
    hand: Hand
    tempo_bpm: float
    places_per_count: int
    round_s: float
    purpose: Purpose = "round"

    def __post_init__(self) -> None:
        """A warm-up is for warming up, also where it was stored before rounds had a purpose."""
        if self.kind == "warm-up":
            object.__setattr__(self, "purpose", "warm-up")

    @property
    def counts(self) -> int:
        """Whole counts of the round.

        Examples
        --------
        >>> PlannedRound("round", "left", 104.0, 4, 60.0).counts
        104
        """
        return math.floor(self.tempo_bpm * self.round_s / 60.0 + 1e-6)


@dataclass(frozen=True)
class Workout:
    """A workout: its rounds, and what they share.

    Attributes
    ----------
    player : whose
    setting : what the rounds share
    rounds : in order
    warm_already : whether the person said so, and no warm-up comes first
    """

    player: str
    setting: RoundSetting
    rounds: tuple[PlannedRound, ...]
    warm_already: bool = False

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return {
            "player": self.player,
            "setting": asdict(self.setting),
            "rounds": [asdict(each) for each in self.rounds],
            "warm_already": self.warm_already,
        }

    @property
    def length_s(self) -> float:
        """How long it takes when every round is played out."""
        count_ins = sum(
            60.0 * self.setting.count_in_counts / each.tempo_bpm for each in self.rounds
        )
        rests = max(len(self.rounds) - 1, 0) * self.setting.rest_s
        return count_ins + rests + sum(each.round_s for each in self.rounds)


def workout_from_json(stored: dict[str, Any]) -> Workout:
    """Return a workout from what is stored.

    Raises
    ------
    InputError   if a figure or a word cannot be
    """
    return check_workout(
        Workout(
            stored["player"],
            RoundSetting(**stored["setting"]),
            tuple(PlannedRound(**each) for each in stored["rounds"]),
            stored["warm_already"],
        )
    )


def check_workout(workout: Workout) -> Workout:
    """Check the figures of a workout and return it.

    Raises
    ------
    BadTempo, BadNotation, InputError   naming the first that cannot be
    """
    if not 1 <= len(workout.rounds) <= MOST_ROUNDS:
        raise InputError(
            f"the workout has {len(workout.rounds)} rounds; want 1 to {MOST_ROUNDS}: "
            "choose tempos from lowest to highest"
        )
    _check_between(workout.setting.rest_s, "rest_s", _REST_S)
    _check_between(workout.setting.level_db, "level_db", (-60.0, 0.0))
    if not 1 <= workout.setting.count_in_counts <= 16:
        raise BadNotation(
            f"count_in_counts = {workout.setting.count_in_counts}: want 1 to 16, four is usual"
        )
    if not 1 <= workout.setting.counts_per_bar <= 16:
        raise BadNotation(f"counts_per_bar = {workout.setting.counts_per_bar}: want 1 to 16")
    for each in workout.rounds:
        if not TEMPO_BPM[0] <= each.tempo_bpm <= TEMPO_BPM[1]:
            raise BadTempo(f"tempo_bpm = {each.tempo_bpm:g} is not a tempo; want 20 to 400")
        _check_between(each.round_s, "round_s", _ROUND_S)
        if each.counts < 1:
            raise InputError(
                f"round_s = {each.round_s:g} is too short for one count at {each.tempo_bpm:g}"
            )
        if each.hand not in _PLACES or not 1 <= each.places_per_count <= 12:
            raise InputError(
                f"hand = {each.hand!r}, places_per_count = {each.places_per_count}: want left, "
                "right or alternating, and 1 to 12 places"
            )
        if each.purpose not in _PURPOSES:
            raise InputError(
                f"purpose = {each.purpose!r} is not known; want one of: {', '.join(_PURPOSES)}"
            )
    return workout


def _check_between(value: float, field: str, limits: tuple[float, float]) -> None:
    if not limits[0] <= value <= limits[1]:
        raise InputError(f"{field} = {value:g} cannot be; want {limits[0]:g} to {limits[1]:g}")


def ladder_rounds(
    *, tempos_bpm: Sequence[float], weak: Literal["left", "right"], round_s: float, alternate: bool
) -> tuple[PlannedRound, ...]:
    """The rounds of a ladder: at every tempo the weak hand, the strong one, then alternating.

    Parameters
    ----------
    tempos_bpm : from the first to the last
    weak : the hand that is the weaker one of this player
    round_s : length of a round
    alternate : whether the hands alternate after each has played

    Examples
    --------
    >>> rounds = ladder_rounds(tempos_bpm=[60.0, 65.0], weak="left", round_s=60.0, alternate=True)
    >>> [(each.hand, each.tempo_bpm) for each in rounds[:4]]
    [('left', 60.0), ('right', 60.0), ('alternating', 60.0), ('left', 65.0)]
    """
    strong: Hand = "right" if weak == "left" else "left"
    hands: list[Hand] = [weak, strong, *(["alternating"] if alternate else [])]  # type: ignore[list-item]
    return tuple(
        PlannedRound("round", hand, float(tempo_bpm), _PLACES[hand], round_s)
        for tempo_bpm in tempos_bpm
        for hand in hands
    )


def warm_up_round(
    *, lowest_bpm: float, round_s: float, places_per_count: int = _PLACES["alternating"]
) -> PlannedRound:
    """A warm-up: alternating, well under the first tempo, for as long as a round."""
    tempo_bpm = min(_WARM_UP_BPM, lowest_bpm)
    return PlannedRound("warm-up", "alternating", tempo_bpm, places_per_count, round_s)
