"""Rounds of one hand as arrays, with what earlier rounds of the day took from it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.laws import Law, log_time_of_excess
from loosehand.reach.reserve import recovered
from loosehand.reach.seen import HandKind, RoundSeen, hand_rate_factor

__all__ = ["HandData", "fresh_bounds_s", "hand_data", "order_varies"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

REST_S = 60.0
"""Rest that is taken to lie before a round where none is told (common practice, no source)."""
_LEAST_SHARE = 0.05
_ROUNDS_A_DAY = 60
_SLOWER_ROUNDS = 20
_SLOWER_SHARE = 0.2


@dataclass(frozen=True)
class HandData:
    """Rounds of one kind.

    Tempos are in sixteenths of one hand. Arrays by round have shape (n,), those by day (d,).

    Attributes
    ----------
    tempo_bpm : by round
    low_s, high_s : by round, bounds of the hold time; ``high_s`` is inf where it was still on
    lapse_chance : by round, chance of its count in a round that ends for no reason of reach
    day_index : by round, into the days
    days : by day, since the first
    first_day, last_day : of the rounds
    before : int array, shape (d, w): rounds that tire this hand in each day's order, as places in
        ``all_tempo_bpm``, -1 where there are no more
    all_tempo_bpm, all_played_s, all_rest_s, all_lost : by every round that tires this hand
    own : int array, shape (n,), place of each round among all
    """

    tempo_bpm: FloatArray
    low_s: FloatArray
    high_s: FloatArray
    lapse_chance: FloatArray
    day_index: IntArray
    days: FloatArray
    first_day: date
    last_day: date
    before: IntArray
    all_tempo_bpm: FloatArray
    all_played_s: FloatArray
    all_rest_s: FloatArray
    all_lost: NDArray[np.bool_]
    own: IntArray


def hand_data(rounds: Sequence[RoundSeen], *, kind: HandKind) -> HandData:
    """Arrays of the rounds of a kind, out of all the rounds of its player.

    Parameters
    ----------
    rounds : of one player, in any order; at least one of the kind
    kind : which are told of; the others only pass the time, or tire the hand
    """
    rounds = sorted(rounds, key=lambda each: (each.day, each.order))
    own_days = sorted({each.day for each in rounds if each.kind == kind})
    place_of_day = {day: place for place, day in enumerate(own_days)}
    tiring: list[tuple[RoundSeen, float]] = []
    by_day: list[list[int]] = [[] for _ in own_days]
    passed_s = 0.0
    today: date | None = None
    for each in rounds:
        if each.day not in place_of_day:
            continue
        passed_s = (0.0 if each.day != today else passed_s) + _rest_s(each)
        today = each.day
        if _tires(each.kind, kind):
            by_day[place_of_day[each.day]].append(len(tiring))
            tiring.append((each, passed_s))
            passed_s = 0.0
        else:
            passed_s += _played_s(each)
    return _arrays(tiring, by_day, own_days, kind)


def _tires(other: HandKind, kind: HandKind) -> bool:
    """Whether a round of another kind uses the same hand."""
    return kind.hand == "alternating" or other.hand in (kind.hand, "alternating")


def _rest_s(each: RoundSeen) -> float:
    return REST_S if each.rest_s is None else each.rest_s


def _played_s(each: RoundSeen) -> float:
    """Seconds that were played: to the end, to the break, or to where it was broken off."""
    if each.held_on and each.count_held >= each.counts:
        return each.round_s
    return min(each.round_s, 60.0 * (each.count_held + 0.5) / each.tempo_bpm)


def _arrays(
    tiring: Sequence[tuple[RoundSeen, float]],
    by_day: list[list[int]],
    own_days: Sequence[date],
    kind: HandKind,
) -> HandData:
    own = [place for place, (each, _) in enumerate(tiring) if each.kind == kind]
    mine = [tiring[place][0] for place in own]
    place_of_day = {day: place for place, day in enumerate(own_days)}
    held = np.array([each.count_held for each in mine], dtype=float)
    on = np.array([each.held_on for each in mine])
    count_s = 60.0 / np.array([each.tempo_bpm for each in mine])
    counts = np.maximum([each.counts for each in mine], np.maximum(held, 1.0))
    widest = min(max(map(len, by_day), default=0), _ROUNDS_A_DAY)
    before = np.full((len(own_days), widest), -1, dtype=np.int64)
    for place, found in enumerate(by_day):
        before[place, : min(len(found), widest)] = found[:widest]
    every = [each for each, _ in tiring]
    return HandData(
        tempo_bpm=np.array([each.tempo_bpm for each in mine]) * hand_rate_factor(kind),
        low_s=held * count_s,
        high_s=np.where(on, np.inf, (held + 1.0) * count_s),
        lapse_chance=np.where(on, 1.0 - held / (counts + 1.0), 1.0 / (counts + 1.0)),
        day_index=np.array([place_of_day[each.day] for each in mine], dtype=np.int64),
        days=np.array([(day - own_days[0]).days for day in own_days], dtype=float),
        first_day=own_days[0],
        last_day=own_days[-1],
        before=before,
        all_tempo_bpm=np.array([each.tempo_bpm * hand_rate_factor(each.kind) for each in every]),
        all_played_s=np.array([_played_s(each) for each in every]),
        all_rest_s=np.array([rest_s for _, rest_s in tiring]),
        all_lost=np.array([not each.held_on for each in every]),
        own=np.array(own, dtype=np.int64),
    )


def fresh_bounds_s(
    data: HandData,
    *,
    law: Law,
    minute_bpm: FloatArray,
    steepness_bpm: float,
    top_s: float,
    recovery_s: float,
) -> tuple[FloatArray, FloatArray]:
    """Bounds of the hold times as a fresh hand would have had them.

    A round takes from the reserve the share that its time is of the time held at its tempo, a lost
    one all that it can; rests give back what ``recovered`` says. A hand with a share of its reserve
    holds that share of the time.

    Parameters
    ----------
    minute_bpm : float array, shape (d,), tempo held for a minute on each day
    steepness_bpm, top_s : of the curve; ``top_s`` is 0 but for the top rate law
    recovery_s : time constant of recovery

    Returns
    -------
    low_s, high_s : float arrays, shape (n,)
    """
    day_of_all = np.zeros(len(data.all_tempo_bpm), dtype=np.int64)
    inside = data.before >= 0
    day_of_all[data.before[inside]] = np.nonzero(inside)[0]
    excess = (data.all_tempo_bpm - minute_bpm[day_of_all]) / steepness_bpm
    whole_s = np.exp(log_time_of_excess(law, excess, top_s=top_s)) + top_s
    spent = data.all_played_s / whole_s
    shares = np.ones(len(spent))
    share = np.ones(len(data.days))
    for place in range(data.before.shape[1]):
        at = data.before[:, place]
        there = at >= 0
        at = at[there]
        if place:
            share[there] = recovered(
                share[there], rest_s=data.all_rest_s[at], recovery_s=recovery_s
            )
        shares[at] = share[there]
        left = np.where(data.all_lost[at], top_s / whole_s[at], share[there] - spent[at])
        share[there] = np.maximum(np.minimum(left, share[there]), 0.0)
    own = np.maximum(shares[data.own], _LEAST_SHARE)
    return _fresh(data.low_s, own, top_s), _fresh(data.high_s, own, top_s)


def _fresh(bound_s: FloatArray, share: FloatArray, top_s: float) -> FloatArray:
    """Bound of a fresh hand in place of one with a share of its reserve."""
    return np.where(bound_s > 0.0, (bound_s + top_s) / share - top_s, bound_s)


def order_varies(data: HandData) -> bool:
    """Whether slower rounds follow faster ones often enough to tell tiring from tempo."""
    slower = 0
    for found in data.before:
        tempos = data.all_tempo_bpm[found[found >= 0]]
        slower += int((tempos[1:] < np.maximum.accumulate(tempos)[:-1]).sum())
    return slower >= max(_SLOWER_ROUNDS, _SLOWER_SHARE * len(data.all_tempo_bpm))
