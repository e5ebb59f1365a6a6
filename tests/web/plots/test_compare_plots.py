"""Two takes on one scale: marks that differ in shape, and words that say them."""

from xml.etree import ElementTree

import pytest

from loosehand.web.plots.compare_plots import RangedFigure, draw_figures, draw_holds, draw_pair

NAMES = ("1", "e")


def places(*values, error=1.0):
    """Places of an evenness."""
    return [
        {
            "place": index,
            "timing_ms": value,
            "timing_error_ms": error,
            "level_db": value,
            "level_error_db": None,
        }
        for index, value in enumerate(values)
    ]


def parsed(markup):
    """Read a picture."""
    return ElementTree.fromstring(str(markup))


def test_both_takes_lie_on_one_scale():
    """The same figure of either take is drawn at the same height; early lies above."""
    picture = parsed(draw_pair(places(-4.0, 4.0), places(4.0, -4.0), NAMES, kind="timing"))
    first = [float(dot.get("cy")) for dot in picture.findall("circle")]
    second = [float(mark.get("y")) + 5 for mark in picture.findall("rect")]
    assert first[0] < first[1]
    assert first == pytest.approx(second[::-1])
    assert len([path for path in picture.iter("path") if path.get("class") == "whisker"]) == 4


def test_louder_lies_above_and_no_error_has_no_line():
    """Level is drawn upwards; without a standard error there is no line."""
    picture = parsed(draw_pair(places(3.0, -3.0), places(0.0, 0.0), NAMES, kind="level"))
    high, low = (float(dot.get("cy")) for dot in picture.findall("circle"))
    assert high < low
    assert not [path for path in picture.iter("path") if path.get("class") == "whisker"]


def test_a_place_that_is_not_known_is_said_so():
    """Words say both takes place by place."""
    picture = parsed(draw_pair(places(-4.0, None), places(4.0, 1.0), NAMES, kind="timing"))
    assert picture.find("desc").text == "1: -4.0 and +4.0 ms; e: none and +1.0 ms."


def test_counts_held_are_drawn_within_those_offered():
    """Bars of one scale; what was not judged has none."""
    picture = parsed(draw_holds([(50, 100), (None, 50)]))
    widths = {
        style: [
            float(bar.get("width")) for bar in picture.findall("rect") if bar.get("class") == style
        ]
        for style in ("known", "believed")
    }
    assert widths["known"] == [pytest.approx(widths["believed"][0] / 2)]
    assert widths["believed"][1] == pytest.approx(widths["believed"][0] / 2)
    assert "second take not judged of 50" in picture.find("desc").text


def test_a_range_lies_around_its_figure():
    """The line of a figure goes from its low to its high bound; an unknown one is not drawn."""
    rows = [("decay", "dB", RangedFigure(-1.0, -2.0, 0.5), RangedFigure(None, None, None))]
    picture = parsed(draw_figures(rows, name="drive", title="The drive"))
    (line,) = [path.get("d") for path in picture.iter("path") if path.get("class") == "whisker"]
    left, right = (float(point.split(" ")[0]) for point in line[1:].split("L"))
    (dot,) = picture.findall("circle")
    assert (float(dot.get("cx")) - left) / (right - left) == pytest.approx(1.0 / 2.5, abs=0.01)
    assert picture.find("desc").text == "decay: -1.0 dB (-2.0 to +0.5) and not known."
    assert picture.find("title").text == "The drive, two takes"
    assert picture.get("id").endswith("pair-drive")
