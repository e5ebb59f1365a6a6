"""The pieces of the reach's plots: scales, lines, marks, ticks."""

import itertools

import pytest

from loosehand.web.plots.reach_frame import (
    Frame,
    band,
    dots,
    even_ticks,
    line,
    picture,
    rings,
    triangles,
)
from tests.web.plots.reach_pictures import SVG, drawn

FRAME = Frame(10.0, 20.0, 110.0, 220.0, x_from=80.0, x_to=120.0, y_from=0.0, y_to=2.0)


def test_values_lie_between_the_sides():
    """The lowest values stand at the left and at the bottom, the highest at the other sides."""
    assert FRAME.place(80.0, 0.0) == (10.0, 220.0)
    assert FRAME.place(120.0, 2.0) == (110.0, 20.0)
    assert FRAME.place(100.0, 1.0) == (60.0, 120.0)


def test_what_is_inside_keeps_its_pixels():
    """The picture inside has the frame's own pixels, so that it cuts off and does not move."""
    inner = drawn(FRAME.inside(["<path d='M1 1'/>"]))
    assert inner.get("viewBox") == "10 20 100 200"
    assert (inner.get("x"), inner.get("y")) == ("10", "20")
    assert (inner.get("width"), inner.get("height")) == ("100", "200")


def test_fewer_than_two_places_are_no_line():
    """A line and a band need two places; marks need one."""
    assert line("curve", [(1.0, 2.0)]) == ""
    assert band("band", [(1.0, 2.0)], [(3.0, 4.0)]) == ""
    assert dots("lost", []) == rings("older", [], radius=3.0) == ""
    assert triangles("arrow", [], up=True) == ""


def test_a_band_goes_there_and_back():
    """A band follows one line and comes back along the other."""
    path = band("band", [(0.0, 0.0), (10.0, 0.0)], [(0.0, 5.0), (10.0, 5.0)])
    assert path == '<path class="band" d="M0 0L10 0L10 5L0 5Z"/>'


def test_arrows_point_up_and_down():
    """The tip of an arrow lies above its feet, or below them."""
    up, down = triangles("a", [(50.0, 50.0)], up=True), triangles("a", [(50.0, 50.0)], up=False)
    assert "M45 54l5 -8l5 8z" in up
    assert "M45 46l5 8l5 -8z" in down


def test_a_picture_says_what_it_is():
    """Title and words are named by the picture, and are escaped."""
    tree = drawn(picture("one", (100.0, 50.0), "A & B", "<i>words</i>", []))
    assert tree.get("role") == "img"
    assert tree.get("aria-labelledby") == "title-one words-one"
    assert tree.find(f"{SVG}title").text == "A & B"
    assert tree.find(f"{SVG}desc").text == "<i>words</i>"


@pytest.mark.parametrize(
    ("low", "high", "most"), [(80.0, 121.0, 6), (91.2, 94.9, 6), (20.0, 400.0, 12), (0.0, 0.7, 5)]
)
def test_ticks_are_few_round_and_inside(low, high, most):
    """Ticks lie inside, are evenly apart, and are neither too many nor fewer than two."""
    ticks = even_ticks(low, high, most=most)
    assert 2 <= len(ticks) <= most
    assert low - 1e-9 <= min(ticks) <= max(ticks) <= high + 1e-9
    steps = [b - a for a, b in itertools.pairwise(ticks)]
    assert steps == pytest.approx([steps[0]] * len(steps))


def test_no_range_has_one_tick():
    """Where low and high are the same there is one tick."""
    assert even_ticks(90.0, 90.0, most=5) == [90.0]
