"""What the chart gives the model: rounds with a count, and of which hand and kind they are."""

import math
from dataclasses import dataclass
from datetime import date

__all__ = ["HandKind", "RoundSeen", "hand_rate_factor"]


@dataclass(frozen=True)
class HandKind:
    """What rounds must share to tell of one and the same ability.

    Attributes
    ----------
    hand : left, right or alternating
    technique, surface, loudness : tags of the chart, or None where not said
    places_per_count : places of the grid in a count
    """

    hand: str
    technique: str | None
    surface: str | None
    loudness: str | None
    places_per_count: int


@dataclass(frozen=True)
class RoundSeen:
    """A round with its count, as far as it tells of a hand.

    Attributes
    ----------
    day : when
    order : place in its day among all the player's rounds
    kind : whose hand, and how it was played
    tempo_bpm : counts a minute
    round_s : length that was planned
    count_held : the count held; the hold ended before count ``count_held + 1`` was over
    held_on : the hand had not lost the click when the round ended (right-censored)
    rest_s : rest before it, None where not known
    """

    day: date
    order: int
    kind: HandKind
    tempo_bpm: float
    round_s: float
    count_held: int
    held_on: bool
    rest_s: float | None

    @property
    def counts(self) -> int:
        """Whole counts that the round has."""
        return math.floor(self.tempo_bpm * self.round_s / 60.0 + 1e-6)


def hand_rate_factor(kind: HandKind) -> float:
    """Tempo of one-handed sixteenths with the same strokes a second in a hand, over the tempo.

    Examples
    --------
    >>> hand_rate_factor(HandKind("left", None, "pad", None, 4))
    1.0
    >>> hand_rate_factor(HandKind("alternating", None, "pad", None, 4))
    0.5
    """
    hands = 2 if kind.hand == "alternating" else 1
    return kind.places_per_count / (4.0 * hands)
