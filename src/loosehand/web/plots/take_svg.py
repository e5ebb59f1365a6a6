"""Pieces of SVG that the plots of a take are made of."""

from collections.abc import Iterable
from html import escape

from markupsafe import Markup

__all__ = ["label", "picture", "pixel", "signed_whole", "upright"]


def picture(
    name: str,
    size: tuple[float, float],
    title: str,
    words: str,
    parts: Iterable[str],
    *,
    look: str = "take-plot",
    is_sized: bool = True,
) -> Markup:
    """A picture with its title and what it says.

    Parameters
    ----------
    name : of the plot, unlike that of any other on the page
    size : width and height in pixels
    title, words : what it is and what it shows
    parts : markup; its texts are escaped already
    look : class of the style sheet
    is_sized : whether it keeps its size, or is as wide as its place allows
    """
    width, height = (pixel(side) for side in size)
    sides = f'width="{width}" height="{height}" ' if is_sized else ""
    return Markup(
        f'<svg class="{look}" id="plot-{name}" role="img" {sides}'
        f'viewBox="0 0 {width} {height}" aria-labelledby="title-{name} words-{name}">'
        f'<title id="title-{name}">{escape(title)}</title>'
        f'<desc id="words-{name}">{escape(words)}</desc>{"".join(parts)}</svg>'
    )


def upright(style: str, x: float, top: float, bottom: float) -> str:
    """An upright line."""
    return f'<path class="{style}" d="M{pixel(x)} {pixel(top)}V{pixel(bottom)}"/>'


def label(x: float, y: float, word: str, style: str) -> str:
    """A word."""
    return f'<text x="{pixel(x)}" y="{pixel(y)}" class="{style}">{escape(word)}</text>'


def pixel(value: float) -> str:
    """A pixel as short as it can be written, to a tenth of a pixel."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def signed_whole(value: float) -> str:
    """A whole number with its sign; none for nought."""
    return f"{round(value):+d}".replace("-", "\N{MINUS SIGN}") if round(value) else "0"
