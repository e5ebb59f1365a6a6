"""What a part's page says besides the staff."""

import pytest

from loosehand.errors import BadNotation, InputError
from loosehand.parts.edit import At
from loosehand.parts.text import parse_part
from loosehand.studio.part_examples import EXAMPLE_TUNE
from loosehand.web.pages.part_view import Problem, at_asked, figures_of, problem_of
from tests.web.pages.part_scenes import TINY


def test_a_part_in_few_figures():
    """Tempo, meter, bars with repeats, and how long it takes."""
    figures = figures_of(parse_part(EXAMPLE_TUNE))
    assert (figures.tempo, figures.meter, figures.bars) == ("104", "4/4", 51)
    # 51 bars of four counts at 104: 204 * 60 / 104 = 117.7 s.
    assert figures.length == "1 min 58 s"
    assert figures_of(parse_part(TINY)).length == "3 s"


def test_a_change_of_tempo_counts():
    """Two bars of two counts at 90, then one at 30: 2.67 + 4 s."""
    assert figures_of(parse_part(TINY + "[b] tempo 30\nRF kick x. x.\n")).length == "7 s"


def test_a_fault_is_shown_in_its_line():
    """The sign below stands under the column that is named."""
    text = TINY.replace("X. x.", "X. z.")
    with pytest.raises(BadNotation) as caught:
        parse_part(text)
    problem = problem_of(caught.value, text)
    row, sign = problem.shown.split("\n")
    assert (problem.line, problem.column) == (6, 13)
    assert row[sign.index("^")] == "z"


def test_a_fault_in_a_long_line_is_cut_out():
    """Far to the right the line is cut, and the sign still stands under its place."""
    text = "\t" * 300 + "?" + " " * 300
    problem = problem_of(BadNotation("line 1, column 301: '?' begins no line"), text)
    row, sign = problem.shown.split("\n")
    assert len(row) <= 30
    assert row[sign.index("^")] == "?"


def test_what_has_no_place_is_only_said():
    """A refusal of a change names no line."""
    assert problem_of(InputError("no stroke there"), TINY) == Problem("no stroke there")


def test_a_place_is_read_from_a_form():
    """Four numbers from 0."""
    assert at_asked("1", "0", "15", "3") == At(1, 0, 15, "left foot")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("", "0", "0", "0"), "section = ''"),
        (("0", "-1", "0", "0"), "bar = '-1'"),
        (("0", "0", "x" * 99, "0"), "place = 'xxxxxxxxxxxxxxxxxxxx'"),
        (("0", "0", "0", "4"), "limb = 4: want 0 to 3"),
    ],
)
def test_what_is_no_place_is_refused(words, says):
    """Each is named."""
    with pytest.raises(InputError, match=says):
        at_asked(*words)
