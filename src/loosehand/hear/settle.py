"""Which candidates are strokes: each by its own odds, and by the company it keeps.

Strokes come about a place apart. A faint candidate that stands where the next stroke is due
is likelier than its own odds say; one that stands alone, or close behind another, is less so.
The best chain of candidates is found by dynamic programming, and settled at a fixed lag.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.engine import Candidates, Stretch, join
from loosehand.hear.heard import Hand, Strokes

__all__ = [
    "ONE_HAND",
    "TWO_HANDS",
    "Company",
    "Settler",
    "as_strokes",
    "company_of",
    "gap_odds",
    "settled_lag_s",
    "settler_for",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

COMPANY = 0.7
"""Weight of the company against a candidate's own odds: chosen on simulated takes."""
_ALONE = -2.5
_LOOK_BACK = 14
_DOUBLE = (0.04, 0.18)
_ANY = 0.03
_USUAL = 0.37
_SETTLED = -1
_LATEST_S = 0.35
_LEAST_LAG_S = 0.1


@dataclass(frozen=True)
class Company:
    """How the strokes of a take follow each other.

    Attributes
    ----------
    single : share and spread, in places, of gaps of one place
    bounce_places : gaps under this are a bounce, whatever the odds of such a gap
    bias : added to the log odds of every stroke
    """

    single: tuple[float, float]
    bounce_places: float
    bias: float


ONE_HAND = Company(single=(0.90, 0.13), bounce_places=0.42, bias=0.0)
TWO_HANDS = Company(single=(0.90, 0.25), bounce_places=0.15, bias=0.5)
"""Two hands that interlock come nearer to each other than one hand's strokes ever do."""


def company_of(hand: Hand | None) -> Company:
    """How the strokes of such a round follow each other."""
    return TWO_HANDS if hand == "alternating" else ONE_HAND


def gap_odds(gap_places: FloatArray, company: Company) -> FloatArray:
    """Log odds of a gap between strokes against chance, the gap in places.

    Source
    ------
    Ours: a mixture of one interval, two intervals and anything, against strokes by chance at
    the same rate.
    """
    chance = _ANY + sum(
        share / (width * np.sqrt(2 * np.pi)) * np.exp(-0.5 * ((gap_places - middle) / width) ** 2)
        for middle, (share, width) in ((1.0, company.single), (2.0, _DOUBLE))
    )
    odds = COMPANY * np.log(chance / _USUAL) + company.bias
    odds = np.where(gap_places < company.bounce_places, -1.0, odds)
    return np.maximum(np.where(gap_places > 2.7, _ALONE, odds), _ALONE)


class Settler:
    """Chooses among candidates as they come, and never changes its mind.

    Parameters
    ----------
    place_s : length of a place
    company : how the strokes follow each other
    lag_s : how long after a candidate it is settled whether it is a stroke

    Notes
    -----
    What is settled depends on the stretches alone, not on how many come at a time.
    """

    def __init__(self, *, place_s: float, company: Company, lag_s: float) -> None:
        self._place_s = place_s
        self._company = company
        self._lag_s = lag_s
        self._last_s: float | None = None
        self.settled_until_s = -np.inf
        """Time before which all is settled."""
        self._open = join([])
        self._value: list[float] = []
        self._origin: list[int] = []

    def push(self, stretch: Stretch) -> Candidates:
        """Take the candidates of a stretch and return the strokes that are settled by it."""
        self._take_in(stretch.found)
        self.settled_until_s = stretch.until_s - self._lag_s
        return self._decide(int(np.searchsorted(self._open.time_s, self.settled_until_s)))

    def finish(self) -> Candidates:
        """No more candidates come: return what is left."""
        return self._decide(len(self._open))

    def _take_in(self, found: Candidates) -> None:
        if len(found):
            self._open = join([self._open, found])
            self._extend()

    def _extend(self) -> None:
        """Best chain that ends at each open candidate: its value, and the one before it.

        Values count from the last settled stroke.
        """
        time_s, odds = self._open.time_s, self._open.log_odds
        for index in range(len(self._value), len(self._open)):
            first = max(index - _LOOK_BACK, 0)
            value, origin = self._from_the_last(float(time_s[index])), _SETTLED
            if first > 0:
                # The longest silence: a chain that ended more than a few candidates ago.
                far = int(np.argmax(self._value[:first]))
                if self._value[far] + _ALONE > value:
                    value, origin = self._value[far] + _ALONE, far
            if index > first:
                gap = (time_s[index] - time_s[first:index]) / self._place_s
                through = np.array(self._value[first:index]) + gap_odds(gap, self._company)
                top = int(np.argmax(through))
                if through[top] > value:
                    value, origin = float(through[top]), first + top
            self._value.append(float(odds[index]) + value)
            self._origin.append(origin)

    def _from_the_last(self, time_s: float) -> float:
        """Odds of a stroke that comes next after the last settled one."""
        if self._last_s is None:
            return _ALONE
        gap = np.array([(time_s - self._last_s) / self._place_s])
        return float(gap_odds(gap, self._company)[0])

    def _decide(self, size: int) -> Candidates:
        """Settle the first open candidates by the chain that is best by now."""
        if size == 0:
            return join([])
        last = int(np.argmax(self._value))
        path = []
        if self._value[last] > 0:
            while last != _SETTLED:
                path.append(last)
                last = self._origin[last]
        kept = np.array([index for index in path[::-1] if index < size], dtype=np.int64)
        strokes = self._open.some(kept)
        stem = int(kept[-1]) if kept.size else _SETTLED
        agrees = all(self._stem(index, size) == stem for index in range(size, len(self._open)))
        if kept.size:
            self._last_s = float(strokes.time_s[-1])
        base = self._value[stem] if kept.size else 0.0
        self._open = self._open.some(np.arange(size, len(self._open)))
        if agrees:
            self._value = [value - base for value in self._value[size:]]
            self._origin = [max(origin - size, _SETTLED) for origin in self._origin[size:]]
        else:
            self._value, self._origin = [], []
            self._extend()
        return strokes

    def _stem(self, index: int, size: int) -> int:
        """Where the chain that ends at ``index`` leaves what is being settled."""
        while index >= size:
            index = self._origin[index]
        return index


def settler_for(*, count_s: float, places_per_count: int, hand: Hand | None) -> Settler:
    """Settler for a round of such counts and places, by that hand or both."""
    return Settler(
        place_s=count_s / places_per_count,
        company=company_of(hand),
        lag_s=settled_lag_s(count_s),
    )


def settled_lag_s(count_s: float) -> float:
    """How long to wait with a candidate, so that it is settled two counts after it sounded.

    What comes in by blocks of a quarter of a second is taken off.
    """
    return max(2.0 * count_s - _LATEST_S, _LEAST_LAG_S)


def as_strokes(found: Candidates) -> Strokes:
    """Candidates as strokes, their odds as the chance that they are."""
    chance = 1.0 / (1.0 + np.exp(-np.clip(found.log_odds, -30.0, 30.0)))
    return Strokes(found.time_s, found.level_db, np.asarray(chance), found.timbre_db)
