"""How early or late each count of a take lies, drawn as SVG: early above, late below."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from loosehand.web.plots.take_axis import SIDE, HoldShown, TimeAxis, word_beside
from loosehand.web.plots.take_svg import label, picture, pixel, signed_whole, upright

__all__ = ["CountFigures", "count_figures", "draw_asynchrony"]

Json = dict[str, Any]
PixelOf = Callable[[float], float]

_TIMING_TOP, _TIMING_HEIGHT = 24.0, 170.0
_TIMING_FULL = 224.0
_EDGE_ROUND_MS = 10.0


@dataclass(frozen=True)
class CountFigures:
    """The strokes of one count, summed up.

    Attributes
    ----------
    count : from 1
    strokes : how many have a place in it
    median_ms, lowest_ms, highest_ms : of their asynchronies
    level_db : median level
    """

    count: int
    strokes: int
    median_ms: float
    lowest_ms: float
    highest_ms: float
    level_db: float


def count_figures(strokes: Sequence[Json]) -> list[CountFigures]:
    """Sum the strokes of each count up; counts without a stroke are left out."""
    by_count: dict[int, list[Json]] = {}
    for stroke in strokes:
        if stroke["count"] is not None:
            by_count.setdefault(stroke["count"], []).append(stroke)
    return [_figures_of(count, by_count[count]) for count in sorted(by_count)]


def _figures_of(count: int, strokes: Sequence[Json]) -> CountFigures:
    asynchrony_ms = np.array([stroke["asynchrony_ms"] for stroke in strokes])
    return CountFigures(
        count=count,
        strokes=len(strokes),
        median_ms=float(np.median(asynchrony_ms)),
        lowest_ms=float(asynchrony_ms.min()),
        highest_ms=float(asynchrony_ms.max()),
        level_db=float(np.median([stroke["level_db"] for stroke in strokes])),
    )


def draw_asynchrony(
    axis: TimeAxis,
    figures: Sequence[CountFigures],
    *,
    name: str,
    hold: HoldShown,
    lead_ms: float | None,
    leeway_ms: float,
    tiring: Json,
    title: str,
) -> Markup:
    """Draw how early or late each count lies, with its spread; early above, late below.

    Parameters
    ----------
    axis : time across; it has counts
    figures : the counts to draw
    name : of the plot, unlike that of any other on the page
    hold : counts of it are drawn as full dots, later ones as rings
    lead_ms : median asynchrony of the hold, or None
    leeway_ms : how far from its place a stroke may lie
    tiring : as in the reading
    title : of the plot
    """
    edge_ms = _edge_ms(figures, lead_ms=lead_ms, leeway_ms=leeway_ms)

    def y_of(asynchrony_ms: float) -> float:
        share = (min(max(asynchrony_ms, -edge_ms), edge_ms) + edge_ms) / (2 * edge_ms)
        return _TIMING_TOP + share * _TIMING_HEIGHT

    parts = [
        _leeway_band(axis, lead_ms or 0.0, leeway_ms, y_of),
        *_timing_scale(axis, edge_ms, y_of),
        *_count_marks(axis, figures, hold, y_of),
        *_tiring_mark(axis, tiring),
    ]
    if hold.broke and hold.count_held is not None:
        x = axis.x_of_count(hold.count_held + 1)
        parts.append(upright("break-line", x, _TIMING_TOP, _TIMING_TOP + _TIMING_HEIGHT))
    words = _asynchrony_words(figures, hold, lead_ms, tiring)
    return picture(name, (axis.width, _TIMING_FULL), title, words, parts)


def _edge_ms(figures: Sequence[CountFigures], *, lead_ms: float | None, leeway_ms: float) -> float:
    """How many milliseconds the plot reaches to each side: the leeway, and nearly all counts."""
    leeway = abs(lead_ms or 0.0) + leeway_ms
    ends = [max(abs(count.lowest_ms), abs(count.highest_ms)) for count in figures]
    most = float(np.percentile(ends, 98)) if ends else 0.0
    return float(np.ceil(max(1.15 * leeway, most) / _EDGE_ROUND_MS) * _EDGE_ROUND_MS)


def _leeway_band(axis: TimeAxis, lead_ms: float, leeway_ms: float, y_of: PixelOf) -> str:
    """The leeway around the lead, as two dashed lines."""
    low, high = axis.x_of_count(1), axis.x_of_count(axis.counts + 1)
    lines = "".join(
        f"M{pixel(low)} {pixel(y_of(lead_ms + side * leeway_ms))}H{pixel(high)}" for side in (-1, 1)
    )
    leeway = label(low + 4, y_of(lead_ms - leeway_ms) - 4, "leeway", "axis-word halo start")
    return f'<path class="leeway" d="{lines}"/>{leeway}'


def _timing_scale(axis: TimeAxis, edge_ms: float, y_of: PixelOf) -> list[str]:
    """The line of the click, the milliseconds at the side, the counts below."""
    low, high = axis.x_of_count(1), axis.x_of_count(axis.counts + 1)
    half = round(edge_ms / 2)
    parts = [
        f'<path class="click-line" d="M{pixel(low)} {pixel(y_of(0))}H{pixel(high)}"/>',
        label(SIDE, _TIMING_TOP - 8, "early", "side-word end"),
        label(SIDE, _TIMING_TOP + _TIMING_HEIGHT + 18, "late", "side-word end"),
    ]
    parts += [
        label(SIDE, y_of(at_ms) + 4, f"{signed_whole(at_ms)} ms", "axis-word end")
        for at_ms in (-edge_ms, -half, 0, half, edge_ms)
    ]
    parts += [
        label(
            axis.x_of_count(count),
            _TIMING_TOP + _TIMING_HEIGHT + 18,
            str(count),
            "axis-word middle",
        )
        for count in range(1, axis.counts + 1)
        if count == 1 or count % 10 == 0
    ]
    return parts


def _count_marks(
    axis: TimeAxis, figures: Sequence[CountFigures], hold: HoldShown, y_of: PixelOf
) -> list[str]:
    """Whiskers from the earliest to the latest stroke; a dot in the hold, a ring after it."""
    held = hold.count_held or 0
    whiskers: list[str] = []
    dots: list[str] = []
    rings: list[str] = []
    for figure in figures:
        x = pixel(axis.x_of_count(figure.count + 0.5))
        top, bottom = y_of(figure.lowest_ms), y_of(figure.highest_ms)
        whiskers.append(f"M{x} {pixel(top)}V{pixel(bottom)}")
        where = dots if figure.count <= held else rings
        where.append(f"M{x} {pixel(y_of(figure.median_ms))}h0")
    parts = [f'<path class="whiskers" d="{"".join(whiskers)}"/>']
    if dots:
        parts.append(f'<path class="count-dots" d="{"".join(dots)}"/>')
    if rings:
        rings_path = "".join(rings)
        parts.append(f'<path class="count-dots" d="{rings_path}"/>')
        parts.append(f'<path class="count-holes" d="{rings_path}"/>')
    return parts


def _tiring_mark(axis: TimeAxis, tiring: Json) -> list[str]:
    """A dashed line with a word where the hand left its early range."""
    count = tiring.get("onset_count")
    if count is None:
        return []
    x = axis.x_of_count(count)
    top = _TIMING_TOP - 6
    word = f"tiring from count {count}: {_sign_word(tiring)}"
    return [
        upright("tiring-line", x, top, _TIMING_TOP + _TIMING_HEIGHT),
        word_beside(axis, x, word, side="start", style="axis-word"),
    ]


def _sign_word(tiring: Json) -> str:
    """What changed."""
    words = {
        "spread": ("narrower", "wider"),
        "level": ("softer", "louder"),
        "drift": ("earlier", "later"),
    }
    return words[tiring["sign"]][bool(tiring["rising"])]


def _asynchrony_words(
    figures: Sequence[CountFigures], hold: HoldShown, lead_ms: float | None, tiring: Json
) -> str:
    """Say what the asynchrony plot shows."""
    sentence = f"Median asynchrony of {len(figures)} counts, from the earliest to the latest stroke"
    sentence += ", early above and late below."
    if lead_ms is not None:
        way = "early" if lead_ms < 0 else "late"
        sentence += f" In the hold the hand lies {abs(lead_ms):.1f} ms {way}."
    if hold.broke and hold.count_held is not None:
        sentence += f" The click was lost after count {hold.count_held}."
    if tiring.get("onset_count") is not None:
        sentence += f" Tiring shows from count {tiring['onset_count']}: {_sign_word(tiring)}."
    return sentence
