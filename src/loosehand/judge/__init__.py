"""What it says: strokes and a grid in, the reading out."""

from loosehand.judge.accents import AccentsHeard, accents_heard
from loosehand.judge.read_take import read_take
from loosehand.judge.reading import ENDINGS, Ending, Reading
from loosehand.judge.side_by_side import SideBySide, side_by_side

__all__ = [
    "ENDINGS",
    "AccentsHeard",
    "Ending",
    "Reading",
    "SideBySide",
    "accents_heard",
    "read_take",
    "side_by_side",
]
