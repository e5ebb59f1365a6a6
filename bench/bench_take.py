"""A take as the bench sees it: the file, what the ear is told, and what was truly played.

Every time is in seconds of the take's own clock; 0 is the first sample after decoder priming.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.heard import ListenRequest

__all__ = ["BenchTake", "Truth"]


@dataclass(frozen=True)
class Truth:
    """What was truly played.

    Attributes
    ----------
    stroke_s : float array, shape (n,), strictly increasing: the instant the stick lands
    level_db : float array, shape (n,), relative within the take
    hand : int array, shape (n,): 0 left, 1 right
    place : int array, shape (n,): the place that was meant, -1 for a bounce or a stray stroke
    first_count_s, count_period_s, counts_offered, places_per_count : the grid
    hands : "left", "right" or "alternating"
    plays : False where nobody plays
    judgeable : False where no honest listener could tell the count held
    kind : in one word, how the take ends or why it cannot be judged
    place_shift_ms, place_level_db : float arrays, shape (places_per_count,): what was planted,
        each around its own mean; None where nothing steady was planted
    """

    stroke_s: NDArray[np.float64]
    level_db: NDArray[np.float64]
    hand: NDArray[np.int64]
    place: NDArray[np.int64]
    first_count_s: float
    count_period_s: float
    counts_offered: int
    places_per_count: int
    hands: str
    plays: bool
    judgeable: bool
    kind: str
    place_shift_ms: NDArray[np.float64] | None = None
    place_level_db: NDArray[np.float64] | None = None

    @property
    def place_s(self) -> float:
        """Length of a place in seconds."""
        return self.count_period_s / self.places_per_count


@dataclass(frozen=True)
class BenchTake:
    """A file's bytes, what is told with it, and the truth of it."""

    name: str
    tier: str
    data: bytes
    suffix: str
    request: ListenRequest
    truth: Truth
