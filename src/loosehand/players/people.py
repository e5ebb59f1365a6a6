"""Who plays: the lasting traits of a simulated drummer, drawn at random.

Timing is the linear phase correction model A(n+1) = (1-a) A(n) + T(n) + M(n+1) - M(n)
(Vorberg and Wing 1996; Pressing 1998) with slow drift added: white jitter is the wrong model
of a player. The ranges below are set so that the spread of asynchrony and its correlation
from stroke to stroke lie where those of people playing sixteenths to a click lie: spread of
0.05 to 0.11 of a place, lag-1 correlation of +0.40 to +0.85.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loosehand.players.performance import Technique

__all__ = [
    "TECHNIQUES",
    "HandTraits",
    "PlayerTraits",
    "correction_lag1",
    "correction_variance",
    "draw_hand",
    "draw_player",
]

FloatArray = NDArray[np.float64]
TECHNIQUES: tuple[Technique, ...] = (
    "singles",
    "whip fours",
    "whip threes",
    "whip twos",
    "push-pull",
)
_LAG1_RANGE = (0.54, 0.84)
_SPREAD_RANGE = (0.05, 0.105)


@dataclass(frozen=True)
class HandTraits:
    """One hand.

    Attributes
    ----------
    spread_share : spread (standard deviation) of asynchrony as a share of a place
    correction : share a of the last asynchrony that is corrected at the next stroke
    motor_ratio : motor noise over timekeeper noise, sM / sT
    drift_share : share of the variance that is slow drift
    drift_counts : counts in which the slow drift forgets itself
    lead_s : steady lead (negative) or lag
    level_db : this hand's level against the other's
    level_spread_db : spread of level from stroke to stroke
    place_offset_s : float array, shape (12,), timing of each place in a count; a count of
        n places uses the first n
    place_level_db : float array, shape (12,), level of each place in a count
    bounce_share : share of strokes followed by a double bounce
    """

    spread_share: float
    correction: float
    motor_ratio: float
    drift_share: float
    drift_counts: float
    lead_s: float
    level_db: float
    level_spread_db: float
    place_offset_s: FloatArray
    place_level_db: FloatArray
    bounce_share: float


@dataclass(frozen=True)
class PlayerTraits:
    """A drummer.

    Attributes
    ----------
    left, right : the hands
    technique : how the strokes are made
    accent_db : how far the taps of a whip, or the pull of push-pull, lie below the accent
    decay_db : how much softer each further tap of a whip is
    accent_stretch_s : how late the stroke after an accent comes
    tiring_counts : counts before a failure over which the hand tires
    tiring_spread : factor by which the spread has grown at the end of them
    tiring_level_db : how far the level has fallen at the end of them
    closing_chance : chance of one more stroke on the count after the round
    """

    left: HandTraits
    right: HandTraits
    technique: Technique
    accent_db: float
    decay_db: float
    accent_stretch_s: float
    tiring_counts: float
    tiring_spread: float
    tiring_level_db: float
    closing_chance: float


def correction_variance(*, timer: float, motor: float, correction: float) -> float:
    """Variance of asynchrony under linear phase correction.

    Parameters
    ----------
    timer, motor : spreads sT and sM, in any one unit
    correction : a, in (0, 2)

    Returns
    -------
    variance : that unit squared

    Source
    ------
    Vorberg and Wing (1996), linear phase correction; closed form of the first-order model.

    Examples
    --------
    >>> round(correction_variance(timer=10.0, motor=5.0, correction=0.5), 4)
    166.6667
    """
    numerator = timer**2 + 2 * correction * motor**2
    return numerator / (1 - (1 - correction) ** 2)


def correction_lag1(*, timer: float, motor: float, correction: float) -> float:
    """Lag-1 autocovariance of asynchrony under linear phase correction.

    Examples
    --------
    >>> round(correction_lag1(timer=10.0, motor=5.0, correction=0.2), 4)
    219.4444
    """
    variance = correction_variance(timer=timer, motor=motor, correction=correction)
    return (1 - correction) * variance - motor**2


def _noise_lag1(correction: float, motor_ratio: float, drift_share: float) -> float:
    """Lag-1 correlation of correction noise and slow drift together."""
    variance = correction_variance(timer=1.0, motor=motor_ratio, correction=correction)
    lag1 = correction_lag1(timer=1.0, motor=motor_ratio, correction=correction) / variance
    return (1 - drift_share) * lag1 + drift_share


def draw_hand(rng: np.random.Generator) -> HandTraits:
    """Draw a hand whose timing is like people's."""
    while True:
        correction = rng.uniform(0.10, 0.5)
        motor_ratio = rng.uniform(0.1, 0.9)
        drift_share = rng.uniform(0.03, 0.25)
        lag1 = _noise_lag1(correction, motor_ratio, drift_share)
        if _LAG1_RANGE[0] <= lag1 <= _LAG1_RANGE[1]:
            break
    spread = float(np.clip(0.08 * np.exp(rng.normal(0.0, 0.25)), *_SPREAD_RANGE))
    return HandTraits(
        spread_share=spread,
        correction=correction,
        motor_ratio=motor_ratio,
        drift_share=drift_share,
        drift_counts=rng.uniform(4.0, 20.0),
        lead_s=float(np.clip(rng.normal(-0.002, 0.012), -0.030, 0.030)),
        level_db=0.0,
        level_spread_db=rng.uniform(0.5, 2.2),
        place_offset_s=np.clip(rng.normal(0.0, 0.0025, 12), -0.008, 0.008),
        place_level_db=np.clip(rng.normal(0.0, 1.2, 12), -3.0, 3.0),
        bounce_share=float(rng.choice([0.0, 0.0, 0.004, 0.015, 0.03])),
    )


def draw_player(rng: np.random.Generator) -> PlayerTraits:
    """Draw a drummer.

    Parameters
    ----------
    rng : source of all chance

    Returns
    -------
    player : traits of both hands and of the technique
    """
    technique = TECHNIQUES[int(rng.choice(5, p=[0.4, 0.2, 0.1, 0.12, 0.18]))]
    is_whip = technique.startswith("whip")
    right = draw_hand(rng)
    left = replace(
        draw_hand(rng),
        level_db=rng.uniform(-3.0, 0.5),
        lead_s=float(np.clip(right.lead_s + rng.normal(0.0, 0.005), -0.030, 0.030)),
    )
    return PlayerTraits(
        left=left,
        right=right,
        technique=technique,
        accent_db=rng.uniform(6.0, 13.0) if is_whip else rng.uniform(2.0, 11.0),
        decay_db=rng.uniform(0.0, 1.5),
        accent_stretch_s=rng.uniform(0.0, 0.004),
        tiring_counts=rng.uniform(2.0, 20.0),
        tiring_spread=rng.uniform(1.0, 1.8),
        tiring_level_db=rng.uniform(0.0, 7.0),
        closing_chance=0.3,
    )
