"""Two takes side by side, drawn as SVG on one scale: by place, and figure by figure.

The first take is a filled dot, the second a hollow one; upright lines are standard errors, lying
ones hold 80 chances in 100.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from loosehand.web.plots.take_svg import label, picture, pixel, signed_whole

__all__ = ["RangedFigure", "draw_figures", "draw_holds", "draw_pair"]

Json = Mapping[str, Any]

_WIDTH, _HEIGHT = 420.0, 236.0
_LEFT, _MIDDLE, _HALF = 70.0, 106.0, 76.0
_APART = 11.0
_BAR_LEFT, _BAR_WIDTH = 70.0, 280.0
_ROW = 76.0
_LEAST_EDGE = 2.0


@dataclass(frozen=True)
class RangedFigure:
    """A figure of one take with its range.

    Attributes
    ----------
    told : None where it is not known
    low80, high80 : its range, None where it has none
    """

    told: float | None
    low80: float | None
    high80: float | None


def draw_pair(
    one: Sequence[Json], other: Sequence[Json], names: Sequence[str], *, kind: str
) -> Markup:
    """Draw timing or level by place of the count, of two takes on one scale.

    Parameters
    ----------
    one, other : places as in the evenness of a reading
    names : of the places, as players say them
    kind : "timing" (early above) or "level" (louder above)
    """
    unit = {"timing": "ms", "level": "dB"}[kind]
    field, error = f"{kind}_{unit.lower()}", f"{kind}_error_{unit.lower()}"
    upward = 1.0 if kind == "level" else -1.0
    takes = [[place for place in places if place[field] is not None] for places in (one, other)]
    reach = [abs(p[field]) + (p[error] or 0.0) for places in takes for p in places]
    edge = max(math.ceil(max(reach, default=0.0)), _LEAST_EDGE)
    step = (_WIDTH - _LEFT - 10) / len(names)

    def y_of(value: float) -> float:
        return _MIDDLE - upward * value / edge * _HALF

    parts = list(_scale(kind, unit, edge, y_of(edge), y_of(-edge)))
    for index, name in enumerate(names):
        parts.append(label(_LEFT + (index + 0.5) * step, _HEIGHT - 14, name, "way-word middle"))
    for number, places in enumerate(takes):
        for place in places:
            x = _LEFT + (place["place"] + 0.5) * step + (2 * number - 1) * _APART
            parts += _dot(number, x, y_of(place[field]))
            if place[error]:
                low, high = y_of(place[field] - place[error]), y_of(place[field] + place[error])
                parts.insert(0, _line("whisker", x, low, x, high))
    words = "; ".join(_place_words(takes, names, field, index, unit) for index in range(len(names)))
    title = f"{kind.capitalize()} by place, two takes"
    return _picture(f"pair-{kind}", (_WIDTH, _HEIGHT), title, f"{words}.", parts)


def draw_holds(holds: Sequence[tuple[int | None, int]]) -> Markup:
    """Draw the counts held of two takes, each within the counts it was offered.

    Parameters
    ----------
    holds : count held, None where it was not judged, and counts offered, of each take
    """
    most = max((offered for _, offered in holds), default=1) or 1
    parts: list[str] = []
    for number, (held, offered) in enumerate(holds):
        top = 10.0 + 44.0 * number
        parts.append(label(_BAR_LEFT - 10, top + 18, _TAKE[number], "axis-word end"))
        parts.append(_bar("believed", top, _BAR_WIDTH * offered / most))
        if held:
            parts.append(_bar("known", top, _BAR_WIDTH * held / most))
        figure = "not judged" if held is None else str(held)
        x = _BAR_LEFT + _BAR_WIDTH * offered / most + 8
        parts.append(label(x, top + 19, figure, "figure-word"))
    words = "; ".join(
        f"{_TAKE[number]} take {'not judged' if held is None else held} of {offered}"
        for number, (held, offered) in enumerate(holds)
    )
    return _picture("pair-hold", (_WIDTH + 20, 100.0), "Counts held, two takes", f"{words}.", parts)


def draw_figures(
    rows: Sequence[tuple[str, str, RangedFigure, RangedFigure]], *, name: str, title: str
) -> Markup:
    """Draw figures with their ranges, each row on a scale of its own that holds nought.

    Parameters
    ----------
    rows : name, unit, and the figure of each take
    name : of the picture, unlike that of any other on the page
    title : what the figures are of
    """
    parts: list[str] = []
    for index, (what, unit, *figures) in enumerate(rows):
        parts += _figure_row(index * _ROW, what, unit, figures)
    words = "; ".join(
        f"{what}: {_told(one, unit)} and {_told(other, unit)}" for what, unit, one, other in rows
    )
    size = (_WIDTH + 20, _ROW * len(rows) + 6)
    return _picture(f"pair-{name}", size, f"{title}, two takes", f"{words}.", parts)


_TAKE = ("first", "second")


def _figure_row(top: float, name: str, unit: str, figures: Sequence[RangedFigure]) -> Iterator[str]:
    bounds = [
        bound
        for each in figures
        for bound in (each.told, each.low80, each.high80)
        if bound is not None
    ]
    low, high = min([0.0, *bounds]), max([0.0, *bounds])
    span = (high - low) or 1.0
    left, width = 20.0, _WIDTH - 20.0

    def x_of(value: float) -> float:
        return left + width * (value - low) / span

    yield label(left, top + 14, f"{name}{', ' + unit if unit else ''}", "axis-word")
    yield _line("rule", x_of(0.0), top + 20, x_of(0.0), top + 52)
    yield label(x_of(0.0), top + 62, "0", "axis-word middle")
    for number, each in enumerate(figures):
        y = top + 28 + 16 * number
        if each.low80 is not None and each.high80 is not None:
            yield _line("whisker", x_of(each.low80), y, x_of(each.high80), y)
        if each.told is not None:
            yield from _dot(number, x_of(each.told), y)


def _told(figure: RangedFigure, unit: str) -> str:
    if figure.told is None:
        return "not known"
    told = f"{figure.told:+.1f} {unit}".strip()
    if figure.low80 is None or figure.high80 is None:
        return told
    return f"{told} ({figure.low80:+.1f} to {figure.high80:+.1f})"


def _place_words(
    takes: Sequence[Sequence[Json]], names: Sequence[str], field: str, index: int, unit: str
) -> str:
    found = [
        next((f"{p[field]:+.1f}" for p in places if p["place"] == index), "none")
        for places in takes
    ]
    return f"{names[index]}: {found[0]} and {found[1]} {unit}"


def _scale(kind: str, unit: str, edge: float, top: float, bottom: float) -> Iterator[str]:
    """The line of nought, and words at the side."""
    ends = ("louder", "softer") if kind == "level" else ("late", "early")
    yield _line("axis", _LEFT - 4, _MIDDLE, _WIDTH - 6, _MIDDLE)
    yield label(_LEFT - 10, _MIDDLE + 4, f"0 {unit}", "axis-word end")
    for word, sign, y in zip(ends, (1, -1), (top, bottom), strict=True):
        inward = 17 if y > _MIDDLE else -17
        yield label(_LEFT - 10, y + 4, f"{signed_whole(sign * edge)} {unit}", "axis-word end")
        yield label(_LEFT - 10, y + 4 + inward, word, "axis-word end")


def _dot(number: int, x: float, y: float) -> Iterator[str]:
    """Mark of the first take or the second: they differ in shape too."""
    if number == 0:
        yield f'<circle class="first-mark" cx="{pixel(x)}" cy="{pixel(y)}" r="5.5"/>'
    else:
        yield (
            f'<rect class="second-mark" x="{pixel(x - 5)}" y="{pixel(y - 5)}" width="10" '
            f'height="10" transform="rotate(45 {pixel(x)} {pixel(y)})"/>'
        )


def _bar(style: str, top: float, width: float) -> str:
    return (
        f'<rect class="{style}" x="{pixel(_BAR_LEFT)}" y="{pixel(top)}" '
        f'width="{pixel(width)}" height="26"/>'
    )


def _line(style: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<path class="{style}" d="M{pixel(x1)} {pixel(y1)}L{pixel(x2)} {pixel(y2)}"/>'


def _picture(
    name: str, size: tuple[float, float], title: str, words: str, parts: Sequence[str]
) -> Markup:
    return picture(name, size, title, words, parts, look="part-plot", is_sized=False)
