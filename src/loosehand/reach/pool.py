"""Lean a hand that is little known on another of the same person that is well known.

A person's hands and techniques differ, but less than people do. So what is believed of a hand with
few rounds is drawn towards the best known other one: its tempo, and how steeply its curve falls.
Spreads between the hands of one person: common practice, no source.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol, TypeVar

import numpy as np

from loosehand.reach.prior import NOBODY_KNOWN, Prior
from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind, hand_rate_factor

__all__ = ["FEW_ROUNDS", "donor_of", "leaning_prior"]

FEW_ROUNDS = 40
"""A hand with fewer rounds leans on another; one with as many may be leant on."""
_APART_BPM = 8.0
_APART_LOG_DROP = 0.35
_FURTHER = 1.5
"""How much further apart two kinds are for each tag in which they differ."""


class _Known(Protocol):
    """A hand, such as a ``Reach``, of which it is known how many rounds tell of it."""

    @property
    def kind(self) -> HandKind: ...

    @property
    def rounds(self) -> int: ...


Known = TypeVar("Known", bound=_Known)


def donor_of(kind: HandKind, others: Sequence[Known]) -> Known | None:
    """Return the hand on which one may lean: the nearest in kind, then the best known, or None.

    Parameters
    ----------
    kind : of the hand that is little known
    others : of the same person: reaches, or what else has ``kind`` and ``rounds``
    """
    fit = [
        each
        for each in others
        if each.kind != kind
        and each.rounds >= FEW_ROUNDS
        and (each.kind.hand == "alternating") == (kind.hand == "alternating")
    ]
    return max(fit, key=lambda each: (-_differing(kind, each.kind), each.rounds), default=None)


def leaning_prior(kind: HandKind, donor: Reach, *, prior: Prior = NOBODY_KNOWN) -> Prior:
    """What is believed of a hand beforehand where another of the person is known.

    Parameters
    ----------
    kind : of the hand that is little known
    donor : the other's reach
    prior : what is believed of anybody's
    """
    further = _FURTHER ** _differing(kind, donor.kind)
    factor = hand_rate_factor(donor.kind)
    minute = donor.tempo_held_bpm(60.0)
    drop = np.array([donor.tempo_held_bpm(10.0).median - minute.median]) * factor
    minute_bpm, minute_sd = _joined(
        (prior.minute_bpm, prior.minute_sd_bpm),
        (minute.median * factor, math.hypot(_APART_BPM * further, _sd(donor) * factor)),
    )
    log_drop, log_drop_sd = _joined(
        (prior.log_drop, prior.log_drop_sd),
        (float(np.log(np.maximum(drop, 0.5))[0]), _APART_LOG_DROP * further),
    )
    return replace(
        prior,
        minute_bpm=minute_bpm,
        minute_sd_bpm=minute_sd,
        log_drop=log_drop,
        log_drop_sd=log_drop_sd,
    )


def _differing(one: HandKind, other: HandKind) -> int:
    """In how many tags but the hand two kinds differ."""
    names = ("technique", "surface", "loudness", "places_per_count")
    return sum(getattr(one, name) != getattr(other, name) for name in names)


def _sd(reach: Reach) -> float:
    """Spread of the tempo held for a minute, from its interval of 80 chances in 100."""
    minute = reach.tempo_held_bpm(60.0)
    return (minute.high80 - minute.low80) / 2.5631


def _joined(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """Mean and spread of two normal beliefs taken together.

    Examples
    --------
    >>> mean, spread = _joined((0.0, 1.0), (2.0, 1.0))
    >>> mean, round(spread, 4)
    (1.0, 0.7071)
    """
    weights = one[1] ** -2, other[1] ** -2
    mean = (one[0] * weights[0] + other[0] * weights[1]) / sum(weights)
    return mean, sum(weights) ** -0.5
