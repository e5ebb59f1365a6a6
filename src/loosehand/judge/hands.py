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
_SHORTEST = 0.42
_RATE_MEMORY = 0.12
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
    Ours: the interval is followed with a memory of about eight strokes, so that a hand that
    slows or runs is still counted right.
    """
    size = stroke_s.size
    hand = np.zeros(size, dtype=np.int64)
    certainty = np.ones(size)
    start = int(np.searchsorted(stroke_s, first_place_s - 0.5 * place_s))
    if start >= size:
        return Alternation(hand, certainty)
    hand[:start] = BOUNCE
    # Parity of the first stroke: places since place 0, rounded once, at the start only.
    hand[start] = int(np.round((stroke_s[start] - first_place_s) / place_s)) % 2
    interval, last, side = place_s, float(stroke_s[start]), int(hand[start])
    low, high = _WIDEST_RATE
    for index in range(start + 1, size):
        steps = (float(stroke_s[index]) - last) / interval
        if steps < _SHORTEST:
            hand[index] = BOUNCE
            continue
        whole = max(round(steps), 1)
        certainty[index] = 1.0 - 2.0 * min(abs(steps - whole), 0.5)
        if whole <= 2:
            step_s = min(
                max((float(stroke_s[index]) - last) / whole, low * place_s), high * place_s
            )
            interval += _RATE_MEMORY * (step_s - interval)
        side = (side + whole) % 2
        hand[index] = side
        last = float(stroke_s[index])
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
