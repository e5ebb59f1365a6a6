"""Small charts of hands whose ability is known, as the model of the reach sees them."""

from datetime import date, timedelta

import numpy as np

from loosehand.players.charts import ChartPlayer, LadderHabit, play_ladders
from loosehand.reach.draws import level_covariance
from loosehand.reach.hand_data import hand_data
from loosehand.reach.laplace import Shape, Task
from loosehand.reach.noises import Start
from loosehand.reach.prior import NOBODY_KNOWN, log_steepness
from loosehand.reach.seen import HandKind, RoundSeen

FIRST = date(2027, 1, 4)
KIND = HandKind("left", None, "pad", None, 4)
NEAR = LadderHabit(step_bpm=4.0, below_edge_bpm=10.0)
AT_ONCE_S = 1e-3
"""A recovery so quick that every round begins fresh."""


def a_round(
    day=0, order=1, *, tempo_bpm=100.0, held=50, on=False, rest_s=None, kind=KIND, round_s=60.0
):
    """Return one round; ``day`` counts from the first."""
    when = FIRST + timedelta(days=day)
    return RoundSeen(when, order, kind, float(tempo_bpm), round_s, held, on, rest_s)


def a_player(law="hyperbolic", **traits):
    """Return a hand that comes back at once and never slips, unless its traits say else."""
    usual = {
        "minute_bpm": 95.0,
        "short_lead_bpm": 7.0,
        "top_s": 3.0,
        "gain_bpm_per_month": 1.5,
        "day_form_bpm": 1.5,
        "time_noise": 0.2,
        "tempo_noise_bpm": 0.8,
        "recovery_s": None,
        "lapse_share": 0.0,
    }
    return ChartPlayer(law, **(usual | traits))


def ladders(player, days, *, seed, habit=NEAR, hand="left", kind=KIND):
    """Return the rounds of a ladder a day, ``days`` a number or a list of days."""
    days = range(days) if isinstance(days, int) else days
    played = play_ladders({hand: player}, list(days), np.random.default_rng(seed), habit=habit)
    return [
        RoundSeen(
            FIRST + timedelta(days=each.day),
            each.order,
            kind,
            each.tempo_bpm,
            each.round_s,
            each.count_held,
            each.held_on,
            each.rest_s,
        )
        for each in played
    ]


def a_task(rounds, law, *, prior=NOBODY_KNOWN):
    """Return what is fitted of a hand that is always fresh."""
    data = hand_data(rounds, kind=KIND)
    values, vectors = np.linalg.eigh(level_covariance(data.days, data.days, prior=prior))
    size = 2 if law == "top rate" else 1
    mean = np.array([log_steepness(law, prior), prior.log_top_s])[:size]
    sd = np.array([prior.log_drop_sd, prior.log_top_sd])[:size]
    return Task(
        data=data,
        law=law,
        low_s=data.low_s,
        high_s=data.high_s,
        minute_bpm=prior.minute_bpm,
        trend_values=np.maximum(values, 0.0),
        trend_vectors=vectors,
        shape=Shape(mean, sd),
    )


def a_start(task, *, minute_bpm=93.0, prior=NOBODY_KNOWN):
    """Return where a climb may begin."""
    spreads = np.array([prior.log_form_bpm, prior.log_tempo_noise_bpm, prior.log_time_noise])
    return Start(np.full(len(task.data.days), minute_bpm), task.shape.mean, spreads)
