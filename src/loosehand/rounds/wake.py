"""Strokes that speak: four that wake a round, some that say how the last one felt.

Both are told from strokes heard outside rounds. They must stand out from what else sounds in a
room: speech, steps, a neighbour's drums. They set neither tempo nor phase of anything.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

__all__ = ["FEEL_WORDS", "Knock", "count_of_answer", "feel_of_strokes", "is_woken", "loud_ones"]

_WAKING = 4
_GAP_S = (0.16, 1.3)
_EVEN = 0.18
_QUIET_GAPS = 1.6
_LEAST_QUIET_S = 0.45
_MOST_LEVEL_SPREAD_DB = 9.0
_BELOW_OWN_DB = 12.0
_ANSWER_GAP_S = 1.2
_ANSWER_QUIET_S = 1.4
FEEL_WORDS = ("loose", "working", "tense", "pain")
"""One stroke, two, three, four or more. Our own choice."""


@dataclass(frozen=True)
class Knock:
    """A stroke heard outside a round: its time, and its level as the ear gives it."""

    time_s: float
    level_db: float


def loud_ones(knocks: Sequence[Knock], *, own_level_db: float) -> list[Knock]:
    """Strokes that may speak: those no more than 12 dB softer than the player's own.

    Examples
    --------
    >>> loud_ones([Knock(0.0, -20.0), Knock(0.5, -33.0)], own_level_db=-20.0)
    [Knock(time_s=0.0, level_db=-20.0)]
    """
    return [each for each in knocks if each.level_db >= own_level_db - _BELOW_OWN_DB]


def is_woken(knocks: Sequence[Knock], *, now_s: float, own_level_db: float) -> bool:
    """Whether four strokes about evenly spaced, and nothing else around them, were just heard.

    Parameters
    ----------
    knocks : strokes heard, in order
    now_s : the moment
    own_level_db : level of the player's own strokes, from the sound check

    Returns
    -------
    woken : four strokes, no other within a gap and a half before or after them, their gaps
        within 18 % of their middle one, their levels within 9 dB, and none more than 12 dB
        softer than the player's own

    Source
    ------
    Ours; the figures were chosen so that speech, steps and a neighbour's drums do not wake a
    round (``tests/rounds/test_wake.py``).

    Examples
    --------
    >>> four = [Knock(0.5 * k, -20.0) for k in range(4)]
    >>> is_woken(four, now_s=2.4, own_level_db=-20.0)
    True
    >>> is_woken(four, now_s=1.6, own_level_db=-20.0)
    False
    """
    loud = loud_ones(knocks, own_level_db=own_level_db)
    if len(loud) < _WAKING:
        return False
    four = loud[-_WAKING:]
    gaps = [later.time_s - each.time_s for each, later in pairwise(four)]
    middle = sorted(gaps)[1]
    quiet_s = max(_QUIET_GAPS * middle, _LEAST_QUIET_S)
    before = [each for each in knocks if each.time_s < four[0].time_s]
    during = [each for each in knocks if four[0].time_s <= each.time_s]
    levels = [each.level_db for each in four]
    return (
        _GAP_S[0] <= middle <= _GAP_S[1]
        and max(abs(gap - middle) for gap in gaps) <= _EVEN * middle
        and max(levels) - min(levels) <= _MOST_LEVEL_SPREAD_DB
        and len(during) == _WAKING
        and (not before or four[0].time_s - before[-1].time_s >= quiet_s)
        and now_s - four[-1].time_s >= quiet_s
    )


def count_of_answer(knocks: Sequence[Knock], *, now_s: float, own_level_db: float) -> int | None:
    """How many strokes were given as an answer, None while more may come.

    Parameters
    ----------
    knocks : strokes heard since the question was put
    now_s : the moment
    own_level_db : level of the player's own strokes

    Examples
    --------
    >>> two = [Knock(1.0, -20.0), Knock(1.5, -20.0)]
    >>> count_of_answer(two, now_s=2.0, own_level_db=-20.0) is None
    True
    >>> count_of_answer(two, now_s=3.0, own_level_db=-20.0)
    2
    """
    loud = [each.time_s for each in loud_ones(knocks, own_level_db=own_level_db)]
    if not loud or now_s - loud[-1] < _ANSWER_QUIET_S:
        return None
    count = 1
    for earlier, later in zip(reversed(loud[:-1]), reversed(loud[1:]), strict=True):
        if later - earlier > _ANSWER_GAP_S:
            break
        count += 1
    return count


def feel_of_strokes(count: int) -> str:
    """The word that so many strokes say.

    Examples
    --------
    >>> [feel_of_strokes(count) for count in (1, 2, 3, 4, 7)]
    ['loose', 'working', 'tense', 'pain', 'pain']
    """
    return FEEL_WORDS[min(count, len(FEEL_WORDS)) - 1]
