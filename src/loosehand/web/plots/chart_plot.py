"""The chart as a picture: days across, tempos up, hand by hand.

A full block is a tempo held to its end. A narrow bar is one that was not: as much of its height is
filled as of the round was held. A line joins the highest tempos held. Under the panels stands the
work done: rounds of each day, and a ring for a day without one. Colours come from the style sheet
by class, so that the picture follows the page's theme.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

__all__ = ["ChartPlot", "PlotCell", "PlotColumn", "PlotPanel", "chart_plot"]

_LEFT = 46.0
_RIGHT = 40.0
_HEAD = 22.0
_STRIP = 22.0
_DATES = 18.0
_WIDE_COLUMN = 28.0
_LEAST_COLUMN = 6.0
_PLOT_WIDTH = 980.0
_LEAST_WIDTH = 260.0
_NAMED_TWICE_FROM = 400.0
_HIGH_ROW = 16.0
_LEAST_ROW = 4.0
_PANEL_HEIGHT = 256.0
_LABEL_HEIGHT = 12.0
_DIGITS_FIT = 14.0


@dataclass(frozen=True)
class PlotColumn:
    """A day or a month.

    Attributes
    ----------
    label : written under it, or empty
    done : rounds of the day, or days with rounds of the month; 0 is rest
    most : the most that ``done`` can be in the picture, for the height of its bar
    before : the chart had not begun, so that nothing is said of rest
    """

    label: str
    done: int
    most: int
    before: bool


@dataclass(frozen=True)
class PlotCell:
    """A tempo in a column: the share of the round that was held, 0 to 1."""

    column: int
    tempo_bpm: float
    share: float
    held_to_the_end: bool


@dataclass(frozen=True)
class PlotPanel:
    """A hand: its cells, and the highest tempo held in each column, or None."""

    name: str
    cells: tuple[PlotCell, ...]
    edges_bpm: tuple[float | None, ...]


@dataclass(frozen=True)
class ChartPlot:
    """All that the picture shows.

    Attributes
    ----------
    name : a name for the ids inside the picture, one a page
    title, description : the picture in words
    tempos_bpm : the rows, in rising order
    columns : the days or months, in order
    panels : the hands
    """

    name: str
    title: str
    description: str
    tempos_bpm: tuple[float, ...]
    columns: tuple[PlotColumn, ...]
    panels: tuple[PlotPanel, ...]


@dataclass(frozen=True)
class _Frame:
    """Where things stand: the width of a column, the height of a row, the row of a tempo."""

    column: float
    row: float
    rows: dict[float, int]

    def left_of(self, column: int) -> float:
        return _LEFT + column * self.column

    def top_of(self, tempo_bpm: float) -> float:
        return (len(self.rows) - 1 - self.rows[tempo_bpm]) * self.row

    @property
    def height(self) -> float:
        return len(self.rows) * self.row


def chart_plot(plot: ChartPlot) -> str:
    """Draw the chart.

    Parameters
    ----------
    plot : what it shows; every tempo of the panels stands among its tempos

    Returns
    -------
    svg : markup; every text in it is escaped
    """
    frame = _frame(plot)
    width = max(_LEAST_WIDTH, frame.left_of(len(plot.columns)) + _RIGHT)
    panel = _HEAD + frame.height
    height = panel * len(plot.panels) + _STRIP + _DATES
    parts = [
        f'<svg class="chart-plot" role="img" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}" '
        f'aria-labelledby="{escape(plot.name)}-title {escape(plot.name)}-desc">',
        f'<title id="{escape(plot.name)}-title">{escape(plot.title)}</title>',
        f'<desc id="{escape(plot.name)}-desc">{escape(plot.description)}</desc>',
    ]
    for index, hand in enumerate(plot.panels):
        parts += _panel(plot, hand, frame, top=index * panel)
    parts += _strip(plot.columns, frame, top=panel * len(plot.panels))
    return "".join([*parts, "</svg>"])


def _frame(plot: ChartPlot) -> _Frame:
    """Choose sizes: wide columns and high rows while they fit."""
    columns, rows = max(1, len(plot.columns)), max(1, len(plot.tempos_bpm))
    return _Frame(
        column=min(_WIDE_COLUMN, max(_LEAST_COLUMN, _PLOT_WIDTH / columns)),
        row=min(_HIGH_ROW, max(_LEAST_ROW, _PANEL_HEIGHT / rows)),
        rows={tempo_bpm: row for row, tempo_bpm in enumerate(plot.tempos_bpm)},
    )


def _panel(plot: ChartPlot, hand: PlotPanel, frame: _Frame, *, top: float) -> list[str]:
    """Draw one hand."""
    right = frame.left_of(len(plot.columns))
    base = _HEAD + frame.height
    name = f'y="{_HEAD - 7:g}">{escape(hand.name)}</text>'
    parts = [
        f'<g transform="translate(0 {top:g})">',
        f'<text class="hand" x="{_LEFT:g}" {name}',
        # Named at the other end too: where the picture scrolls, one end is out of sight.
        f'<text class="hand" x="{right:g}" text-anchor="end" {name}'
        if right - _LEFT > _NAMED_TWICE_FROM
        else "",
        f'<path class="axis" d="M{_LEFT:g} {base:g}H{right:g}"/>',
        *_tempo_labels(plot.tempos_bpm, frame, x=_LEFT - 6, anchor="end"),
        *_tempo_labels(plot.tempos_bpm, frame, x=right + 6, anchor="start"),
        f'<g transform="translate(0 {_HEAD:g})">',
        _cells([cell for cell in hand.cells if cell.held_to_the_end], frame, kind="held"),
        _cells([cell for cell in hand.cells if not cell.held_to_the_end], frame, kind="lost"),
        _edge_line(hand.edges_bpm, frame),
    ]
    return [*parts, "</g></g>"]


def _tempo_labels(
    tempos_bpm: Sequence[float], frame: _Frame, *, x: float, anchor: str
) -> list[str]:
    """Write as many tempos as there is room for."""
    every = max(1, -int(-_LABEL_HEIGHT // frame.row))
    return [
        f'<text class="tempo" x="{x:g}" text-anchor="{anchor}" '
        f'y="{_HEAD + frame.top_of(tempo_bpm) + frame.row / 2 + 3.5:g}">{tempo_bpm:g}</text>'
        for tempo_bpm in tempos_bpm[::every]
    ]


def _cells(cells: Sequence[PlotCell], frame: _Frame, *, kind: str) -> str:
    """Draw cells as one path: full blocks, or bars as high as the share that was held."""
    if not cells:
        return ""
    frames = "".join(_box(cell, frame, kind=kind, share=1.0) for cell in cells)
    filled = "".join(_box(cell, frame, kind=kind, share=cell.share) for cell in cells)
    if kind == "held":
        return f'<path class="held" d="{filled}"/>'
    return f'<path class="tried" d="{frames}"/><path class="lost" d="{filled}"/>'


def _box(cell: PlotCell, frame: _Frame, *, kind: str, share: float) -> str:
    """Outline of a cell, or of the part of it that was held."""
    inset = 1.0 if kind == "held" else 0.3 * frame.column
    width = frame.column - 2 * inset
    whole = frame.row - 2.0
    filled = round(whole * share, 2)
    left = frame.left_of(cell.column) + inset
    top = frame.top_of(cell.tempo_bpm) + 1.0 + whole - filled
    return f"M{left:.4g} {top:.5g}h{width:.4g}v{filled:.4g}h{-width:.4g}z"


def _edge_line(edges_bpm: Sequence[float | None], frame: _Frame) -> str:
    """Join the highest tempos held: a bar over each, and a thin line from one to the next."""
    spots = [
        (frame.left_of(column), frame.top_of(tempo_bpm))
        for column, tempo_bpm in enumerate(edges_bpm)
        if tempo_bpm is not None
    ]
    if not spots:
        return ""
    bars = "".join(f"M{left:.5g} {top:.5g}h{frame.column:.4g}" for left, top in spots)
    joins = "".join(
        f"M{left + frame.column:.5g} {top:.5g}L{next_left:.5g} {next_top:.5g}"
        for (left, top), (next_left, next_top) in pairwise(spots)
    )
    return f'<path class="edge-join" d="{joins}"/><path class="edge" d="{bars}"/>'


def _strip(columns: Sequence[PlotColumn], frame: _Frame, *, top: float) -> list[str]:
    """Draw the work done, the rest and the dates."""
    parts = [f'<g transform="translate(0 {top:g})">']
    for index, column in enumerate(columns):
        left = frame.left_of(index)
        middle = left + frame.column / 2
        if column.label:
            parts.append(
                f'<path class="axis" d="M{left:.5g} {_STRIP:g}v5"/>'
                f'<text class="date" x="{left + 2:.5g}" y="{_STRIP + 12:g}">'
                f"{escape(column.label)}</text>"
            )
        if column.done:
            parts.append(_work(column, frame, middle=middle))
        elif not column.before:
            ring = min(3.0, 0.3 * frame.column)
            parts.append(f'<circle class="rest" cx="{middle:.5g}" cy="12" r="{ring:.3g}"/>')
    return [*parts, "</g>"]


def _work(column: PlotColumn, frame: _Frame, *, middle: float) -> str:
    """Write how many, or draw it where there is no room for digits."""
    if frame.column >= _DIGITS_FIT:
        return (
            f'<text class="done" x="{middle:.5g}" y="15.5" text-anchor="middle">'
            f"{column.done}</text>"
        )
    high = max(1.5, 14.0 * column.done / max(1, column.most))
    wide = 0.5 * frame.column
    return (
        f'<path class="work" d="M{middle - wide / 2:.5g} 18h{wide:.3g}v{-high:.3g}h{-wide:.3g}z"/>'
    )
