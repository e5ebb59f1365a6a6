"""Which rounds of a chart tell of a hand today, and what is to be said with them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from loosehand.errors import NotIdentifiable
from loosehand.reach.hand_data import HandData
from loosehand.reach.seen import HandKind, RoundSeen

__all__ = ["ChosenRounds", "choose_rounds", "notes_of_rounds"]

_WINDOW_DAYS = 182
_GAP_DAYS = 120
_MOST_ROUNDS = 6000
_FEW = 10
_LONG_AGO_DAYS = 60


@dataclass(frozen=True)
class ChosenRounds:
    """Rounds that count, with all the others of those days.

    Attributes
    ----------
    rounds : in the order they were handed in
    told_of : the day that they can tell of: the one asked for, or one not too long after the last
    notes : what was left out, in sentences
    """

    rounds: tuple[RoundSeen, ...]
    told_of: date
    notes: tuple[str, ...]


def choose_rounds(rounds: Sequence[RoundSeen], *, kind: HandKind, as_of: date) -> ChosenRounds:
    """Choose the rounds that tell of today: the last half year since the last long gap.

    Parameters
    ----------
    rounds : of one player, of any kinds
    kind : whose hand is told of
    as_of : the day told of; later rounds are left out

    Raises
    ------
    NotIdentifiable   if there is no round of the kind up to the day
    """
    own = sorted((each for each in rounds if each.kind == kind), key=lambda each: each.day)
    past = [each for each in own if each.day <= as_of]
    if not past:
        raise NotIdentifiable(f"no round of this hand and kind is on the chart up to {as_of}")
    notes = []
    if len(past) < len(own):
        notes.append(f"{_rounds(len(own) - len(past))} after {as_of} left out.")
    days = sorted({each.day for each in past})
    first = max(_after_gap(days), days[-1] - timedelta(days=_WINDOW_DAYS - 1))
    kept = [each for each in past if each.day >= first]
    if len(kept) > _MOST_ROUNDS:
        first = kept[-_MOST_ROUNDS].day + timedelta(days=1)
        first = min(first, days[-1])
        kept = [each for each in kept if each.day >= first]
    if len(kept) < len(past):
        notes.append(
            f"{_rounds(len(past) - len(kept))} before {first} left out: too long ago, or too "
            "many, to tell of today."
        )
    told_of = min(as_of, days[-1] + timedelta(days=_LONG_AGO_DAYS))
    if told_of < as_of:
        notes.append(
            f"Nothing was played since {days[-1]}: this tells of {told_of}, and what has changed "
            "since is not known."
        )
    kept_days = tuple(each for each in rounds if first <= each.day <= as_of)
    return ChosenRounds(kept_days, told_of, tuple(notes))


def _after_gap(days: Sequence[date]) -> date:
    """First day after the last long gap."""
    first = days[0]
    for before, after in pairwise(days):
        if (after - before).days > _GAP_DAYS:
            first = after
    return first


def _rounds(count: int) -> str:
    return "1 round" if count == 1 else f"{count} rounds"


def notes_of_rounds(data: HandData) -> list[str]:
    """What the rounds cannot say, in sentences."""
    on = np.isinf(data.high_s)
    notes = []
    if len(on) < _FEW:
        notes.append(
            f"Only {_rounds(len(on))}: the answer leans on what is believed of anybody's hand."
        )
    if on.all():
        notes.append("Every round was held to its end: how much higher it goes is a guess.")
    if not on.any():
        notes.append("No round was held to its end: how much lower it begins is a guess.")
    return notes
