"""Checks of the plot of early and late."""

import pytest

from loosehand.web.plots.take_timing import count_figures, draw_asynchrony
from tests.web.plots.take_pictures import AXIS, HOLD, SVG, parsed, path_of, starts, stroke, words_in


def asynchrony(figures, *, hold=HOLD, lead_ms=0.0, tiring=None):
    """Draw asynchrony with a leeway of 40 ms."""
    drawn = draw_asynchrony(
        AXIS,
        figures,
        name="all",
        hold=hold,
        lead_ms=lead_ms,
        leeway_ms=40.0,
        tiring=tiring or {},
        title="How early or late",
    )
    return parsed(drawn)


def test_a_count_is_summed_up():
    """A count has the median, the ends and the number of its strokes; strays have no part."""
    strokes = [
        stroke(1.0, count=2, asynchrony_ms=-4.0),
        stroke(1.1, count=2, asynchrony_ms=10.0),
        stroke(1.2, count=2, asynchrony_ms=6.0),
        stroke(1.3, count=None, place=None, asynchrony_ms=None),
        stroke(1.4, count=5, asynchrony_ms=1.0),
    ]
    two, five = count_figures(strokes)
    assert (two.count, two.strokes, two.median_ms) == (2, 3, 6.0)
    assert (two.lowest_ms, two.highest_ms) == (-4.0, 10.0)
    assert (five.count, five.strokes) == (5, 1)


def test_early_lies_above_late():
    """Early counts lie above the line of the click, late ones below it."""
    strokes = [stroke(1.0, count=1, asynchrony_ms=-20.0), stroke(2.0, count=2, asynchrony_ms=20.0)]
    root = asynchrony(count_figures(strokes))
    (_, early_y), (_, late_y) = starts(path_of(root, "count-dots"))
    click_y = starts(path_of(root, "click-line"))[0][1]
    assert early_y < click_y < late_y
    words = words_in(root)
    assert words.index("early") < words.index("late")
    assert "0 ms" in words


def test_counts_after_the_hold_are_rings():
    """A count after the hold has another shape than one in it."""
    strokes = [stroke(1.0, count=40), stroke(2.0, count=41)]
    root = asynchrony(count_figures(strokes))
    assert len(starts(path_of(root, "count-holes"))) == 1
    ring_x = starts(path_of(root, "count-holes"))[0][0]
    assert ring_x == pytest.approx(AXIS.x_of_count(41.5), abs=0.1)


def test_the_leeway_lies_around_the_lead():
    """The leeway is drawn to both sides of the lead, in the plot's own scale."""
    strokes = [stroke(1.0, count=1, asynchrony_ms=50.0), stroke(2.0, count=2, asynchrony_ms=-30.0)]
    root = asynchrony(count_figures(strokes), lead_ms=10.0)
    leeway = [y for _, y in starts(path_of(root, "leeway"))]
    counts = [y for _, y in starts(path_of(root, "count-dots"))]
    assert sorted(leeway) == pytest.approx(sorted(counts), abs=0.11)


def test_tiring_is_marked():
    """Where it tired stands a line with a word."""
    tiring = {"onset_count": 16, "sign": "level", "rising": False}
    root = asynchrony(count_figures([stroke(1.0)]), tiring=tiring)
    assert starts(path_of(root, "tiring-line"))[0][0] == pytest.approx(AXIS.x_of_count(16), abs=0.1)
    assert "tiring from count 16: softer" in words_in(root)
    assert "Tiring shows from count 16: softer" in root.find(f"{SVG}desc").text
