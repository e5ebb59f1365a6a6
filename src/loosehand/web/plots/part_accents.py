"""Accents of a take against its part, drawn as SVG: a row a bar, a column a place."""

from collections.abc import Sequence

from markupsafe import Markup

from loosehand.studio.part_take_words import BarHeard, PlaceMark
from loosehand.web.plots.take_svg import label, picture, pixel, upright

__all__ = ["BARS_A_PICTURE", "draw_accents", "draw_mark"]

BARS_A_PICTURE = 16
"""Bars in one picture, so that several stand side by side where there is room."""

_LEFT, _TOP, _BOTTOM = 34.0, 22.0, 8.0
_PLACE, _ROW = 17.0, 23.0
_RING, _DOT, _ARM, _HALF_SIDE = 5.0, 5.2, 4.6, 4.2


def draw_accents(bars: Sequence[BarHeard]) -> list[Markup]:
    """Draw what became of each place, sixteen bars a picture.

    Parameters
    ----------
    bars : as heard, in order
    """
    firsts = range(0, len(bars), BARS_A_PICTURE)
    return [_picture(bars[first : first + BARS_A_PICTURE], first) for first in firsts]


def draw_mark(mark: PlaceMark) -> Markup:
    """One sign by itself, for the key of the picture; what it means stands beside it."""
    return Markup(
        '<svg class="part-accents key" viewBox="0 0 18 18" width="18" height="18" '
        f'aria-hidden="true">{_sign(mark, 9.0, 9.0)}</svg>'
    )


def _picture(bars: Sequence[BarHeard], first: int) -> Markup:
    """Some bars."""
    places = max(len(bar.marks) for bar in bars)
    width, height = _LEFT + places * _PLACE + 4.0, _TOP + _BOTTOM + len(bars) * _ROW
    parts = _counts(max(bars, key=lambda bar: len(bar.marks)))
    for row, bar in enumerate(bars):
        parts += _row(bar, _TOP + (row + 0.5) * _ROW)
    title = f"Accents, bar {bars[0].bar}"
    title += f" to {bars[-1].bar}" if len(bars) > 1 else ""
    words = " ".join(_bar_words(bar) for bar in bars)
    name = f"accents-{first // BARS_A_PICTURE}"
    return picture(name, (width, height), title, words, parts, look="part-accents")


def _counts(bar: BarHeard) -> list[str]:
    """Number the counts above the bars; none where a bar has no whole ones."""
    if len(bar.marks) % bar.places_per_count:
        return []
    firsts = range(0, len(bar.marks), bar.places_per_count)
    return [
        label(_LEFT + (place + 0.5) * _PLACE, _TOP - 8, str(number), "count-word middle")
        for number, place in enumerate(firsts, start=1)
    ]


def _row(bar: BarHeard, y: float) -> list[str]:
    """A bar: its number, its counts, its places."""
    end = _LEFT + len(bar.marks) * _PLACE
    parts = [
        label(_LEFT - 8, y + 4.5, str(bar.bar), "bar-word end"),
        f'<path class="bar-line" d="M{pixel(_LEFT)} {pixel(y)}H{pixel(end)}"/>',
    ]
    if len(bar.marks) % bar.places_per_count == 0:
        for place in range(0, len(bar.marks) + 1, bar.places_per_count):
            parts.append(upright("count-line", _LEFT + place * _PLACE, y - 6, y + 6))
    if bar.break_at is not None:
        x = _LEFT + bar.break_at * _PLACE
        parts.append(upright("break-line" if bar.broke else "end-line", x, y - 10, y + 10))
    parts += [
        _sign(mark, _LEFT + (place + 0.5) * _PLACE, y) for place, mark in enumerate(bar.marks)
    ]
    return parts


def _sign(mark: PlaceMark, x: float, y: float) -> str:
    """The sign of a place: each has its shape."""
    if mark == "came":
        return f'<circle class="came" cx="{pixel(x)}" cy="{pixel(y)}" r="{_DOT}"/>'
    if mark == "missed":
        return f'<circle class="missed" cx="{pixel(x)}" cy="{pixel(y)}" r="{_RING}"/>'
    if mark == "unasked":
        low, high = pixel(y - _ARM), pixel(y + _ARM)
        left, right = pixel(x - _ARM), pixel(x + _ARM)
        return (
            f'<path class="unasked" d="M{left} {low}L{right} {high}M{left} {high}L{right} {low}"/>'
        )
    if mark == "untold":
        side = pixel(2 * _HALF_SIDE)
        corner = f'x="{pixel(x - _HALF_SIDE)}" y="{pixel(y - _HALF_SIDE)}"'
        return f'<rect class="untold" {corner} width="{side}" height="{side}"/>'
    if mark == "stroke":
        return f'<circle class="plain" cx="{pixel(x)}" cy="{pixel(y)}" r="1.9"/>'
    return ""


def _bar_words(bar: BarHeard) -> str:
    """Say what became of a bar."""
    if not bar.is_judged:
        return f"Bar {bar.bar}: after {bar.end_in_words}."
    said = f"Bar {bar.bar}: {bar.came} of {bar.due} came"
    said += f", missed at {bar.missed_at}" if bar.missed_at else ""
    said += f", unasked at {bar.unasked_at}" if bar.unasked_at else ""
    said += f", cannot be told at {bar.untold_at}" if bar.untold_at else ""
    said += f", then {bar.end_in_words}" if bar.break_at is not None else ""
    return f"{said}."
