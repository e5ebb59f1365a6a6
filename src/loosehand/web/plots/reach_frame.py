"""Pieces that the plots of the reach are made of: the picture, the frame, lines and bands.

Colours come from the style sheet by class. What lies in the frame is drawn in a picture of its
own inside, which cuts off what would stand out of it.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from loosehand.web.plots import take_svg
from loosehand.web.plots.take_svg import pixel

__all__ = ["Frame", "Place", "band", "dots", "even_ticks", "line", "picture", "rings", "triangles"]

Place = tuple[float, float]
_TRIANGLE = 5.0


@dataclass(frozen=True)
class Frame:
    """A frame and what its sides stand for.

    Attributes
    ----------
    left, top, right, bottom : pixels of its sides
    x_from, x_to : what stands at the left and at the right
    y_from, y_to : what stands at the bottom and at the top
    """

    left: float
    top: float
    right: float
    bottom: float
    x_from: float
    x_to: float
    y_from: float
    y_to: float

    def x_of(self, value: float) -> float:
        """Pixel of a value across."""
        share = (value - self.x_from) / (self.x_to - self.x_from)
        return self.left + share * (self.right - self.left)

    def y_of(self, value: float) -> float:
        """Pixel of a value up."""
        share = (value - self.y_from) / (self.y_to - self.y_from)
        return self.bottom - share * (self.bottom - self.top)

    def place(self, x: float, y: float) -> Place:
        """Pixels of a pair of values."""
        return self.x_of(x), self.y_of(y)

    def level(self, style: str, y: float) -> str:
        """A line across at a value."""
        return (
            f'<path class="{style}" d="M{pixel(self.left)} {pixel(self.y_of(y))}'
            f'H{pixel(self.right)}"/>'
        )

    def inside(self, parts: Iterable[str]) -> str:
        """What lies in the frame, cut off at its sides; in the pixels of the whole picture."""
        box = (self.left, self.top, self.right - self.left, self.bottom - self.top)
        x, y, width, height = (pixel(side) for side in box)
        return (
            f'<svg x="{x}" y="{y}" width="{width}" height="{height}" '
            f'viewBox="{x} {y} {width} {height}">{"".join(parts)}</svg>'
        )


def picture(
    name: str, size: tuple[float, float], title: str, words: str, parts: Iterable[str]
) -> Markup:
    """A picture with its title and what it says.

    Parameters
    ----------
    name : of the plot, unlike that of any other on the page
    size : width and height in pixels
    title, words : what it is and what it shows
    parts : markup; its texts are escaped already
    """
    return take_svg.picture(name, size, title, words, parts, look="reach-plot", is_sized=False)


def line(style: str, places: Sequence[Place]) -> str:
    """A line through places; nothing for fewer than two."""
    return f'<path class="{style}" d="{_through(places)}"/>' if len(places) > 1 else ""


def band(style: str, one: Sequence[Place], other: Sequence[Place]) -> str:
    """What lies between two lines; nothing where they are no lines."""
    if len(one) < 2:
        return ""
    return f'<path class="{style}" d="{_through([*one, *reversed(other)])}Z"/>'


def dots(style: str, places: Iterable[Place]) -> str:
    """Dots, as wide as the line of their style is."""
    path = "".join(f"M{pixel(x)} {pixel(y)}h0" for x, y in places)
    return f'<path class="{style}" d="{path}"/>' if path else ""


def rings(style: str, places: Iterable[Place], *, radius: float) -> str:
    """Rings."""
    wide, r = pixel(2 * radius), pixel(radius)
    path = "".join(
        f"M{pixel(x - radius)} {pixel(y)}a{r} {r} 0 1 0 {wide} 0a{r} {r} 0 1 0 -{wide} 0"
        for x, y in places
    )
    return f'<path class="{style}" d="{path}"/>' if path else ""


def triangles(style: str, places: Iterable[Place], *, up: bool) -> str:
    """Triangles that point up or down."""
    tall = pixel(-1.6 * _TRIANGLE if up else 1.6 * _TRIANGLE)
    back = pixel(1.6 * _TRIANGLE if up else -1.6 * _TRIANGLE)
    half = pixel(_TRIANGLE)
    path = "".join(
        f"M{pixel(x - _TRIANGLE)} {pixel(y + (0.8 if up else -0.8) * _TRIANGLE)}"
        f"l{half} {tall}l{half} {back}z"
        for x, y in places
    )
    return f'<path class="{style}" d="{path}"/>' if path else ""


def even_ticks(low: float, high: float, *, most: int) -> list[float]:
    """Round values from low to high, by 1, 2, 5, 10 and so on, at most so many.

    Examples
    --------
    >>> even_ticks(81.0, 118.0, most=5)
    [90.0, 100.0, 110.0]
    """
    if not high > low:
        return [low]
    decade = 10.0 ** math.floor(math.log10((high - low) / most))
    for step in (decade, 2 * decade, 5 * decade, 10 * decade, 20 * decade):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            return [number * step for number in range(first, last + 1)]
    raise AssertionError("twenty decades are wider than the range")


def _through(places: Sequence[Place]) -> str:
    return "M" + "L".join(f"{pixel(x)} {pixel(y)}" for x, y in places)
