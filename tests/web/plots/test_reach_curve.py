"""The hold-time curve as a picture: rounds as what they were, and where seeing ends."""

import re
from dataclasses import replace

import pytest

from loosehand.web.plots.reach_curve import CurvePoint, HoldCurve, RoundMark, draw_curve
from tests.web.plots.reach_pictures import SVG, drawn, moves, of_class, words_in

TIMES_S = (5.0, 10.0, 30.0, 60.0, 120.0, 480.0)
CURVE = HoldCurve(
    points=tuple(
        CurvePoint(time_s, 110.0 - 3 * place, 112.0 - 3 * place, 114.0 - 3 * place)
        for place, time_s in enumerate(TIMES_S)
    ),
    marks=(
        RoundMark(95.0, 60.0, "held on", recent=True),
        RoundMark(95.0, 60.0, "held on", recent=True),
        RoundMark(105.0, 20.0, "lost", recent=True),
        RoundMark(105.0, 25.0, "lost", recent=False),
        RoundMark(115.0, 0.0, "lost", recent=True),
        RoundMark(90.0, 60.0, "held on", recent=False),
    ),
    longest_held_s=60.0,
    title="Hold time by tempo",
    words="It falls.",
)


def first_place(path):
    """Where a path begins."""
    return tuple(float(value) for value in re.match(r"M([\d.]+) ([\d.]+)", path.get("d")).groups())


def test_each_round_is_drawn_as_what_it_was():
    """Lost is a dot, held on an arrow up, not a count an arrow down; older ones are outlines."""
    tree = drawn(draw_curve(CURVE))
    assert moves(tree, "lost") == 1
    assert moves(tree, "lost-older") == 1
    recent = of_class(tree, "arrow", "recent")
    assert [path.get("d").count("M") for path in recent] == [1, 1]
    down, up = (first_place(path)[1] for path in recent)
    assert down > up
    assert moves(tree, "arrow", "older") == 1
    assert words_in(tree).count("×2") == 1


def test_higher_tempos_lie_right_and_longer_holds_above():
    """The dot at 105 lies right of the arrow at 95, and lower, since it was held less long."""
    tree = drawn(draw_curve(CURVE))
    dot = first_place(of_class(tree, "lost")[0])
    arrow = first_place(of_class(tree, "arrow", "recent")[1])
    assert dot[0] > arrow[0] + 20
    assert dot[1] > arrow[1] + 20


def test_time_is_logarithmic():
    """From 30 s to 1 min is as far as from 1 to 2 min and from 2 to 4."""
    tree = drawn(draw_curve(CURVE))
    y = {e.text: float(e.get("y")) for e in of_class(tree, "axis-word") if e.text}
    assert y["30 s"] - y["1 min"] == pytest.approx(y["1 min"] - y["2 min"], abs=0.2)
    assert y["1 min"] - y["2 min"] == pytest.approx(y["2 min"] - y["4 min"], abs=0.2)


def test_beyond_what_was_seen_is_dashed_and_said():
    """The curve is parted at the longest hold: full up to it, dashed from it, with words."""
    tree = drawn(draw_curve(CURVE))
    full, dashed = of_class(tree, "curve")[0], of_class(tree, "curve-beyond")[0]
    assert full.get("d").count("L") == 3
    assert dashed.get("d").count("L") == 2
    assert full.get("d").split("L")[-1] == dashed.get("d").split("L")[0].removeprefix("M")
    assert "beyond what was seen" in words_in(tree)


def test_all_seen_has_nothing_beyond():
    """Where eight minutes were held, nothing is dashed and nothing is said of it."""
    tree = drawn(draw_curve(replace(CURVE, longest_held_s=500.0)))
    assert of_class(tree, "curve-beyond") == of_class(tree, "beyond") == []
    assert "beyond what was seen" not in words_in(tree)


def test_nothing_seen_is_all_beyond():
    """Where no count was ever held, the whole curve is dashed."""
    tree = drawn(draw_curve(replace(CURVE, longest_held_s=0.0)))
    assert of_class(tree, "curve") == []
    assert of_class(tree, "curve-beyond")[0].get("d").count("L") == 5


def test_no_mark_leaves_the_picture():
    """Holds of no time and of hours are drawn at the edges."""
    marks = (
        RoundMark(100.0, 0.0, "lost", recent=True),
        RoundMark(100.0, 7200.0, "held on", recent=True),
    )
    tree = drawn(draw_curve(replace(CURVE, marks=marks)))
    for path in of_class(tree, "arrow", "recent"):
        assert 16.0 <= first_place(path)[1] <= 408.0


def test_rounds_are_not_needed():
    """The curve of a hand without rounds is drawn all the same, with its words."""
    tree = drawn(draw_curve(replace(CURVE, marks=())))
    assert tree.find(f"{SVG}title").text == "Hold time by tempo"
    assert tree.find(f"{SVG}desc").text == "It falls."
    assert of_class(tree, "lost") == []
