"""When a tempo is reached if practice bends as its named curves say, beside the straight line."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import NotIdentifiable
from loosehand.reach.practice_curves import PracticeFit, compare_practice_curves
from loosehand.reach.reach import Reach

__all__ = ["CurveDate", "dates_by_curve"]

FloatArray = NDArray[np.float64]
_TELLING_SD_BPM = 30.0


@dataclass(frozen=True)
class CurveDate:
    """A practice curve's word on a target.

    Attributes
    ----------
    curve : straight, exponential or power
    weight : its share of the evidence among the three
    level_bpm : tempo held for a minute on the last day asked for
    asymptote_bpm : tempo for a minute that the curve nears, None for the straight line
    reached : the day on which its most likely course reaches the target, None if not by then
    """

    curve: str
    weight: float
    level_bpm: float
    asymptote_bpm: float | None
    reached: date | None


def dates_by_curve(
    reach: Reach, *, tempo_bpm: float, time_s: float, last: date
) -> tuple[CurveDate, ...]:
    """When each practice curve reaches a tempo held for a time, the likeliest curve first.

    Parameters
    ----------
    reach : of a hand
    tempo_bpm, time_s : the target
    last : day after which nothing is asked

    Raises
    ------
    NotIdentifiable   if fewer than three days tell of the hand
    InputError   if the time cannot be
    """
    told = [day for day in reach.days if day.own_sd_bpm < _TELLING_SD_BPM]
    if len(told) < 3:
        raise NotIdentifiable(f"{len(told)} days tell of no practice curve: play on 3 at least")
    first = told[0].day
    day = np.array([float((each.day - first).days) for each in told])
    own_bpm = np.array([each.own_bpm for each in told])
    variance = np.array([each.own_sd_bpm for each in told]) ** 2
    fits = compare_practice_curves(day, own_bpm, variance)
    evidence = np.array([fit.log_evidence for fit in fits])
    weights = np.exp(evidence - evidence.max())
    minute_bpm = tempo_bpm - (
        reach.tempo_held_bpm(time_s).median - reach.tempo_held_bpm(60.0).median
    )
    return tuple(
        CurveDate(
            fit.curve,
            float(weight),
            fit.level_bpm(float((last - first).days)).median,
            fit.asymptote_bpm,
            _reached(fit, minute_bpm, first=first, begin=reach.as_of, last=last),
        )
        for fit, weight in zip(fits, weights / weights.sum(), strict=True)
    )


def _reached(
    fit: PracticeFit, minute_bpm: float, *, first: date, begin: date, last: date
) -> date | None:
    """First day from ``begin`` on which the curve stands at a tempo."""
    for ahead in range((last - begin).days + 1):
        day = begin + timedelta(days=ahead)
        if fit.level_bpm(float((day - first).days)).median >= minute_bpm:
            return day
    return None
