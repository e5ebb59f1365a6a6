"""Places and strokes in words."""

import pytest

from loosehand.parts.grid import Meter
from loosehand.parts.part import Bar, Stroke
from loosehand.parts.place_words import place_in_words, stroke_in_words

STRAIGHT = Bar(Meter((1, 1, 1, 1), 4), 4, ())


@pytest.mark.parametrize(
    ("bar", "place", "words"),
    [
        (STRAIGHT, 0, "count 1"),
        (STRAIGHT, 5, "count 2, e"),
        (STRAIGHT, 15, "count 4, a"),
        (Bar(Meter((1, 1), 4), 3, ()), 4, "count 2, trip"),
        (Bar(Meter((3, 3), 8), 1, ()), 5, "count 2, let"),
        (Bar(Meter((2, 2, 3), 8), 2, ()), 13, "count 3, place 6"),
    ],
)
def test_a_place_is_said_as_players_say_it(bar, place, words):
    """The count, and the syllable where there is a usual one."""
    assert place_in_words(bar, place) == words


def test_a_stroke_is_said_with_its_marks():
    """Limb, instrument, marks."""
    stroke = Stroke(0, "left hand", "snare", ("flam", "accent"))
    assert stroke_in_words(stroke) == "left hand, snare, accent, flam"
