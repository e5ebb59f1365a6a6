"""How long a plan takes: its rounds are played many times over by the hands as they are known."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from loosehand.rounds.day_known import HandReach
from loosehand.rounds.plan_steps import AFTER_ROUND_S, BEFORE_FIRST_S, Length, Step
from loosehand.rounds.workout import Hand, PlannedRound

__all__ = ["LOST_SOON_COUNTS", "expected_played_s", "length_of", "simulated_s"]

LOST_SOON_COUNTS = 16
"""A round that is lost within so many counts was lost soon (common practice, no source)."""
_ENDS_AFTER_COUNTS = 6
"""A lost round ends when four counts were not locked, which is known two counts later."""
_DRAWS = 400


def expected_played_s(
    planned: PlannedRound, reach: HandReach | None, *, play_out: bool, rng: np.random.Generator
) -> float:
    """How long a round is expected to be played: to its end, or until it is lost.

    Parameters
    ----------
    planned : the round
    reach : of its hand, None where nothing is known
    play_out : whether a lost round goes on to its end
    rng : of the simulated rounds
    """
    if reach is None or play_out:
        return planned.round_s
    hold_s = reach.draw_hold_s(planned.tempo_bpm, rng, _DRAWS)
    return float(np.mean(_played_s(planned, hold_s)))


def length_of(
    steps: Sequence[Step],
    hands: Mapping[Hand, HandReach | None],
    *,
    rest_s: float,
    count_in_counts: int,
    play_out: bool,
    rng: np.random.Generator,
) -> Length:
    """Expected length of a plan and its 80 % interval, if nothing is changed while playing."""
    if not steps:
        return Length(0.0, 0.0, 0.0)
    drawn_s = simulated_s(
        steps, hands, rest_s=rest_s, count_in_counts=count_in_counts, play_out=play_out, rng=rng
    )
    low, high = np.quantile(drawn_s, [0.1, 0.9])
    return Length(float(drawn_s.mean()), float(low), float(high))


def simulated_s(
    steps: Sequence[Step],
    hands: Mapping[Hand, HandReach | None],
    *,
    rest_s: float,
    count_in_counts: int,
    play_out: bool,
    rng: np.random.Generator,
) -> NDArray[np.float64]:
    """Lengths of a workout that is played many times, with the rule that ends a hand's ladder.

    Parameters
    ----------
    steps : rounds in order
    hands : what is known of each
    rest_s, count_in_counts : of the workout
    play_out : whether a lost round goes on to its end
    rng : of the simulated rounds

    Returns
    -------
    length_s : float array, shape (400,); each round is drawn by itself, so that a good or bad
        day, which all rounds share, widens the true spread further
    """
    total_s = np.full(_DRAWS, BEFORE_FIRST_S - rest_s)
    soon = {each.planned.hand: np.zeros(_DRAWS, dtype=int) for each in steps}
    for step in steps:
        planned, reach = step.planned, hands.get(step.planned.hand)
        unknown = reach is None or planned.kind == "warm-up"
        hold_s = (
            np.full(_DRAWS, np.inf)
            if unknown or reach is None
            else reach.draw_hold_s(planned.tempo_bpm, rng, _DRAWS)
        )
        on_ladder = step.block in {"ladder", "hold"}
        plays = (soon[planned.hand] < 2) | (not on_ladder)
        played_s = np.full(_DRAWS, planned.round_s) if play_out else _played_s(planned, hold_s)
        count_in_s = 60.0 * count_in_counts / planned.tempo_bpm
        total_s += np.where(plays, rest_s + count_in_s + played_s + AFTER_ROUND_S, 0.0)
        if on_ladder:
            was_soon = hold_s < min(60.0 * LOST_SOON_COUNTS / planned.tempo_bpm, planned.round_s)
            soon[planned.hand] = np.where(was_soon | ~plays, soon[planned.hand] + 1, 0)
    return total_s


def _played_s(planned: PlannedRound, hold_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """How long rounds of these hold times are played."""
    lost_s = hold_s + 60.0 * _ENDS_AFTER_COUNTS / planned.tempo_bpm
    return np.where(hold_s >= planned.round_s, planned.round_s, np.minimum(lost_s, planned.round_s))
