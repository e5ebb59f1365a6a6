"""A reach that is known: draws of one curve, for tests of what is asked of it."""

from datetime import date, timedelta

import numpy as np

from loosehand.reach.draws import Draws
from loosehand.reach.laws import LAWS, Curve
from loosehand.reach.reach import DayForm, Interval, LawScore, Reach
from loosehand.reach.seen import HandKind

DAY = date(2027, 3, 1)
DRAWS = 1000
FLAT = Curve("log-linear", 100.0, 1.0)


def a_reach(
    curve=FLAT,
    *,
    kind=None,
    hand="left",
    places=4,
    sd_bpm=0.0,
    draws=DRAWS,
    levels=None,
    gain_bpm=0.0,
    days=1,
    longest_held_s=60.0,
    notes=(),
):
    """A reach whose draws are one curve, moved up and down by a spread.

    ``gain_bpm`` is what it gains in 28 days; ``days`` is how many were played, one a day.
    """
    off = np.random.default_rng(7).normal(0.0, sd_bpm, draws) if sd_bpm else np.zeros(draws)
    level = curve.minute_bpm + off if levels is None else levels
    grid = np.array([-28.0, 0.0, 364.0])
    first = DAY - timedelta(days=days - 1)
    return Reach(
        kind=kind or HandKind(hand, "whip fours", "pad", "medium", places),
        as_of=DAY,
        first_day=first,
        last_day=DAY,
        rounds=30 * days,
        law=curve.law,
        laws=tuple(LawScore(law, -1.0, 1 / 3) for law in LAWS),
        days=tuple(_day(first + timedelta(days=day), curve.minute_bpm) for day in range(days)),
        longest_held_s=longest_held_s,
        highest_seen_bpm=120.0,
        recovery=(),
        recovery_is_told=False,
        notes=notes,
        draws=Draws(
            law=np.full(draws, LAWS.index(curve.law)),
            level_bpm=level[:, None] + gain_bpm * grid / 28.0,
            today_bpm=level,
            grid_day=grid,
            steepness_bpm=np.full(draws, curve.steepness_bpm),
            top_s=np.full(draws, curve.top_s),
            form_bpm=np.full(draws, 2.0),
            tempo_noise_bpm=np.full(draws, 1.0),
            time_noise=np.full(draws, 0.2),
        ),
        known=(),
    )


def _day(day, level_bpm):
    """A day on the trend, half a count above it by its form."""
    level = Interval(level_bpm, level_bpm - 1.0, level_bpm + 1.0)
    return DayForm(day, level, Interval(0.5, -0.5, 1.5), level_bpm + 0.5, 2.0)
