"""Whether the drive comes every 4, 3, 2 or 1 strokes, as far as the sound can tell.

For every period and phase a model says what the places of a cycle should be like: after an accent
the taps lie lower by the contrast, each further one by the decay, and the stroke after the accent
may come late. A contrast is 2 to 14 dB, each as likely: less is no accent. Period 1 has no accents.
Whatever the period, each place of the count has a level and a time of its own, drawn from a spread
that even players show: this is what makes a small difference no drive. In one take of five the
places lie much further off in time: a stroke that is far too late is a fault, not a drive. Given
the contrast the models are linear with normal priors, so the evidence of each is exact, the wide
priors of the longer ones weighing against them. Periods are equally likely before, and phases
within a period.

What sound cannot tell: a drive that falls together with the count. At four places a count, fours
sound as an accented count played with single strokes does. The answer is then 'the accents come
every four strokes', and a note says so.

The priors are ours: chosen from what the trade says of such strokes, common practice, no source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.cycle_profile import CycleProfile

__all__ = ["PERIODS", "PLAUSIBLE", "SURE", "DriveLength", "drive_length"]

FloatArray = NDArray[np.float64]

PERIODS = (1, 2, 3, 4)
"""Strokes a drive that are told apart."""

SURE = 0.75
"""Chance from which a drive length is told. Ours: the answers are right more often than it says
(bench/technique.py)."""

PLAUSIBLE = 0.1
"""Chance from which a drive length is still to be reckoned with. Ours, chosen, not validated."""

_WIDE = 1e3


@dataclass(frozen=True)
class _Belief:
    """What is thought of a series (level in dB or asynchrony in ms) before it is seen.

    ``steps`` are how far the first stroke after the accent may lie from it, each equally likely;
    ``further`` is mean and spread of how far each later stroke lies from the one before; ``stays``
    whether strokes after the first keep the step (as taps keep low) or come back (as time does
    after a late stroke). ``phase`` is the spread of each phase around that, ``places`` the spreads
    of each place of the count with the chance of each, ``rest`` the spread of any other
    irregularity of the cycle.
    """

    steps: tuple[float, ...]
    further: tuple[float, float]
    stays: bool
    phase: float
    places: tuple[tuple[float, float], ...]
    rest: float


_LEVEL = _Belief(
    tuple(-float(step) for step in range(2, 15)),
    (-0.7, 0.8),
    stays=True,
    phase=0.6,
    places=((1.3, 1.0),),
    rest=0.25,
)
_TIMING = _Belief(
    (-2.0, 0.0, 2.0, 4.0, 6.0),
    (0.0, 0.5),
    stays=False,
    phase=1.0,
    places=((3.5, 0.8), (14.0, 0.2)),
    rest=1.0,
)


@dataclass(frozen=True)
class DriveLength:
    """How many strokes come on one drive.

    Attributes
    ----------
    strokes : 4, 3, 2, 1, or None where it cannot be told
    phase : place, modulo ``strokes``, on which the drive falls, counted from place 0 of count 1;
        None where there is none
    confidence : chance of ``strokes``, or of the likeliest one where none is told
    chances : chance of each of `PERIODS`
    plausible : strokes and likeliest phase of every period with a chance of `PLAUSIBLE` or more,
        likeliest first; the told one alone where one is told
    with_the_count : whether the drive falls on the same places of every count, so that accents of
        the count cannot be told from it
    """

    strokes: int | None
    phase: int | None
    confidence: float
    chances: tuple[float, float, float, float]
    plausible: tuple[tuple[int, int], ...]
    with_the_count: bool


def drive_length(
    level: CycleProfile, timing: CycleProfile, *, places_per_count: int
) -> DriveLength:
    """Compare the periods of a drive by their evidence.

    Parameters
    ----------
    level : levels in dB by place of the cycle
    timing : asynchronies in ms by place of the cycle
    places_per_count : places in a count

    Returns
    -------
    length : DriveLength

    Source
    ------
    Ours; evidence of linear models with normal priors, in closed form.
    """
    cases = [(period, phase) for period in PERIODS for phase in range(period)]
    evidence = np.array(
        [
            _log_evidence(level, _LEVEL, period, phase, places_per_count)
            + _log_evidence(timing, _TIMING, period, phase, places_per_count)
            - np.log(period)
            for period, phase in cases
        ]
    )
    weight = np.exp(evidence - evidence.max())
    weight /= weight.sum()
    periods = np.array([period for period, _ in cases])
    chances = [float(weight[periods == period].sum()) for period in PERIODS]
    order = sorted(PERIODS, key=lambda period: -chances[period - 1])
    likeliest, sure = order[0], max(chances) >= SURE
    best = {
        period: cases[int(np.argmax(np.where(periods == period, weight, -1.0)))]
        for period in PERIODS
    }
    plausible = [best[period] for period in order if chances[period - 1] >= PLAUSIBLE]
    return DriveLength(
        strokes=likeliest if sure else None,
        phase=best[likeliest][1] if sure and likeliest > 1 else None,
        confidence=max(chances),
        chances=(chances[0], chances[1], chances[2], chances[3]),
        plausible=tuple(plausible[:1] if sure else plausible),
        with_the_count=sure and likeliest > 1 and places_per_count % likeliest == 0,
    )


def _log_evidence(
    profile: CycleProfile, belief: _Belief, period: int, phase: int, places_per_count: int
) -> float:
    """Log density of the means under one period and phase."""
    cycle = profile.mean.size
    of_count = np.eye(places_per_count)[np.arange(cycle) % places_per_count]
    covariance = profile.covariance + _WIDE**2 + belief.rest**2 * np.eye(cycle)
    away = profile.mean[:, None]
    if period > 1:
        within = (np.arange(cycle) - phase) % period
        after = ((within >= 1) if belief.stays else (within == 1)).astype(float)
        later = np.maximum(within - 1.0, 0.0)
        middle, spread = belief.further
        of_phase = np.eye(period)[within][:, 1:]
        away = away - np.outer(after, belief.steps) - middle * later[:, None]
        covariance = covariance + spread**2 * np.outer(later, later)
        covariance = covariance + belief.phase**2 * of_phase @ of_phase.T
    logs = [
        np.log(share) + _log_normal(away, covariance + place**2 * of_count @ of_count.T)
        for place, share in belief.places
    ]
    return float(np.logaddexp.reduce(np.concatenate(logs))) - float(np.log(away.shape[1]))


def _log_normal(away: FloatArray, covariance: FloatArray) -> FloatArray:
    """Log density of each column, but for a constant."""
    root = np.linalg.cholesky(covariance)
    white = np.linalg.solve(root, away)
    density: FloatArray = -0.5 * np.sum(white**2, axis=0) - np.log(np.diag(root)).sum()
    return density
