"""What a simulated player did: the truth that an ear and a judge are held against.

Times are seconds of the take's own clock, 0 at the first sample of the recording. The grid
is the click as it arrives in the recording. Levels are decibels relative within the take.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.click import ClickRole

__all__ = ["FAILURES", "Failure", "Hand", "HandAsked", "Performance", "Technique", "recorded_part"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Hand = Literal["left", "right"]
HandAsked = Literal["left", "right", "alternating"]
Technique = Literal["singles", "whip fours", "whip threes", "whip twos", "push-pull"]
Failure = Literal["slowing", "ahead", "stop", "stumble", "thin to three", "thin to two", "collapse"]
FAILURES: tuple[Failure, ...] = (
    "slowing",
    "ahead",
    "stop",
    "stumble",
    "thin to three",
    "thin to two",
    "collapse",
)
"""Every way in which a player can be told to lose the click."""


@dataclass(frozen=True)
class Performance:
    """One round as it was really played.

    Attributes
    ----------
    stroke_time_s : float array, shape (n,), strictly increasing
    level_db : float array, shape (n,), energy of each stroke, relative within the take
    stroke_hand : the hand of each stroke
    stroke_place : int array, shape (n,), the place of the whole round that the stroke was
        meant for, from 0; -1 for a double bounce or a stroke with no place
    first_count_s, count_period_s : the grid in the take's own clock
    places_per_count : places in a count, of both hands together
    counts_offered : counts of the round
    hand_asked : which hand the round asked for
    technique : how the strokes were made
    failure : how the player was told to lose the click, or None
    failure_place : place where that began, or None
    slip_places : places that were made bad on purpose and ought to be forgiven
    first_bad_place : first place of the break by the rule of the hold, or None if held
    clean_counts : counts inside the hold with every place good
    last_locked_count : last count with every place good, at least the count held
    click_time_s : float array, shape (m,)
    click_role : what each click is
    """

    stroke_time_s: FloatArray
    level_db: FloatArray
    stroke_hand: tuple[Hand, ...]
    stroke_place: IntArray
    first_count_s: float
    count_period_s: float
    places_per_count: int
    counts_offered: int
    hand_asked: HandAsked
    technique: Technique
    failure: Failure | None
    failure_place: int | None
    slip_places: tuple[int, ...]
    first_bad_place: int | None
    clean_counts: int
    last_locked_count: int
    click_time_s: FloatArray
    click_role: tuple[ClickRole, ...]

    @property
    def place_s(self) -> float:
        """Length of a place of the grid in seconds."""
        return self.count_period_s / self.places_per_count

    @property
    def places_offered(self) -> int:
        """Places of the whole round, both hands together."""
        return self.counts_offered * self.places_per_count

    @property
    def count_held(self) -> int:
        """The number on the chart: counts held before the break."""
        if self.first_bad_place is None:
            return self.counts_offered
        return self.first_bad_place // self.places_per_count

    @property
    def round_end_s(self) -> float:
        """Time at which the round is over."""
        return self.first_count_s + self.counts_offered * self.count_period_s

    def place_times_s(self) -> FloatArray:
        """Time of every place of the round, shape (places_offered,)."""
        places = np.arange(self.places_offered, dtype=np.float64)
        return self.first_count_s + places * self.place_s

    def asynchrony_s(self) -> FloatArray:
        """Stroke minus place, shape (n,), early is negative; NaN for a stroke with no place."""
        late_s = self.stroke_time_s - self.first_count_s - self.stroke_place * self.place_s
        return np.where(self.stroke_place >= 0, late_s, np.nan)


def recorded_part(performance: Performance, cut_s: float) -> Performance:
    """Strokes and clicks before the recording broke off; what the round held stays.

    Parameters
    ----------
    performance : the whole round
    cut_s : time at which the recording broke off

    Returns
    -------
    performance : without what was not recorded
    """
    strokes = int(np.searchsorted(performance.stroke_time_s, cut_s))
    clicks = int(np.searchsorted(performance.click_time_s, cut_s))
    return replace(
        performance,
        stroke_time_s=performance.stroke_time_s[:strokes],
        level_db=performance.level_db[:strokes],
        stroke_hand=performance.stroke_hand[:strokes],
        stroke_place=performance.stroke_place[:strokes],
        click_time_s=performance.click_time_s[:clicks],
        click_role=performance.click_role[:clicks],
    )
