"""Checks of the picture of a take: what stands where, and what it says to who does not see it."""

import gzip
import re

import numpy as np
import pytest

from loosehand.web.plots.take_axis import HoldShown, TimeAxis, time_axis
from loosehand.web.plots.take_plots import draw_waveform
from loosehand.web.plots.take_timing import count_figures, draw_asynchrony
from tests.studio.take_scenes import COUNT_S, HELD, heard_take
from tests.web.plots.take_pictures import AXIS, HOLD, SVG, parsed, path_of, starts, stroke, words_in


def test_the_break_stands_after_the_hold():
    """The red line stands where the first count after the hold begins, with a word."""
    drawn = draw_waveform(AXIS, extent=None, strokes=[], hold=HOLD, alternating=False)
    root = parsed(drawn)
    assert starts(path_of(root, "break-line"))[0][0] == pytest.approx(AXIS.x_of_count(41), abs=0.1)
    assert "40 held, fell behind" in words_in(root)
    shade = next(root.iter(f"{SVG}rect"))
    right = float(shade.get("x")) + float(shade.get("width"))
    assert float(shade.get("x")) == pytest.approx(AXIS.x_of_count(1), abs=0.1)
    assert right == pytest.approx(AXIS.x_of_count(41), abs=0.2)


def test_no_break_where_none_was():
    """A hold to the end has no red line, and says so."""
    hold = HoldShown(count_held=100, count_read=None, broke=False, why="held to the end")
    root = parsed(draw_waveform(AXIS, extent=None, strokes=[], hold=hold, alternating=False))
    assert path_of(root, "break-line") is None
    assert "100 held, held to the end" in words_in(root)


def test_both_numbers_are_marked():
    """Where a person's number stands, the machine's is marked as well, in another way."""
    hold = HoldShown(count_held=40, count_read=55, broke=True, why="fell behind")
    root = parsed(draw_waveform(AXIS, extent=None, strokes=[], hold=hold, alternating=False))
    assert starts(path_of(root, "read-end"))[0][0] == pytest.approx(AXIS.x_of_count(56), abs=0.1)
    assert {"read: 55", "40 held, fell behind"} <= set(words_in(root))


def test_strokes_stand_at_their_times():
    """Each stroke has a tick at its time, a louder one a taller tick, a stray one a dot."""
    strokes = [
        stroke(10.0, level_db=-30.0),
        stroke(20.0, level_db=-20.0),
        stroke(30.0, count=None, place=None, asynchrony_ms=None, level_db=-10.0),
    ]
    root = parsed(draw_waveform(AXIS, extent=None, strokes=strokes, hold=HOLD, alternating=False))
    ticks = path_of(root, "stroke-ticks")
    assert [x for x, _ in starts(ticks)] == [
        pytest.approx(AXIS.x_of(time_s), abs=0.1) for time_s in (10.0, 20.0)
    ]
    soft, loud = (abs(float(height)) for height in re.findall(r"v(-?[\d.]+)", ticks.get("d")))
    assert loud > soft
    dot_x = starts(path_of(root, "stroke-dots"))[0][0]
    assert dot_x == pytest.approx(AXIS.x_of(30.0), abs=0.1)


def test_hands_point_two_ways():
    """In an alternating take the left hand's ticks point up, the right one's down."""
    strokes = [stroke(10.0, hand="left"), stroke(20.0, hand="right")]
    root = parsed(draw_waveform(AXIS, extent=None, strokes=strokes, hold=HOLD, alternating=True))
    left, right = re.findall(r"v(-?[\d.]+)", path_of(root, "stroke-ticks").get("d"))
    assert float(left) < 0 < float(right)
    assert {"left", "right"} <= set(words_in(root))


def test_the_wave_goes_from_lowest_to_highest():
    """Every column is drawn, the loudest as high as there is room."""
    extent = np.array([[-0.1, 0.2], [-0.4, 0.4], [0.0, 0.0]])
    root = parsed(draw_waveform(AXIS, extent=extent, strokes=[], hold=HOLD, alternating=False))
    heights = [int(height) for height in re.findall(r"v(-?\d+)", path_of(root, "wave").get("d"))]
    assert heights == [42, 112, 0]


def test_silence_can_be_drawn():
    """A sound of nothing but noughts is a flat line."""
    extent = np.zeros((50, 2))
    root = parsed(draw_waveform(AXIS, extent=extent, strokes=[], hold=HOLD, alternating=False))
    assert set(re.findall(r"v(-?\d+)", path_of(root, "wave").get("d"))) == {"0"}


def test_words_are_escaped():
    """Words that would be markup are shown as they are."""
    hold = HoldShown(count_held=40, count_read=None, broke=True, why="<b>&")
    root = parsed(draw_waveform(AXIS, extent=None, strokes=[], hold=hold, alternating=False))
    assert "40 held, <b>&" in words_in(root)


def test_a_minute_is_small():
    """The plots of a minute of sixteenths at 104 with a full waveform stay under 20 kB zipped."""
    rng = np.random.default_rng(3)
    axis = TimeAxis(64.0, 1120.0, 3.0, 60 / 104, 104)
    extent = np.sort(rng.normal(0.0, 0.3, (1044, 2)), axis=1)
    strokes = [
        stroke(
            3.0 + index * 15 / 104 + rng.normal(0.0, 0.01),
            count=index // 4 + 1,
            place=index % 4,
            asynchrony_ms=float(rng.normal(0.0, 10.0)),
            level_db=float(rng.normal(-20.0, 3.0)),
        )
        for index in range(416)
    ]
    drawn = draw_waveform(axis, extent=extent, strokes=strokes, hold=HOLD, alternating=False)
    drawn += draw_asynchrony(
        axis,
        count_figures(strokes),
        name="all",
        hold=HOLD,
        lead_ms=0.0,
        leeway_ms=43.0,
        tiring={},
        title="How early or late",
    )
    assert len(gzip.compress(drawn.encode())) < 20_000


def test_the_hold_of_the_scene_is_drawn_where_it_was_played():
    """The break of a real reading stands within a place of where the hand began to slow."""
    body = heard_take()
    axis = time_axis(body)
    hold = HoldShown(body["count_held"], None, True, body["ended"])
    root = parsed(
        draw_waveform(axis, extent=None, strokes=body["strokes"], hold=hold, alternating=False)
    )
    played_x = axis.x_of(2.25 + HELD * COUNT_S)
    drawn_x = starts(path_of(root, "break-line"))[0][0]
    assert abs(drawn_x - played_x) < axis.span * (COUNT_S / 4) / axis.duration_s
