"""Whose stroke each one is, in an alternating take.

Hands are told by their alternation: a gap of one interval changes the hand, a gap of two
leaves it, whatever the grid says; a hand that drifts would else change sides on the way.
Which class of strokes is which hand is then checked by level and timbre.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["BOUNCE", "Alternation", "HandNames", "alternate", "name_hands"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BOUNCE = -1
_DOUBTFUL = 0.2
_MOST_DOUBTFUL = 0.06
_CANNOT_TELL = "Left and right cannot be told: too many gaps lie between one interval and two."
_PHASE_GAIN = 0.3
_RATE_GAIN = 0.04
_LEAD_GAIN = 0.05
_WIDEST_RATE = (0.6, 1.7)


@dataclass(frozen=True)
class Alternation:
    """Strokes told apart by alternation.

    Attributes
    ----------
    hand : int array, shape (n,), 0 for the hand that leads, 1 for the other, BOUNCE for a
        stroke too close to the one before to be the other hand's
    certainty : float array, shape (n,), in [0, 1]: how near each gap was to a whole number
        of intervals
    """

    hand: IntArray
    certainty: FloatArray


def alternate(stroke_s: FloatArray, *, place_s: float, first_place_s: float) -> Alternation:
    """Tell the hands by the parity of gaps.

    Parameters
    ----------
    stroke_s : float array, shape (n,), increasing
    place_s : length of a place of both hands together
    first_place_s : time of place 0, which belongs to the hand that leads

    Returns
    -------
    alternation : hand 0 leads

    Source
    ------
    Ours: the places are followed from stroke to stroke (phase, interval and each hand's own
    lead), so that hands that slow or run together are still counted right. Of two strokes at
    one place the nearer counts; the other is a bounce.
    """
    size = stroke_s.size
    hand = np.full(size, BOUNCE, dtype=np.int64)
    certainty = np.ones(size)
    start = int(np.searchsorted(stroke_s, first_place_s - 0.5 * place_s))
    expected_s, interval_s = first_place_s, place_s
    late_s = [0.0, 0.0]
    side, last_off, last_index = 0, 0.0, -1
    low, high = (share * place_s for share in _WIDEST_RATE)
    for index in range(start, size):
        # Each hand has its own lead: look from the place of the hand that is due.
        steps = (float(stroke_s[index]) - expected_s) / interval_s
        options = [
            (abs(steps - late_s[(side + whole) % 2] / interval_s - whole), whole)
            for whole in range(max(int(steps) - 1, 0), int(steps) + 3)
        ]
        off, whole = min(options)
        certainty[index] = 1.0 - 2.0 * min(off, 0.5)
        if whole == 0 and last_index >= 0:
            if off >= last_off:
                continue
            hand[last_index] = BOUNCE
        side = (side + whole) % 2
        error_s = float(stroke_s[index]) - expected_s - whole * interval_s - late_s[side]
        error_s = min(max(error_s, -0.5 * interval_s), 0.5 * interval_s)
        expected_s += whole * interval_s + _PHASE_GAIN * error_s
        interval_s = min(max(interval_s + _RATE_GAIN * error_s / max(whole, 1), low), high)
        late_s[side] += _LEAD_GAIN * error_s
        middle = 0.5 * (late_s[0] + late_s[1])
        late_s = [lead - middle for lead in late_s]
        hand[index], last_off, last_index = side, off, index
    return Alternation(hand, certainty)


HandNames = tuple[Literal["left", "right"] | None, ...]


def name_hands(
    alternation: Alternation, *, leads_with: Literal["left", "right"]
) -> tuple[HandNames, str | None]:
    """Name the hand of each stroke, or say that it cannot be told.

    Parameters
    ----------
    alternation : strokes told apart
    leads_with : the hand that leads

    Returns
    -------
    names : the hand of each stroke, None for a bounce; all None where the hands can't be told
    note : the sentence that says so, or None

    Source
    ------
    Ours: where more than a few gaps lie near half an interval, parity may have slipped.
    """
    doubtful = float(np.mean(alternation.certainty < _DOUBTFUL)) if alternation.hand.size else 1.0
    if doubtful > _MOST_DOUBTFUL:
        return (None,) * alternation.hand.size, _CANNOT_TELL
    other: Literal["left", "right"] = "left" if leads_with == "right" else "right"
    words: dict[int, Literal["left", "right"] | None] = {0: leads_with, 1: other, BOUNCE: None}
    return tuple(words[int(hand)] for hand in alternation.hand), None
