"""Checks of the pieces of SVG."""

import pytest

from loosehand.web.plots.take_svg import label, picture, pixel, signed_whole, upright
from tests.web.plots.take_pictures import parsed


@pytest.mark.parametrize(
    ("value", "written"), [(1.0, "1"), (1.04, "1"), (1.25, "1.2"), (-0.01, "0"), (-2.5, "-2.5")]
)
def test_pixels_are_short(value, written):
    """A pixel is written to a tenth, without what says nothing."""
    assert pixel(value) == written


@pytest.mark.parametrize(
    ("value", "written"), [(40.0, "+40"), (-40.4, "\N{MINUS SIGN}40"), (0.2, "0"), (-0.2, "0")]
)
def test_whole_numbers_have_signs(value, written):
    """A whole number has its sign, nought has none."""
    assert signed_whole(value) == written


def test_a_picture_says_what_it_is():
    """A picture has a title and words that it points to, and what would be markup is escaped."""
    drawn = picture("x", (100.0, 50.0), "A <title>", "1 < 2", [label(1, 2, "a & b", "w")])
    root = parsed(drawn)
    assert (root.get("width"), root.get("viewBox")) == ("100", "0 0 100 50")
    assert [child.text for child in root] == ["A <title>", "1 < 2", "a & b"]
    assert root.get("aria-labelledby").split() == [root[0].get("id"), root[1].get("id")]


def test_an_upright_line():
    """A line goes from its top to its foot."""
    assert upright("rule", 3.0, 1.0, 9.5) == '<path class="rule" d="M3 1V9.5"/>'
