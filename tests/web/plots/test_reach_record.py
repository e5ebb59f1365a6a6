"""The record of forecasts as a picture: foretold against held."""

import re

from loosehand.web.plots.reach_record import RecordBin, draw_record
from tests.web.plots.reach_pictures import SVG, drawn, moves, of_class, words_in

BINS = (RecordBin(0.1, 0.2, 0.05, 0.4, 12), RecordBin(0.95, 0.9, 0.7, 0.98, 31))


def test_each_bin_is_a_dot_with_its_rounds():
    """Two bins are two dots, two upright lines and two figures."""
    tree = drawn(draw_record(BINS, title="Foretold", words="Twice."))
    assert moves(tree, "lost") == 2
    assert len(of_class(tree, "whisker")) == 2
    assert {"12", "31"} <= set(words_in(tree))
    assert tree.find(f"{SVG}desc").text == "Twice."


def test_a_share_that_is_foretold_lies_on_the_line():
    """A bin whose share is its chance lies on the diagonal, another beside it."""
    tree = drawn(draw_record([RecordBin(0.5, 0.5, 0.4, 0.6, 9)], title="t", words="w"))
    start, end = (
        tuple(map(float, place.split()))
        for place in of_class(tree, "even")[0].get("d").removeprefix("M").split("L")
    )
    x, y = map(float, re.match(r"M([\d.]+) ([\d.]+)", of_class(tree, "lost")[0].get("d")).groups())
    assert abs(x - (start[0] + end[0]) / 2) < 0.2
    assert abs(y - (start[1] + end[1]) / 2) < 0.2


def test_no_bins_draw_the_scales_alone():
    """Without a bin there is the line of equal shares and nothing on it."""
    tree = drawn(draw_record([], title="t", words="w"))
    assert len(of_class(tree, "even")) == 1
    assert of_class(tree, "lost") == []
