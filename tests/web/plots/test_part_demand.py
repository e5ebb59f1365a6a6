"""The pictures of what a part asks: each hand through the tune, and the strokes of a drive."""

import re
from xml.etree import ElementTree

import pytest

from loosehand.parts.demand_strip import hand_strips
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled
from loosehand.web.plots.part_demand import PhaseBar, draw_phases, draw_strips

HEADING = "tempo: 60\nmeter: 4/4\ngrid: 4\n"
LEFT, RIGHT = 92.0, 612.0


def strips_drawn(text):
    """The picture of a tune at 60."""
    tune = unrolled(parse_part(HEADING + text))
    return ElementTree.fromstring(str(draw_strips(hand_strips(tune), tune.sections)))


def boxes(picture, style):
    """Left and right edges of what is drawn in a style, as shares of the tune."""
    found = []
    for path in picture.iter("path"):
        if path.get("class") == style:
            edges = re.findall(r"M([0-9.]+) [0-9.]+H([0-9.]+)V", path.get("d"))
            found += [
                ((float(a) - LEFT) / (RIGHT - LEFT), (float(b) - LEFT) / (RIGHT - LEFT))
                for a, b in edges
            ]
    return found


def test_runs_and_fills_stand_where_they_are_played():
    """Half a bar on the hat, a quarter on a tom, a quarter of rest: to the column."""
    picture = strips_drawn("RH hat      xxxx xxxx .... ....\nRH high tom .... .... xxxx ....\n")
    assert boxes(picture, "run") == [pytest.approx((0.0, 0.5), abs=0.002)]
    assert boxes(picture, "fill") == [pytest.approx((0.5, 0.75), abs=0.002)]
    assert picture.get("role") == "img"
    assert picture.find("desc").text == (
        "right hand: 2 s on its surface, 1 s on another one in 1 stretch, 1 s of rest."
    )


def test_one_line_a_hand_and_a_name_a_section():
    """Names that do not fit are left out."""
    picture = strips_drawn(
        "[verse] x20\nRH hat xxxx xxxx xxxx xxxx\nLH snare .... x... .... x...\n"
        "[end]\nRH hat x... .... .... ....\n"
    )
    words = [text.text for text in picture.iter("text")]
    assert words == ["verse", "right hand", "left hand"]
    assert sum(path.get("class") == "rest-line" for path in picture.iter("path")) == 2


def test_a_long_tune_is_drawn_in_few_pieces():
    """However many strokes there are, no more pieces than columns; a fill is never lost."""
    picture = strips_drawn(
        "[a] x2000\nRH hat xxxx xxxx x.x. x.xx\n"
        "[b]\nRH hat xxxx xxxx xxxx ....\nRH high tom .... .... .... x.x.\n"
        "[c] x2000\nRH hat xxxx xxxx x.x. x.xx\n"
    )
    assert len(boxes(picture, "run")) < 1000
    ((left, right),) = boxes(picture, "fill")
    assert left == pytest.approx(0.5, abs=0.002)
    assert right > left


def test_a_drive_is_drawn_stroke_by_stroke():
    """Bars are as high as their accents; free ones are filled, others are outlined."""
    bars = [PhaseBar("down", 8, True), PhaseBar("tap", 4, False), PhaseBar("up", 0, False)]
    picture = ElementTree.fromstring(str(draw_phases(bars, name="p", way="whip threes")))
    given, fought = picture.findall("rect")
    assert (given.get("class"), fought.get("class")) == ("given", "fought")
    assert float(given.get("height")) == pytest.approx(2 * float(fought.get("height")))
    assert picture.find("desc").text == "down 8 for nothing; tap 4 fought; up none."


def test_a_drive_without_accents_is_drawn_empty():
    """No bar, and the words say so."""
    picture = ElementTree.fromstring(
        str(draw_phases([PhaseBar("full", 0, True)], name="p", way="wrist singles"))
    )
    assert picture.findall("rect") == []
    assert picture.find("desc").text == "full none."
