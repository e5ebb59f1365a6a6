"""Lines of limbs, read and joined."""

import pytest

from loosehand.errors import BadNotation
from loosehand.parts import Bar, Meter, Stroke
from loosehand.parts.text_bars import bars_of_lines, read_limb_line
from loosehand.parts.text_line import Line

EMPTY = Bar(Meter((1, 1), 4), 2, ())


def read(*rows):
    """Return the lines of limbs in two-four, in eighths."""
    return [read_limb_line(Line(number, row), EMPTY) for number, row in enumerate(rows, start=1)]


def test_a_line_names_its_limb_and_instrument():
    """Limb and instrument come first, then bars."""
    (line,) = read("LH floor tom  x. .X | g. ..")
    assert (line.limb, line.instrument, len(line.bars)) == ("left hand", "floor tom", 2)


def test_lines_are_joined_place_by_place():
    """Strokes of all lines stand in one bar."""
    assert bars_of_lines(read("RH hat xo xX", "RF kick x. .."), EMPTY) == [
        Bar(
            EMPTY.meter,
            2,
            (
                Stroke(0, "right hand", "hat"),
                Stroke(0, "right foot", "kick"),
                Stroke(1, "right hand", "open hat"),
                Stroke(2, "right hand", "hat"),
                Stroke(3, "right hand", "hat", ("accent",)),
            ),
        )
    ]


def test_a_bar_may_be_played_again():
    """The sign % stands for the bar before it in the line."""
    first, second, third = bars_of_lines(read("RH hat xx .. | % | x. x."), EMPTY)
    assert first == second
    assert third.strokes == (Stroke(0, "right hand", "hat"), Stroke(2, "right hand", "hat"))


def test_one_limb_may_change_instruments():
    """Two lines of one hand are fine where it strikes one after the other."""
    (bar,) = bars_of_lines(read("RH hat x. x.", "RH crash .. .x"), EMPTY)
    assert [stroke.instrument for stroke in bar.strokes] == ["hat", "hat", "crash"]


def test_two_strokes_of_a_limb_at_once_are_refused():
    """Two instruments, or the open and the closed hat, cannot be struck by one hand."""
    with pytest.raises(BadNotation, match="line 2, column 10: the right hand strikes twice"):
        bars_of_lines(read("RH hat x. x.", "RH crash x. .."), EMPTY)
    with pytest.raises(BadNotation, match="line 2, column 13: the right hand strikes twice"):
        bars_of_lines(read("RH hat o. x.", "RH open hat x. .."), EMPTY)
