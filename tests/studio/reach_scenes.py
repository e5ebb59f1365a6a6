"""Charts of invented players, small enough to be fitted in tests."""

from dataclasses import replace
from datetime import date, timedelta

from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.round_tags import RoundTags

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
