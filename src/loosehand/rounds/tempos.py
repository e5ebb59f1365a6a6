"""Which tempos suit a hand: sure, around the edge, and those that look for the edge."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loosehand.rounds.day_known import HandReach
from loosehand.rounds.workout import TEMPO_BPM

__all__ = [
    "PLACEMENT_ROUNDS",
    "PLACEMENT_S",
    "HandTempos",
    "hand_tempos",
    "highest_tempo_bpm",
    "placement_tempo_bpm",
    "rungs",
]

_LOWEST_BPM, _HIGHEST_BPM = map(int, TEMPO_BPM)
_SURE = 0.85
"""A ladder starts where a round is held with this chance. Ours."""
_EASY = 0.92
_LEAST_OVER = 0.20
"""No round is planned that is less likely held. Ours."""
_STEPS_TO_EVEN = 4
_STEP_BPM = (1, 4)
_KNOWN_CLOSELY = 6
PLACEMENT_ROUNDS = 4
"""Rounds in which a hand's edge is looked for. Ours."""
PLACEMENT_S = 20.0
"""Length of each. Ours."""
_PLACEMENT_FIRST_BPM = 70.0
_PLACEMENT_STEP_BPM = 20.0
_PLACEMENT_FINE_BPM = 6.0


@dataclass(frozen=True)
class HandTempos:
    """Tempos for a hand, in whole counts a minute.

    Attributes
    ----------
    easy_bpm : held nearly always, also in a longer round
    ladder_bpm : from where a round is sure to where the chance is even, by 1 to 4
    over_bpm : the next step, held less often than not, None where that would be hardly ever
    """

    easy_bpm: float
    ladder_bpm: tuple[float, ...]
    over_bpm: float | None


def highest_tempo_bpm(reach: HandReach, *, chance: float, time_s: float) -> float:
    """Highest whole tempo that is held so long with at least this chance, never under 20.

    Parameters
    ----------
    reach : of the hand
    chance : in (0, 1)
    time_s : how long
    """
    low, high = _LOWEST_BPM, _HIGHEST_BPM + 1
    while high - low > 1:
        middle = (low + high) // 2
        if reach.chance_of_holding(tempo_bpm=float(middle), time_s=time_s) >= chance:
            low = middle
        else:
            high = middle
    return float(low)


def hand_tempos(reach: HandReach, *, round_s: float, longest_s: float) -> HandTempos:
    """Tempos that suit a hand.

    Parameters
    ----------
    reach : of the hand
    round_s : length of a round
    longest_s : that an easy round may have

    Source
    ------
    Ours; the tempos are those of the model, not checked on people.
    """
    sure = highest_tempo_bpm(reach, chance=_SURE, time_s=round_s)
    even = max(sure, highest_tempo_bpm(reach, chance=0.5, time_s=round_s))
    easy = min(sure, highest_tempo_bpm(reach, chance=_EASY, time_s=longest_s))
    step = int(np.clip(np.ceil((even - sure) / _STEPS_TO_EVEN), *_STEP_BPM))
    ladder = [sure + step * k for k in range(int((even - sure) // step) + 1)]
    over = ladder[-1] + step
    likely = (
        reach.chance_of_holding(tempo_bpm=over, time_s=round_s) if over <= _HIGHEST_BPM else 0.0
    )
    return HandTempos(easy, tuple(ladder), over if _LEAST_OVER <= likely < 0.5 else None)


def rungs(ladder_bpm: Sequence[float], count: int) -> tuple[float, ...]:
    """So many tempos of a ladder: the first, then those next to the edge.

    Parameters
    ----------
    ladder_bpm : tempos from where a round is sure to an even chance
    count : how many there may be, at least 1

    Returns
    -------
    tempos_bpm : with the edge known closely (up to six rungs) the last ones, in fine steps;
        else evenly chosen ones, so that none is far above the one before

    Examples
    --------
    >>> rungs([80.0, 82.0, 84.0, 86.0, 88.0], 3)
    (80.0, 86.0, 88.0)
    >>> rungs([80.0, 82.0], 1)
    (80.0,)
    """
    if count >= len(ladder_bpm):
        return tuple(ladder_bpm)
    if len(ladder_bpm) <= _KNOWN_CLOSELY:
        return (ladder_bpm[0], *ladder_bpm[len(ladder_bpm) - count + 1 :])
    at = np.linspace(0, len(ladder_bpm) - 1, count)
    return tuple(ladder_bpm[round(float(k))] for k in at)


def placement_tempo_bpm(tried: Sequence[tuple[float, bool]]) -> float | None:
    """Next tempo at which a hand's edge is looked for, None when it is found closely enough.

    Parameters
    ----------
    tried : tempos played so far, and whether each was held

    Source
    ------
    Ours: 70 first, then up by 20 while all is held, down by 20 while nothing is; from then on
    halfway between the highest tempo held and the lowest lost.

    Examples
    --------
    >>> placement_tempo_bpm([(70.0, True), (90.0, True), (110.0, False)])
    100.0
    >>> placement_tempo_bpm([(70.0, False)])
    50.0
    """
    if not tried:
        return _PLACEMENT_FIRST_BPM
    lost = min((tempo for tempo, held in tried if not held), default=None)
    below = [tempo for tempo, held in tried if held and (lost is None or tempo < lost)]
    held = max(below, default=None)
    if lost is None:
        assert held is not None, "a tempo that was tried is held or lost"
        return min(held + _PLACEMENT_STEP_BPM, float(_HIGHEST_BPM))
    if held is None:
        lower = max(lost - _PLACEMENT_STEP_BPM, float(_LOWEST_BPM))
        return lower if lower < lost else None
    return float(round((held + lost) / 2)) if lost - held > _PLACEMENT_FINE_BPM else None
