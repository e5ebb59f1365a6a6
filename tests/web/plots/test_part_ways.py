"""The pictures of ways of playing: chances as bars, the reserve as a line."""

import re
from xml.etree import ElementTree

import pytest

from loosehand.reach.reach import Interval
from loosehand.rounds.way_lasting import SectionReserve
from loosehand.web.plots.part_ways import ChanceRow, draw_chances, draw_reserve, percent_of

SVG = "{http://www.w3.org/2000/svg}"
ROWS = [
    ChanceRow("whip fours", 0.5, True, True),
    ChanceRow("wrist singles", 0.25, False, False),
]


def parsed(markup):
    """Read a picture."""
    return ElementTree.fromstring(str(markup))


@pytest.mark.parametrize(("chance", "percent"), [(0.0, 1), (0.004, 1), (0.5, 50), (0.999, 99)])
def test_no_chance_is_certain(chance, percent):
    """Never none in a hundred, never all."""
    assert percent_of(chance) == percent


def test_bars_are_as_long_as_their_chances():
    """Twice the chance, twice the bar; what is believed looks otherwise than what was heard."""
    bars = parsed(draw_chances(ROWS)).findall("rect")
    known, believed = (float(bar.get("width")) for bar in bars)
    assert known == pytest.approx(2 * believed)
    assert [bar.get("class") for bar in bars] == ["known", "believed"]


def test_the_picture_says_what_it_shows():
    """All that is drawn stands in its words, a name stays words."""
    words = parsed(draw_chances(ROWS)).find("desc").text
    assert words == (
        "whip fours 50 in 100, heard, beyond what was seen; "
        "wrist singles 25 in 100, believed, not heard."
    )
    wild = draw_chances([ChanceRow("<b>&", 0.5, True, False)])
    assert parsed(wild).find("desc").text.startswith("<b>&")


def test_the_reserve_runs_from_full_to_what_is_left():
    """The line falls from the top to the middle of its scale; words say the bounds."""
    sections = [
        SectionReserve("verse", 30.0, 104.0, 0.0, Interval(0.5, 0.25, 1.0)),
        SectionReserve("end", 1.0, 104.0, 0.0, Interval(0.5, 0.0, 1.0)),
    ]
    picture = parsed(draw_reserve(sections, name="r", way="whip fours"))
    line = next(
        path.get("d") for path in picture.iter("path") if path.get("class") == "middle-line"
    )
    heights = [float(height) for height in re.findall(r" ([0-9.]+)(?=L|$)", line)]
    top, half, _ = heights
    assert half - top == pytest.approx((112 - 12) / 2)
    assert picture.find("desc").text.startswith("after verse 50%, from 25% to 100%; after end")
    named = [text.text for text in picture.iter("text")]
    assert "verse" in named
    assert "end" not in named
