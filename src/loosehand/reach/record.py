"""The record of past forecasts: what was foretold of a hand a week ahead, and what became of it.

Every Monday is an origin: the hand is fitted with what was there before it, the rounds of its
week are foretold, each as if played fresh, and scored. A forecast never changes once the rounds
before its origin do not, so a week that was scored is scored for good.

Only rounds whose end is known are scored: those held to their end, and those lost. How the
intervals do is told of rounds in doubt alone, those of which less than 95 chances in 100 to be
held were foretold: of the others nearly everything is one and the same count.

Source
------
Gneiting, Balabdaoui and Raftery (2007), Probabilistic forecasts, calibration and sharpness,
Journal of the Royal Statistical Society B 69:243-268; Czado, Gneiting and Held (2009), Predictive
model assessment for count data, Biometrics 65:1254-1261 (what share of a count lies within; from
memory). The bins, the baseline and the bounds of a chance are ours.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from loosehand.reach.fit import fit_hand
from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind, RoundSeen

__all__ = [
    "ForecastRecord",
    "ReliabilityBin",
    "RoundForetold",
    "WeekForetold",
    "foretell_week",
    "origins_of",
    "record_of_weeks",
    "score_week",
]

MOST_ORIGINS = 12
_WEEK = timedelta(days=7)
_LEAST_BEFORE = 10
_DRAWS = 4000
_LOW, _HIGH = 0.1, 0.9
_IN_DOUBT = 0.95
_SUREST = 0.99
"""No chance is told as more certain than this, nor scored as such."""
_EDGES = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)


@dataclass(frozen=True)
class RoundForetold:
    """A round that was foretold, and what became of it.

    Attributes
    ----------
    chance : foretold, that it is held to its end
    held : whether it was
    in_80 : share of its count that lies within the middle 80 chances in 100 of the counts foretold
    baseline : share of the earlier rounds of its tempo and length that were held, one held and
        one lost added
    """

    chance: float
    held: bool
    in_80: float
    baseline: float


@dataclass(frozen=True)
class WeekForetold:
    """The rounds of one week.

    Attributes
    ----------
    origin : its Monday; only what lies before it was known
    rounds : in the order played
    """

    origin: date
    rounds: tuple[RoundForetold, ...]


@dataclass(frozen=True)
class ReliabilityBin:
    """Rounds of which a like chance was foretold."""

    mean_chance: float
    share_held: float
    rounds: int


@dataclass(frozen=True)
class ForecastRecord:
    """What became of the forecasts.

    Attributes
    ----------
    origins : how many weeks were foretold
    rounds : how many rounds
    rounds_in_doubt : those that ``share_in_80`` is told of
    share_in_80 : share of counts within the intervals that hold 80 chances in 100; NaN for none
    reliability : in rising order of the chance
    mean_log_score : mean of the log of the chance that was given to what became of it; nearer to
        nought is better
    baseline_log_score : the same of the shares of earlier rounds
    """

    origins: int
    rounds: int
    rounds_in_doubt: int
    share_in_80: float
    reliability: tuple[ReliabilityBin, ...]
    mean_log_score: float
    baseline_log_score: float


def origins_of(rounds: Iterable[RoundSeen], *, kind: HandKind, as_of: date) -> tuple[date, ...]:
    """Mondays of the last weeks that can be scored, at most twelve.

    Parameters
    ----------
    rounds : of one player
    as_of : weeks that were not over by then are left out
    """
    own = sorted(each.day for each in rounds if each.kind == kind and _is_known(each))
    mondays = {day - timedelta(days=day.weekday()) for day in own[_LEAST_BEFORE:]}
    over = [
        monday
        for monday in sorted(mondays)
        if monday + _WEEK <= as_of + timedelta(days=1) and own[_LEAST_BEFORE - 1] < monday
    ]
    return tuple(over[-MOST_ORIGINS:])


def foretell_week(rounds: Sequence[RoundSeen], *, kind: HandKind, origin: date) -> WeekForetold:
    """Fit what was there before a Monday, foretell the rounds of its week, and score them.

    Parameters
    ----------
    rounds : of one player, in the order played
    kind : whose hand is told of

    Raises
    ------
    NotIdentifiable   if there is no round of the kind before it
    """
    before = [each for each in rounds if each.day < origin]
    reach = fit_hand(before, kind=kind, as_of=origin - timedelta(days=1))
    return score_week(reach, rounds, origin=origin)


def score_week(reach: Reach, rounds: Iterable[RoundSeen], *, origin: date) -> WeekForetold:
    """Score the rounds of a week against what was foretold of them.

    Parameters
    ----------
    reach : fitted with what was there before the origin
    rounds : of one player, in the order played
    """
    rng = np.random.default_rng(origin.toordinal())
    own = [each for each in rounds if each.kind == reach.kind and _is_known(each)]
    before = [each for each in own if each.day < origin]
    week = [each for each in own if origin <= each.day < origin + _WEEK]
    return WeekForetold(origin, tuple(_score(reach, each, before, rng) for each in week))


def record_of_weeks(weeks: Sequence[WeekForetold]) -> ForecastRecord | None:
    """Sum the weeks up; None where no round was foretold."""
    rounds = [each for week in weeks for each in week.rounds]
    if not rounds:
        return None
    doubted = [each.in_80 for each in rounds if each.chance < _IN_DOUBT]
    return ForecastRecord(
        origins=sum(bool(week.rounds) for week in weeks),
        rounds=len(rounds),
        rounds_in_doubt=len(doubted),
        share_in_80=float(np.mean(doubted)) if doubted else math.nan,
        reliability=_reliability(rounds),
        mean_log_score=float(np.mean([_log_score(each.chance, each.held) for each in rounds])),
        baseline_log_score=float(
            np.mean([_log_score(each.baseline, each.held) for each in rounds])
        ),
    )


def _is_known(each: RoundSeen) -> bool:
    """Whether it is known how far the hand got: not where the round was broken off."""
    return not each.held_on or each.count_held >= each.counts


def _score(
    reach: Reach, each: RoundSeen, before: Sequence[RoundSeen], rng: np.random.Generator
) -> RoundForetold:
    """Foretell one round and score it."""
    counts = max(each.counts, 1)
    held = each.held_on
    alike = [
        past.held_on
        for past in before
        if past.tempo_bpm == each.tempo_bpm and past.round_s == each.round_s
    ]
    chance = reach.chance_of_holding(
        tempo_bpm=each.tempo_bpm, time_s=max(60.0 * counts / each.tempo_bpm, 0.5)
    )
    hold_s = reach.draw_hold_s(each.tempo_bpm, rng, _DRAWS)
    drawn = np.minimum(np.floor(hold_s * each.tempo_bpm / 60.0), counts)
    count = counts if held else min(each.count_held, counts)
    under, up_to = float((drawn < count).mean()), float((drawn <= count).mean())
    return RoundForetold(
        chance=chance,
        held=held,
        in_80=_share_within(under, up_to),
        baseline=(sum(alike) + 1) / (len(alike) + 2),
    )


def _share_within(under: float, up_to: float) -> float:
    """Share of a count, which takes up the chances from one bound to the other, within 80."""
    if up_to <= under:
        return float(_LOW <= under <= _HIGH)
    return max(min(up_to, _HIGH) - max(under, _LOW), 0.0) / (up_to - under)


def _log_score(chance: float, held: bool) -> float:
    """Log of the chance that was given to what happened."""
    given = chance if held else 1.0 - chance
    return math.log(min(max(given, 1.0 - _SUREST), _SUREST))


def _reliability(rounds: Sequence[RoundForetold]) -> tuple[ReliabilityBin, ...]:
    """Sort rounds by the chance foretold."""
    chances = np.array([each.chance for each in rounds])
    held = np.array([each.held for each in rounds], dtype=float)
    place = np.digitize(chances, _EDGES[1:-1])
    return tuple(
        ReliabilityBin(
            float(chances[place == each].mean()),
            float(held[place == each].mean()),
            int((place == each).sum()),
        )
        for each in range(len(_EDGES) - 1)
        if (place == each).any()
    )
