"""What a part asks, drawn as SVG: each hand over the tune, and the strokes of a drive."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from loosehand.parts.demand_strip import HandStrip
from loosehand.parts.unroll import PlayedSection
from loosehand.web.plots.take_svg import label, picture, pixel

__all__ = ["PhaseBar", "draw_phases", "draw_strips"]

_WIDTH = 620.0
_LEFT, _RIGHT = 92.0, 612.0
_BIN_PX = 0.5
_ROW, _TOP = 40.0, 10.0
_RUN_HIGH, _FILL_HIGH = 12.0, 26.0
_LEAST_NAMED_PX = 46.0
_LETTER_PX = 8.0
_RUN, _FILL = 1, 2

_PHASE_WIDTH = 92.0
_PHASE_LEFT = 10.0
_PHASE_HIGH, _PHASE_TOP = 56.0, 26.0


def draw_strips(strips: Sequence[HandStrip], sections: Sequence[PlayedSection]) -> Markup:
    """Draw what each hand does through the tune: runs, fills, rests.

    Parameters
    ----------
    strips : of the hands that play, one or more
    sections : of the tune, in order
    """
    total_s = strips[0].duration_s
    scale = (_RIGHT - _LEFT) / total_s
    bottom = _TOP + _ROW * len(strips)
    parts = list(_sections(sections, scale, bottom))
    for number, strip in enumerate(strips):
        parts += _strip(strip, scale, _TOP + _ROW * number)
    words = "; ".join(_strip_words(strip) for strip in strips)
    return picture(
        "hands",
        (_WIDTH, bottom + 26.0),
        "Each hand through the tune: runs, fills and rests",
        f"{words}.",
        parts,
        look="part-plot strips",
        is_sized=False,
    )


def _strip_words(strip: HandStrip) -> str:
    fills = int(np.count_nonzero(strip.is_fill))
    return (
        f"{strip.limb}: {strip.run_s:.0f} s on its surface, {strip.fill_s:.0f} s on another one in "
        f"{fills} {'stretch' if fills == 1 else 'stretches'}, {strip.rest_s:.0f} s of rest"
    )


def _sections(sections: Sequence[PlayedSection], scale: float, bottom: float) -> Iterator[str]:
    """Where sections begin, and the names of those that are wide enough."""
    for section in sections:
        left = _LEFT + scale * float(section.start_s)
        right = _LEFT + scale * float(section.end_s)
        yield f'<path class="rule" d="M{pixel(left)} {pixel(_TOP - 6)}V{pixel(bottom + 2)}"/>'
        if right - left >= max(_LEAST_NAMED_PX, _LETTER_PX * len(section.name)):
            yield label(left + 4, bottom + 18, section.name, "axis-word")


def _strip(strip: HandStrip, scale: float, top: float) -> Iterator[str]:
    middle = top + _ROW / 2
    yield label(_LEFT - 10, middle + 5, strip.limb, "way-word end")
    yield f'<path class="rest-line" d="M{pixel(_LEFT)} {pixel(middle)}H{pixel(_RIGHT)}"/>'
    drawn = _columns(strip, scale)
    for kind, style, high in ((_RUN, "run", _RUN_HIGH), (_FILL, "fill", _FILL_HIGH)):
        boxes = "".join(
            f"M{pixel(left)} {pixel(middle - high / 2)}H{pixel(right)}V{pixel(middle + high / 2)}"
            f"H{pixel(left)}Z"
            for left, right in _rows_of(drawn == kind)
        )
        if boxes:
            yield f'<path class="{style}" d="{boxes}"/>'


def _columns(strip: HandStrip, scale: float) -> NDArray[np.int8]:
    """What stands in each column of the picture: a fill before a run, a run before a rest."""
    columns = np.zeros(round((_RIGHT - _LEFT) / _BIN_PX), np.int8)
    first = np.floor(strip.start_s * scale / _BIN_PX).astype(np.int64)
    last = np.maximum(np.floor(strip.end_s * scale / _BIN_PX).astype(np.int64), first + 1)
    for kind, chosen in ((_RUN, ~strip.is_fill), (_FILL, strip.is_fill)):
        edges = np.zeros(columns.size + 1, np.int64)
        np.add.at(edges, np.minimum(first[chosen], columns.size - 1), 1)
        np.add.at(edges, np.minimum(last[chosen], columns.size), -1)
        columns[np.cumsum(edges)[:-1] > 0] = kind
    return columns


def _rows_of(chosen: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Left and right edges of neighbouring columns that were chosen."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(np.int8)))
    at = (_LEFT + _BIN_PX * edges).tolist()
    return list(zip(at[::2], at[1::2], strict=True))


@dataclass(frozen=True)
class PhaseBar:
    """One stroke of a drive in the picture.

    Attributes
    ----------
    name : of the stroke
    accents : that fall on it
    is_free : whether they come for nothing
    """

    name: str
    accents: int
    is_free: bool


def draw_phases(bars: Sequence[PhaseBar], *, name: str, way: str) -> Markup:
    """Draw how many accents fall on each stroke of a drive: for nothing, or to be fought for.

    Parameters
    ----------
    bars : of the strokes of one drive, in order
    name : of the picture, unlike that of any other on the page
    way : of playing
    """
    most = max((bar.accents for bar in bars), default=0) or 1
    floor = _PHASE_TOP + _PHASE_HIGH
    width = _PHASE_LEFT * 2 + _PHASE_WIDTH * len(bars)
    parts = [f'<path class="axis" d="M{pixel(_PHASE_LEFT)} {pixel(floor)}H{pixel(width - 10)}"/>']
    for number, bar in enumerate(bars):
        middle = _PHASE_LEFT + _PHASE_WIDTH * (number + 0.5)
        parts += _phase_bar(bar, middle, floor, _PHASE_HIGH * bar.accents / most)
    words = "; ".join(_phase_words(bar) for bar in bars)
    return picture(
        name,
        (width, floor + 26.0),
        f"Accents by the stroke of the drive they fall on: {way}",
        f"{words}.",
        parts,
        look="part-plot phases",
    )


def _phase_words(bar: PhaseBar) -> str:
    if not bar.accents:
        return f"{bar.name} none"
    return f"{bar.name} {bar.accents} {'for nothing' if bar.is_free else 'fought'}"


def _phase_bar(bar: PhaseBar, middle: float, floor: float, high: float) -> Iterator[str]:
    yield label(middle, floor + 18, bar.name, "axis-word middle")
    if not bar.accents:
        return
    style = "given" if bar.is_free else "fought"
    yield (
        f'<rect class="{style}" x="{pixel(middle - 16)}" y="{pixel(floor - high)}" width="32" '
        f'height="{pixel(high)}"/>'
    )
    yield label(middle, floor - high - 6, str(bar.accents), "figure-word middle")
