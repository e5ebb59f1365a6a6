"""The lines of the page Today: what each hand used lately holds for a minute."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from jinja2 import Environment, FileSystemLoader

import loosehand.web
from loosehand.reach.seen import HandKind
from loosehand.web.pages.reach_strip import strip_lines
from tests.reach.known_reach import DAY, a_reach

TEMPLATES = Path(loosehand.web.__file__).parent / "templates"
LEFT = HandKind("left", "whip fours", "pad", "medium", 4)
RIGHT = replace(LEFT, hand="right")


def test_each_hand_played_lately_has_a_line():
    """A hand of 27 days ago is told of, one of 28 is not; the last played stands first."""
    every = [
        replace(a_reach(kind=LEFT), last_day=DAY - timedelta(days=27)),
        a_reach(kind=RIGHT, longest_held_s=30.0),
        replace(a_reach(kind=replace(LEFT, surface="hat")), last_day=DAY - timedelta(days=28)),
    ]
    lines = strip_lines(every, player="Ines & Co", today=DAY)
    assert [(line.kind, line.minute, line.beyond) for line in lines] == [
        ("Right hand, whip fours, pad, medium", "100", True),
        ("Left hand, whip fours, pad, medium", "100", False),
    ]
    assert lines[0].way == ("/reach/Ines%20%26%20Co?kind=right%2Fwhip+fours%2Fpad%2Fmedium%2F4")


def test_the_lines_are_few():
    """Of ten kinds played today, six have a line."""
    every = [a_reach(kind=replace(LEFT, technique=f"technique {each}")) for each in range(10)]
    assert len(strip_lines(every, player="Nerys", today=DAY)) == 6


def test_the_partial_links_each_line():
    """The template writes a line with its link, safely, and nothing where there is none."""
    partial = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True).get_template(
        "reach_strip.html"
    )
    kind = replace(LEFT, technique="<b>whips</b>")
    lines = strip_lines([a_reach(kind=kind)], player="Nerys", today=DAY)
    html = partial.render(reach_lines=lines)
    assert html.count("<a href=") == 1
    assert '<span class="figure">100</span> for a minute' in html
    assert "&lt;b&gt;whips" in html
    assert "<ul" not in partial.render(reach_lines=[])
