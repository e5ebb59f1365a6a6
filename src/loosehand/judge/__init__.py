"""What it says: strokes and a grid in, the reading out."""

from loosehand.judge.accents import AccentsHeard, accents_heard
from loosehand.judge.part_heard import PartHeard, hear_part, part_json
from loosehand.judge.part_to_hear import PartToHear, limb_named, part_to_hear
from loosehand.judge.read_take import read_take
from loosehand.judge.reading import ENDINGS, Ending, Reading
from loosehand.judge.side_by_side import SideBySide, side_by_side

__all__ = [
    "ENDINGS",
    "AccentsHeard",
    "Ending",
    "PartHeard",
    "PartToHear",
    "Reading",
    "SideBySide",
    "accents_heard",
    "hear_part",
    "limb_named",
    "part_json",
    "part_to_hear",
    "read_take",
    "side_by_side",
]
