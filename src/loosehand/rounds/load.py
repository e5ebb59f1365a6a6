"""How much the hands have struck: strokes a day and a week, against the four weeks before."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from loosehand.rounds.day_known import PastRound

__all__ = ["DayLoad", "WeekLoad", "day_loads", "load_caution", "strokes_of", "week_load"]

_WEEK_DAYS = 7
_WEEKS_BEFORE = 4
_FEWEST_WEEKS = 2
_JUMP = 1.5
"""Common practice, no source."""
_FLOOR = 3000
"""Strokes of a hand in a week under which nothing is a jump: eight minutes or so. Ours."""


@dataclass(frozen=True)
class DayLoad:
    """Strokes of each hand on a day."""

    day: date
    left: float
    right: float

    @property
    def both(self) -> float:
        """Of both hands together."""
        return self.left + self.right


@dataclass(frozen=True)
class WeekLoad:
    """Strokes of a hand in seven days, and how they compare.

    Attributes
    ----------
    hand : left or right
    strokes : in the seven days that end today
    mean : a week's in the four weeks before those, None with fewer than two weeks of them
    is_jump : more than 1.5 times the mean, and more than 3000
    """

    hand: str
    strokes: float
    mean: float | None
    is_jump: bool


def strokes_of(*, hand: str, counts: float, places_per_count: int) -> tuple[float, float]:
    """Strokes of the left and of the right hand in so many counts.

    Examples
    --------
    >>> strokes_of(hand="left", counts=60, places_per_count=4)
    (240, 0)
    >>> strokes_of(hand="alternating", counts=60, places_per_count=4)
    (120.0, 120.0)
    """
    strokes = counts * places_per_count
    if hand == "alternating":
        return strokes / 2, strokes / 2
    return (strokes, 0) if hand == "left" else (0, strokes)


def day_loads(history: Sequence[PastRound]) -> tuple[DayLoad, ...]:
    """Strokes of each day that was played, in order; warm-ups are strokes too."""
    sums: dict[date, tuple[float, float]] = {}
    for each in history:
        left, right = strokes_of(
            hand=each.hand, counts=_counts_played(each), places_per_count=each.places_per_count
        )
        before = sums.get(each.day, (0.0, 0.0))
        sums[each.day] = (before[0] + left, before[1] + right)
    return tuple(DayLoad(day, *sums[day]) for day in sorted(sums))


def week_load(
    loads: Sequence[DayLoad], *, today: date, hand: str, planned_strokes: float
) -> WeekLoad:
    """A hand's strokes in the seven days that end today, with those planned.

    Parameters
    ----------
    loads : days played, in order
    today : the last of the seven
    hand : left or right
    planned_strokes : of the rounds that are still to come today

    Source
    ------
    Ours. That a week should not jump far over those before is common practice, no source.
    """
    first = today - timedelta(days=_WEEK_DAYS - 1)
    before_from = first - timedelta(days=_WEEKS_BEFORE * _WEEK_DAYS)
    strokes = planned_strokes + sum(getattr(each, hand) for each in loads if each.day >= first)
    began = max(before_from, loads[0].day) if loads else first
    weeks = (first - began).days / _WEEK_DAYS
    mean = None
    if weeks >= _FEWEST_WEEKS:
        mean = sum(getattr(each, hand) for each in loads if before_from <= each.day < first) / weeks
    jumps = mean is not None and strokes > _JUMP * mean and strokes > _FLOOR
    return WeekLoad(hand, strokes, mean, jumps)


def load_caution(
    history: Sequence[PastRound], *, today: date, planned_strokes: tuple[float, float]
) -> str | None:
    """One sentence where a hand's week jumps, None otherwise."""
    loads = day_loads(history)
    weeks = [
        week_load(loads, today=today, hand=hand, planned_strokes=planned)
        for hand, planned in zip(("left", "right"), planned_strokes, strict=True)
    ]
    jumps = [each for each in weeks if each.is_jump]
    if not jumps:
        return None
    told = " and ".join(
        f"{each.strokes:.0f} with the {each.hand} hand (a week before: {each.mean:.0f})"
        for each in jumps
    )
    return f"With today's rounds the strokes of seven days jump: {told}; a shorter workout is wise."


def _counts_played(past: PastRound) -> int:
    """Counts that were struck: those known, else those held, else all."""
    if past.counts_played is not None:
        return past.counts_played
    if past.held_on or past.count_held is None:
        return past.counts
    return past.count_held
