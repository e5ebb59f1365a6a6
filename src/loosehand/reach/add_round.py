"""Take one more round into a reach at once, by weighing its draws anew.

It saves the full fit while a workout runs. Draw by draw the chance of the new count is exact; the
noises and the other days are kept as they were drawn.

Source
------
Importance resampling: Rubin (1988), Using the SIR algorithm to simulate posterior distributions,
Bayesian Statistics 3:395-402 (from memory).
"""

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import InputError
from loosehand.reach.draws import Draws
from loosehand.reach.hand_data import fresh_bounds_s, hand_data
from loosehand.reach.interval_likelihood import interval_chance
from loosehand.reach.laws import LAWS
from loosehand.reach.margin import Noise, margin
from loosehand.reach.prior import LAPSE_SHARE
from loosehand.reach.reach import Reach
from loosehand.reach.reserve import RECOVERY_S
from loosehand.reach.seen import RoundSeen

__all__ = ["add_round"]

FloatArray = NDArray[np.float64]


def add_round(reach: Reach, new: RoundSeen, *, earlier: Sequence[RoundSeen]) -> Reach:
    """The reach with one more round of the day told of.

    Parameters
    ----------
    reach : as of the day of the round
    new : of the kind of the reach
    earlier : all the rounds of that day before it, of any kind

    Raises
    ------
    InputError   if the round is of another kind or day
    """
    if new.kind != reach.kind or new.day != reach.as_of:
        raise InputError(
            f"the round is one of {new.kind} on {new.day}; want {reach.kind} on {reach.as_of}"
        )
    chance = _log_chance(reach, [*earlier, new])
    weights = np.exp(chance - chance.max())
    picked = _resampled(weights / weights.sum())
    draws = reach.draws
    kept = {
        field.name: getattr(draws, field.name)[picked]
        for field in fields(Draws)
        if field.name != "grid_day"
    }
    held_s = 60.0 * new.count_held / new.tempo_bpm
    return replace(
        reach,
        first_day=reach.first_day or new.day,
        last_day=new.day,
        rounds=reach.rounds + 1,
        longest_held_s=max(reach.longest_held_s, held_s),
        highest_seen_bpm=max(reach.highest_seen_bpm, new.tempo_bpm),
        draws=Draws(grid_day=draws.grid_day, **kept),
    )


def _log_chance(reach: Reach, today: Sequence[RoundSeen]) -> FloatArray:
    """Log chance of the last round's count, draw by draw."""
    data = hand_data(today, kind=reach.kind)
    draws = reach.draws
    low_s, high_s = fresh_bounds_s(
        data,
        law=reach.law,
        minute_bpm=np.array([float(np.median(draws.today_bpm))]),
        steepness_bpm=float(np.median(draws.steepness_bpm)),
        top_s=float(np.median(draws.top_s)) if reach.law == "top rate" else 0.0,
        recovery_s=RECOVERY_S[0],
    )
    z = np.empty((2, len(draws.law)))
    for place, law in enumerate(LAWS):
        mine = draws.law == place
        size = int(mine.sum())
        for row, bound_s in enumerate((low_s[-1], high_s[-1])):
            z[row, mine] = margin(
                law,
                time_s=np.full(size, bound_s),
                tempo_bpm=np.full(size, data.tempo_bpm[-1]),
                minute_bpm=draws.today_bpm[mine],
                steepness_bpm=draws.steepness_bpm[mine],
                top_s=draws.top_s[mine],
                noise=Noise(draws.tempo_noise_bpm[mine], draws.time_noise[mine]),
            ).z
    lapse = np.full(len(draws.law), data.lapse_chance[-1])
    return interval_chance(z[0], z[1], lapse_share=LAPSE_SHARE, lapse_chance=lapse).log_chance


def _resampled(weights: FloatArray) -> NDArray[np.int64]:
    """Places of as many draws as there were, each as often as its weight says, in their order."""
    steps = (np.arange(len(weights)) + 0.5) / len(weights)
    return np.minimum(np.searchsorted(np.cumsum(weights), steps), len(weights) - 1)
