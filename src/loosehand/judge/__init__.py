"""What it says: strokes and a grid in, the reading out."""

from loosehand.judge.read_take import read_take
from loosehand.judge.reading import ENDINGS, Ending, Reading

__all__ = ["ENDINGS", "Ending", "Reading", "read_take"]
