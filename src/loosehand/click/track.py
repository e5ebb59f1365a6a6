"""A click track: which clicks sound when, and what each of them is."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from loosehand.errors import BadNotation
from loosehand.parts import Meter, TempoMap

__all__ = ["Click", "ClickPlan", "ClickRole", "click_track", "round_clicks"]

ClickRole = Literal["count-in", "downbeat", "count", "subdivision"]


@dataclass(frozen=True)
class Click:
    """One click.

    Attributes
    ----------
    at_s : exact seconds from the first place of count 1 (before it: negative)
    role : what this click is
    count : count of the round from 1; count-in clicks count up to 0
    audible : False in a silent bar: the count is there, its sound is not
    """

    at_s: Fraction
    role: ClickRole
    count: int
    audible: bool


@dataclass(frozen=True)
class ClickPlan:
    """What is asked of a click track.

    Attributes
    ----------
    meter : the meter, its counts grouped
    bars : bars of the round, the last of which may be cut short by ``counts``
    counts : counts of the round, or None for whole bars
    count_in_counts : clicks before count 1
    subdivision_places : 1 for counts alone; n for n evenly spaced clicks in each unit
    silent_bars : numbers, from 1, of the bars in which no click sounds
    """

    meter: Meter
    bars: int
    counts: int | None
    count_in_counts: int
    subdivision_places: int
    silent_bars: frozenset[int]


def click_track(plan: ClickPlan, tempo: TempoMap) -> tuple[Click, ...]:
    """All clicks of a round in order.

    Parameters
    ----------
    plan : what is asked
    tempo : tempo map, position 0 at the first place of count 1

    Returns
    -------
    clicks : count-in first; times exact

    Raises
    ------
    BadNotation    if the plan asks for no bar or for a negative count-in

    Examples
    --------
    >>> plan = ClickPlan(Meter((1, 1, 1, 1), 4), 1, None, 2, 1, frozenset())
    >>> from loosehand.parts import steady_tempo
    >>> [str(c.at_s) for c in click_track(plan, steady_tempo(Fraction(60)))]
    ['-2', '-1', '0', '1', '2', '3']
    """
    if plan.bars < 1 or plan.count_in_counts < 0 or plan.subdivision_places < 1:
        raise BadNotation(
            f"bars = {plan.bars}, count_in_counts = {plan.count_in_counts}, "
            f"subdivision_places = {plan.subdivision_places}: want 1, 0 and 1 or more"
        )
    clicks = [*_count_in(plan, tempo), *_round(plan, tempo)]
    return tuple(sorted(clicks, key=lambda click: click.at_s))


def _count_in(plan: ClickPlan, tempo: TempoMap) -> list[Click]:
    starts = plan.meter.count_starts()
    clicks = []
    for back in range(1, plan.count_in_counts + 1):
        bar, index = divmod(-back, len(starts))
        position = bar * plan.meter.bar_length + starts[index]
        clicks.append(Click(tempo.position_to_s(position), "count-in", 1 - back, audible=True))
    return clicks


def _round(plan: ClickPlan, tempo: TempoMap) -> list[Click]:
    clicks: list[Click] = []
    count = 0
    for bar in range(plan.bars):
        audible = bar + 1 not in plan.silent_bars
        for index, (start, units) in enumerate(
            zip(plan.meter.count_starts(), plan.meter.grouping, strict=True)
        ):
            count += 1
            if plan.counts is not None and count > plan.counts:
                return clicks
            position = bar * plan.meter.bar_length + start
            role: ClickRole = "downbeat" if index == 0 else "count"
            clicks.append(Click(tempo.position_to_s(position), role, count, audible))
            if plan.subdivision_places == 1:
                continue
            step = Fraction(1, plan.meter.unit * plan.subdivision_places)
            clicks.extend(
                Click(tempo.position_to_s(position + k * step), "subdivision", count, audible)
                for k in range(1, units * plan.subdivision_places)
            )
    return clicks


def round_clicks(
    tempo: TempoMap, *, counts: int, count_in_counts: int, counts_per_bar: int
) -> tuple[Click, ...]:
    """Clicks of a plain round: quarters, one click a count.

    Examples
    --------
    >>> from loosehand.parts import steady_tempo
    >>> clicks = round_clicks(
    ...     steady_tempo(Fraction(60)), counts=60, count_in_counts=4, counts_per_bar=4
    ... )
    >>> len(clicks), clicks[-1].count
    (64, 60)
    """
    plan = ClickPlan(
        meter=Meter((1,) * counts_per_bar, 4),
        bars=-(-counts // counts_per_bar),
        counts=counts,
        count_in_counts=count_in_counts,
        subdivision_places=1,
        silent_bars=frozenset(),
    )
    return click_track(plan, tempo)
