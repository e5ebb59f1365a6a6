"""Charts of invented players, small enough to be fitted in tests."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from loosehand.players.charts import LadderHabit, play_ladders
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.round_tags import RoundTags
from tests.reach.ladder_hands import a_player

LAST = date(2027, 3, 1)
TAGS = RoundTags("left", 100.0, 4, 60.0, None, "pad", None, None)


def chart_rows(player="Ines", *, hands=("left", "right"), days=6, last=LAST):
    """Return days of ladders, hand by hand: 90 held, 100 lost late, 110 lost soon."""
    return [
        ChartRow(
            day=last - timedelta(days=2 * back),
            order=None,
            player=player,
            tags=replace(TAGS, hand=hand, tempo_bpm=tempo_bpm),
            count_held=count_held,
            ended=None,
        )
        for back in range(days - 1, -1, -1)
        for tempo_bpm, count_held in ((90.0, 90), (100.0, 60 + back), (110.0, 12 + back))
        for hand in hands
    ]


def ladder_rows(player="Ines", *, days=30, last=LAST, seed=1):
    """Return a ladder of the left hand a day, of a hand that gains a little."""
    played = play_ladders(
        {"left": a_player(recovery_s=30.0)},
        range(days),
        np.random.default_rng([20270301, seed]),
        habit=LadderHabit(),
    )
    return [
        ChartRow(
            day=last - timedelta(days=days - 1 - each.day),
            order=None,
            player=player,
            tags=replace(TAGS, tempo_bpm=each.tempo_bpm),
            count_held=each.count_held,
            ended=None,
        )
        for each in played
    ]


def of_hand(rows, hand, **tags):
    """Return the rows with another hand, and other tags where named."""
    return [replace(row, tags=replace(row.tags, hand=hand, **tags)) for row in rows]
