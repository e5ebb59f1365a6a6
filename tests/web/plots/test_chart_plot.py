"""The chart's picture: what is held, what is not, work and rest, and nothing unescaped."""

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from loosehand.web.plots.chart_plot import ChartPlot, PlotCell, PlotColumn, PlotPanel, chart_plot

SVG = "{http://www.w3.org/2000/svg}"
WORKED = PlotColumn("2 Nov", done=14, most=14, before=False)
REST = PlotColumn("", done=0, most=14, before=False)
BEFORE = PlotColumn("", done=0, most=14, before=True)
LEFT = PlotPanel(
    "Left hand",
    (PlotCell(1, 80.0, 1.0, True), PlotCell(1, 85.0, 0.25, False)),
    (None, 80.0, None),
)
PLOT = ChartPlot(
    "plot-0", "Counts held", "Left: 80.", (80.0, 85.0), (BEFORE, WORKED, REST), (LEFT,)
)


def drawn(plot):
    """The picture as a tree; markup that is not well formed stops here."""
    return ElementTree.fromstring(
        chart_plot(plot).replace("<svg ", f'<svg xmlns="{SVG[1:-1]}" ', 1)
    )


def of_class(tree, name):
    """Elements of a class."""
    return [found for found in tree.iter() if found.get("class") == name]


def test_the_picture_says_itself_in_words():
    """It is an image with a title and a description that its label points to."""
    tree = drawn(PLOT)
    said = {found.get("id"): found.text for found in tree if found.get("id")}
    assert tree.get("role") == "img"
    assert [said[name] for name in tree.get("aria-labelledby").split()] == [
        "Counts held",
        "Left: 80.",
    ]


def test_what_people_typed_is_escaped():
    """Words cannot become markup."""
    nasty = '<script>"&'
    plot = replace(PLOT, title=nasty, description=nasty, panels=(replace(LEFT, name=nasty),))
    texts = [found.text for found in drawn(plot).iter() if found.text]
    assert "<script>" not in chart_plot(plot)
    assert texts.count(nasty) == 3


def test_held_and_lost_differ_by_shape():
    """A full block is wider than the bar of a round that was lost, which is a quarter full."""
    tree = drawn(PLOT)
    (held,), (lost,), (tried,) = (of_class(tree, name) for name in ("held", "lost", "tried"))

    def size(path):
        left, rest = path.get("d").split("h")[1].split("v")[:2]
        return float(left), float(rest.split("h")[0])

    assert size(held)[0] > 2 * size(lost)[0]
    assert size(lost)[1] == pytest.approx(size(tried)[1] / 4, rel=0.01)
    assert size(tried)[1] == size(held)[1]


def test_work_and_rest_are_plain():
    """Rounds of the day are written, a rest day is a ring, and before the chart is nothing."""
    tree = drawn(PLOT)
    assert [found.text for found in of_class(tree, "done")] == ["14"]
    assert len(of_class(tree, "rest")) == 1
    assert [found.text for found in of_class(tree, "date")] == ["2 Nov"]


def test_the_edges_are_joined_across_days_without_one():
    """Three edges make three bars and two joins."""
    columns = (WORKED,) * 4
    plot = replace(
        PLOT, columns=columns, panels=(replace(LEFT, edges_bpm=(80.0, None, 85.0, 80.0)),)
    )
    tree = drawn(plot)
    assert of_class(tree, "edge")[0].get("d").count("M") == 3
    assert of_class(tree, "edge-join")[0].get("d").count("L") == 2


def test_nothing_held_draws_no_edge():
    """A chart without a held tempo has no line."""
    plot = replace(PLOT, panels=(replace(LEFT, edges_bpm=(None, None, None)),))
    assert of_class(drawn(plot), "edge") == []


def test_ten_years_of_months_stay_within_the_page():
    """Narrow columns have bars instead of digits; many tempos have fewer labels."""
    columns = (replace(WORKED, label=""),) * 120
    tempos_bpm = tuple(float(tempo) for tempo in range(60, 160))
    tree = drawn(replace(PLOT, columns=columns, tempos_bpm=tempos_bpm))
    assert float(tree.get("width")) < 1120
    assert float(tree.get("height")) < 500
    assert of_class(tree, "done") == []
    assert len(of_class(tree, "work")) == 120
    assert len(of_class(tree, "tempo")) < 80


def test_an_empty_chart_is_still_a_picture():
    """No columns and no panels draw an empty frame."""
    assert drawn(ChartPlot("p", "t", "d", (), (), ())).tag == f"{SVG}svg"
