"""The reserve of a hand through a tune: spent in runs, come back in rests, draw by draw.

A tune is a row of stretches, each at one rate of one hand; rate 0 is a rest. Over a stretch the
hand spends the share of its reserve that the time is of the time it would hold that rate fresh, as
rounds do in the fit of a hand. At a rate that it holds without end the reserve comes back, the
slower the closer the rate comes to that edge. A rest is the rate 0. The tune is lost in a draw
where the reserve is gone.

Each draw is one hand as it may be, on a day like any other: a curve of the posterior with a day's
form, a round's unsteadiness and a time of recovery. The same day is drawn for every technique, so
that plans are compared on equal days.

Source
------
The laws of ``loosehand.reach.laws``; recovery as in ``loosehand.reach.reserve``. That one reserve
of the hand serves every technique is ours, and not known.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import InputError
from loosehand.reach.laws import LAWS, log_time_by_draw
from loosehand.reach.reach import Reach
from loosehand.reach.reserve import RECOVERY_S, RECOVERY_SHARES

__all__ = ["DRAWS", "HandDraws", "Stretches", "TunePlayed", "hand_draws", "play_tune"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

DRAWS = 1000
"""Tunes that are simulated: a chance of one half is then known to about 2 in 100."""
_SEED = 20261125
_LONGEST_S = 4 * 3600.0
_SHORTEST_S = 1e-3
_OUT_OF_PLAY = 1e18
"""Stands for the share of a hand that has lost the tune, so that it is not looked at again."""


@dataclass(frozen=True)
class Stretches:
    """What one hand plays, stretch by stretch.

    Attributes
    ----------
    start_s, length_s : float arrays, shape (k,), seconds, in order, lengths > 0
    rate_bpm : float array, shape (k,), in sixteenths of one hand; 0 in a rest
    section : int array, shape (k,), which section it belongs to, from 0, in order
    technique : int array, shape (k,), place among the hands given to ``play_tune``
    sections : how many sections there are; one too short for a stretch of its own has none
    """

    start_s: FloatArray
    length_s: FloatArray
    rate_bpm: FloatArray
    section: IntArray
    technique: IntArray
    sections: int


@dataclass(frozen=True)
class HandDraws:
    """Hands as one may be on a day, one a draw; tempos in sixteenths of one hand.

    Attributes
    ----------
    law : int array, shape (n,), places in ``LAWS``
    minute_bpm : float array, shape (n,), tempo held for a minute on that day
    steepness_bpm, top_s : float arrays, shape (n,), of the curve
    time_share : float array, shape (n,), by which that round's hold time is longer
    recovery_s : float array, shape (n,), time constant of recovery at rest
    """

    law: IntArray
    minute_bpm: FloatArray
    steepness_bpm: FloatArray
    top_s: FloatArray
    time_share: FloatArray
    recovery_s: FloatArray

    def hold_s(self, rate_bpm: float) -> FloatArray:
        """Time for which each holds a rate when fresh, seconds; inf where without end."""
        excess = (rate_bpm - self.minute_bpm) / self.steepness_bpm
        log_time = log_time_by_draw(self.law, excess, top_s=self.top_s)
        return np.maximum(np.exp(log_time) * self.time_share, _SHORTEST_S)

    def recovery_at_s(self, rate_bpm: float) -> FloatArray:
        """Time constant of recovery while playing at a rate; inf where nothing comes back."""
        if rate_bpm <= 0.0:
            return self.recovery_s
        has_edge = self.law != LAWS.index("log-linear")
        edge = np.where(has_edge, self.minute_bpm - self.steepness_bpm, 0.0)
        spare = np.where(edge > 0.0, 1.0 - rate_bpm / np.where(edge > 0.0, edge, 1.0), 0.0)
        with np.errstate(divide="ignore"):
            return np.where(spare > 0.0, self.recovery_s / np.maximum(spare, 0.0), np.inf)


@dataclass(frozen=True)
class TunePlayed:
    """What came of simulated tunes.

    Attributes
    ----------
    ended_s : float array, shape (n,), when the reserve was gone; inf where it lasted
    left : float array, shape (s, n), share of the reserve at the end of each section; 0 once it
        was gone
    """

    ended_s: FloatArray
    left: FloatArray

    @property
    def chance(self) -> float:
        """Share of the tunes in which the reserve lasted."""
        return float(np.isinf(self.ended_s).mean())


def hand_draws(reach: Reach, *, draws: int = DRAWS, seed: int = _SEED) -> HandDraws:
    """Hands of a reach on simulated days: the same days for every reach.

    Parameters
    ----------
    reach : of one technique
    draws : how many
    seed : of the days
    """
    rng = np.random.default_rng(seed)
    form, tempo, time = rng.standard_normal((3, draws))
    recovery_s = rng.choice(np.array(RECOVERY_S), size=draws, p=np.array(RECOVERY_SHARES))
    known = reach.draws
    pick = np.arange(draws) * len(known.law) // draws
    today = int(np.argmin(np.abs(known.grid_day)))
    off_bpm = known.form_bpm[pick] * form + known.tempo_noise_bpm[pick] * tempo
    return HandDraws(
        law=known.law[pick],
        minute_bpm=known.level_bpm[pick, today] + off_bpm,
        steepness_bpm=known.steepness_bpm[pick],
        top_s=known.top_s[pick],
        time_share=np.exp(known.time_noise[pick] * time),
        recovery_s=recovery_s,
    )


def play_tune(stretches: Stretches, hands: Sequence[HandDraws]) -> TunePlayed:
    """Play a tune once in every draw, beginning fresh.

    Parameters
    ----------
    stretches : what the hand plays
    hands : of each technique that is used, all with as many draws

    Returns
    -------
    played : TunePlayed

    Raises
    ------
    InputError   if the tune is longer than four hours, or holds nothing
    """
    _check(stretches)
    draws = len(hands[0].law)
    share = np.ones(draws)
    ended_s = np.full(draws, np.inf)
    left = np.ones((stretches.sections, draws))
    prices: dict[tuple[int, float, float], _Price] = {}
    row = zip(
        stretches.technique.tolist(),
        stretches.rate_bpm.tolist(),
        stretches.length_s.tolist(),
        stretches.start_s.tolist(),
        stretches.section.tolist(),
        strict=True,
    )
    for technique, rate_bpm, length_s, start_s, section in row:
        key = (technique, rate_bpm, round(length_s, 9))
        if key not in prices:
            prices[key] = _price(hands[technique], rate_bpm, length_s)
        price = prices[key]
        after = price.kept * share + price.gained - price.spent
        if price.can_end and (gone := after < price.floor).any():
            first = gone & np.isinf(ended_s)
            room_s = np.maximum(share - price.floor, 0.0)[first] * price.whole_s[first]
            ended_s[first] = start_s + np.minimum(room_s, length_s)
            after[gone] = _OUT_OF_PLAY
        share = after
        left[section] = share
    _carry_on(left, stretches.section)
    end_s = _section_ends(stretches)
    left = np.where(ended_s[None, :] <= end_s[:, None], 0.0, left)
    return TunePlayed(ended_s, np.clip(left, 0.0, 1.0))


@dataclass(frozen=True)
class _Price:
    """What a stretch does to a share: it becomes ``kept * share + gained - spent``.

    ``floor`` is the share under which the hand cannot go on there, ``whole_s`` the time in which
    all of a reserve is spent.
    """

    kept: FloatArray
    gained: FloatArray
    spent: FloatArray
    floor: FloatArray
    whole_s: FloatArray
    can_end: bool


def _price(hand: HandDraws, rate_bpm: float, length_s: float) -> _Price:
    kept = np.exp(-length_s / hand.recovery_at_s(rate_bpm))
    nothing = np.zeros(len(kept))
    if rate_bpm <= 0.0:
        return _Price(kept, 1.0 - kept, nothing, nothing, nothing + np.inf, can_end=False)
    whole_s = hand.hold_s(rate_bpm) + hand.top_s
    spent = length_s / whole_s
    return _Price(kept, 1.0 - kept, spent, hand.top_s / whole_s, whole_s, bool(spent.any()))


def _carry_on(left: FloatArray, section: IntArray) -> None:
    """Give sections without a stretch what was left before them."""
    for place in np.setdiff1d(np.arange(len(left)), section):
        left[place] = left[place - 1] if place else 1.0


def _section_ends(stretches: Stretches) -> FloatArray:
    """When each section ends."""
    ends = np.zeros(stretches.sections)
    np.maximum.at(ends, stretches.section, stretches.start_s + stretches.length_s)
    return np.maximum.accumulate(ends)


def _check(stretches: Stretches) -> None:
    if not len(stretches.length_s):
        raise InputError("the part has no stretch to play: want a hand with a stroke in it")
    long_s = float(stretches.start_s[-1] + stretches.length_s[-1])
    if long_s > _LONGEST_S:
        raise InputError(
            f"the tune is {long_s:.0f} seconds long; want {_LONGEST_S:.0f} (four hours) at most"
        )
