"""What the page of the reach shows of one hand: plots, tables and figures, laid out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

import numpy as np
from markupsafe import Markup

from loosehand.reach.reach import Reach
from loosehand.reach.seen import RoundSeen
from loosehand.web.pages.chart_period import day_words
from loosehand.web.pages.reach_asked import TempoFor
from loosehand.web.pages.reach_kind import kind_words
from loosehand.web.pages.reach_words import bpm, drawn_as, length_sign, percent_sign, span
from loosehand.web.plots.reach_curve import (
    LONGEST_S,
    SHORTEST_S,
    CurvePoint,
    HoldCurve,
    RoundMark,
    draw_curve,
)
from loosehand.web.plots.reach_trend import Trend, TrendDay, draw_trend

__all__ = [
    "ChanceCell",
    "ChanceTable",
    "CurveRow",
    "TempoRounds",
    "chance_table",
    "curve_rows",
    "curve_svg",
    "highest_tempo_bpm",
    "rounds_by_tempo",
    "trend_svg",
]

_RECENT_DAYS = 28
_CURVE_POINTS = 41
_TABLE_S = (10.0, 20.0, 30.0, 60.0, 120.0, 240.0, 480.0)
_CHANCE_S = (60.0, 120.0, 240.0)
_STEPS_BELOW, _STEPS_ABOVE = 6, 3
_SURE, _RARE = 0.9, 0.1
_FINE_STEP_BPM, _COARSE_STEP_BPM = 2.0, 5.0
_FINE_UP_TO_BPM = 12
_LOWEST_BPM, _HIGHEST_BPM = 20, 400


@dataclass(frozen=True)
class CurveRow:
    """A time and the tempo held so long, in words."""

    length: str
    held: str
    bounds: str
    beyond: bool


@dataclass(frozen=True)
class TempoRounds:
    """Rounds of a tempo: how many, how many held on, and how long the others were held."""

    tempo_bpm: float
    rounds: int
    held_on: int
    lost_after: str


@dataclass(frozen=True)
class ChanceCell:
    """A chance in percent, and whether it goes beyond what was seen."""

    chance: str
    beyond: bool


@dataclass(frozen=True)
class ChanceTable:
    """Chances of holding: lengths across, tempos down.

    Attributes
    ----------
    lengths : heads of the columns
    rows : tempo, its cells, and whether it is the one that was asked for
    """

    lengths: tuple[str, ...]
    rows: tuple[tuple[float, tuple[ChanceCell, ...], bool], ...]

    @property
    def any_beyond(self) -> bool:
        """Whether any of the chances goes beyond what was seen."""
        return any(cell.beyond for _, cells, _ in self.rows for cell in cells)


def curve_svg(reach: Reach, rounds: Sequence[RoundSeen]) -> Markup:
    """Draw the hold-time curve of a hand with its rounds.

    Parameters
    ----------
    reach : of the hand
    rounds : of the same kind
    """
    times_s = set(np.geomspace(SHORTEST_S, LONGEST_S, _CURVE_POINTS))
    if SHORTEST_S < reach.longest_held_s < LONGEST_S:
        times_s.add(reach.longest_held_s)
    points = []
    for time_s in sorted(float(each) for each in times_s):
        held = reach.tempo_held_bpm(time_s)
        points.append(CurvePoint(time_s, held.low80, held.median, held.high80))
    return draw_curve(
        HoldCurve(
            points=tuple(points),
            marks=tuple(_mark(each, as_of=reach.as_of) for each in rounds),
            longest_held_s=reach.longest_held_s,
            title=f"Hold time by tempo: {kind_words(reach.kind)}",
            words=drawn_as(reach),
        )
    )


def _mark(each: RoundSeen, *, as_of: date) -> RoundMark:
    return RoundMark(
        tempo_bpm=each.tempo_bpm,
        time_s=60.0 * each.count_held / each.tempo_bpm,
        fate="held on" if each.held_on else "lost",
        recent=each.day > as_of - timedelta(days=_RECENT_DAYS),
    )


def curve_rows(reach: Reach) -> list[CurveRow]:
    """The hold-time curve as rows of a table."""
    rows = []
    for time_s in _TABLE_S:
        held = reach.tempo_held_bpm(time_s)
        beyond = reach.is_beyond_seen(time_s)
        rows.append(CurveRow(length_sign(time_s), bpm(held.median), span(held), beyond))
    return rows


def rounds_by_tempo(rounds: Sequence[RoundSeen]) -> list[TempoRounds]:
    """The rounds of the picture as rows of a table, in rising order of tempo."""
    ordered = sorted(rounds, key=lambda each: each.tempo_bpm)
    rows = []
    for tempo_bpm, group in groupby(ordered, key=lambda each: each.tempo_bpm):
        own = list(group)
        lost_s = [60.0 * each.count_held / tempo_bpm for each in own if not each.held_on]
        rows.append(
            TempoRounds(tempo_bpm, len(own), len(own) - len(lost_s), _from_to_words(lost_s))
        )
    return rows


def _from_to_words(lost_s: Sequence[float]) -> str:
    if not lost_s:
        return "none lost"
    low, high = f"{min(lost_s):.0f}", f"{max(lost_s):.0f}"
    return f"{low} s" if low == high else f"{low} to {high} s"


def trend_svg(reach: Reach, *, since: date) -> Markup:
    """Draw the trend of the tempo held for a minute.

    Parameters
    ----------
    reach : of the hand, with at least one day
    since : the day compared with
    """
    days = [
        TrendDay(
            each.day,
            each.level.low80,
            each.level.median,
            each.level.high80,
            each.level.median + each.form_bpm.median,
        )
        for each in reach.days
    ]
    if days[-1].day < reach.as_of:
        now = reach.tempo_held_bpm(60.0)
        days.append(TrendDay(reach.as_of, now.low80, now.median, now.high80, None))
    return draw_trend(
        Trend(
            tuple(days),
            since,
            title=f"Tempo held for a minute, day by day: {kind_words(reach.kind)}",
            words=_trend_described(days),
        )
    )


def _trend_described(days: Sequence[TrendDay]) -> str:
    first, last = days[0], days[-1]
    return (
        f"The trend stands at {bpm(first.median_bpm)} on {day_words(first.day)} and at "
        f"{bpm(last.median_bpm)} on {day_words(last.day)}; each day played is a dot above or below "
        "it, by its form."
    )


def chance_table(reach: Reach, asked: TempoFor | None) -> ChanceTable:
    """Chances of holding tempos around the edge for some lengths, and for the one asked for.

    Parameters
    ----------
    reach : of the hand
    asked : a tempo and a length that get a row and a column of their own
    """
    lengths_s = list(_CHANCE_S)
    tempos = _tempos_around(reach)
    if asked is not None:
        lengths_s = sorted({*lengths_s, asked.time_s})
        tempos = sorted({*tempos, asked.tempo_bpm})
    rows = []
    for tempo_bpm in tempos:
        cells = tuple(_cell(reach, tempo_bpm, time_s) for time_s in lengths_s)
        rows.append((tempo_bpm, cells, asked is not None and tempo_bpm == asked.tempo_bpm))
    return ChanceTable(tuple(length_sign(time_s) for time_s in lengths_s), tuple(rows))


def _tempos_around(reach: Reach) -> list[float]:
    """Tempos around the one held for a minute, by 2 where little lies between sure and lost."""
    sure, rare = (
        highest_tempo_bpm(reach, chance=chance, time_s=60.0) or _LOWEST_BPM
        for chance in (_SURE, _RARE)
    )
    step = _FINE_STEP_BPM if rare - sure <= _FINE_UP_TO_BPM else _COARSE_STEP_BPM
    middle = step * round(reach.tempo_held_bpm(60.0).median / step)
    tempos = [middle + step * place for place in range(-_STEPS_BELOW, _STEPS_ABOVE + 1)]
    return [tempo for tempo in tempos if _LOWEST_BPM <= tempo <= _HIGHEST_BPM]


def _cell(reach: Reach, tempo_bpm: float, time_s: float) -> ChanceCell:
    chance = reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=time_s)
    return ChanceCell(percent_sign(chance), reach.is_beyond_seen(time_s))


def highest_tempo_bpm(reach: Reach, *, chance: float, time_s: float) -> int | None:
    """Highest whole tempo that is held for a time with at least a chance; None if none is.

    Parameters
    ----------
    reach : of the hand
    chance : of holding
    time_s : how long
    """
    low, high = _LOWEST_BPM, _HIGHEST_BPM
    if reach.chance_of_holding(tempo_bpm=low, time_s=time_s) < chance:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if reach.chance_of_holding(tempo_bpm=middle, time_s=time_s) >= chance:
            low = middle
        else:
            high = middle
    return low
