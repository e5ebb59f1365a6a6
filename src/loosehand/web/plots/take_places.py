"""How the places of the count differ, drawn as SVG: in timing and in level."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from markupsafe import Markup

from loosehand.web.plots.take_svg import label, picture, pixel, signed_whole, upright

__all__ = ["draw_places"]

Json = dict[str, Any]
PixelOf = Callable[[float], float]

_PROFILE_WIDTH, _PROFILE_HEIGHT = 340.0, 190.0


def draw_places(
    places: Sequence[Json], names: Sequence[str], *, kind: str, name: str, title: str
) -> Markup:
    """Draw timing or level by place of the count.

    Parameters
    ----------
    places : as in the reading's evenness
    names : of the places, as players say them, one for each place of a count
    kind : "timing" (early above, late below) or "level" (louder above)
    name : of the plot, unlike that of any other on the page
    title : of the plot
    """
    unit = {"timing": "ms", "level": "dB"}[kind]
    field = f"{kind}_{unit.lower()}"
    error = f"{kind}_error_{unit.lower()}"
    known = [place for place in places if place[field] is not None]
    upward = 1.0 if kind == "level" else -1.0
    reach = [abs(place[field]) + (place[error] or 0.0) for place in known]
    edge = max(float(np.ceil(max(reach, default=0.0))), 2.0)
    middle, half = 88.0, 62.0
    step = (_PROFILE_WIDTH - 76) / len(names)

    def y_of(value: float) -> float:
        return middle - upward * min(max(value / edge, -1.0), 1.0) * half

    parts = [
        f'<path class="click-line" d="M64 {pixel(middle)}H{pixel(_PROFILE_WIDTH - 10)}"/>',
        *_profile_scale(kind, unit, edge, y_of),
    ]
    for place in known:
        x = 66 + (place["place"] + 0.5) * step
        y = y_of(place[field])
        parts.append(_profile_mark(kind, x, y, middle))
        if place[error] is not None:
            low, high = y_of(place[field] - place[error]), y_of(place[field] + place[error])
            parts.append(upright("whiskers", x, min(low, high), max(low, high)))
        said = names[place["place"]]
        parts.append(label(x, _PROFILE_HEIGHT - 24, said, "place-word middle"))
        figure = f"{place[field]:+.1f}".replace("-", "\N{MINUS SIGN}")
        parts.append(label(x, _PROFILE_HEIGHT - 6, figure, "axis-word middle"))
    words = "; ".join(f"{names[p['place']]}: {p[field]:+.1f} {unit}" for p in known)
    return picture(name, (_PROFILE_WIDTH, _PROFILE_HEIGHT), title, f"{words}.", parts)


def _profile_scale(kind: str, unit: str, edge: float, y_of: PixelOf) -> list[str]:
    """Words at the side of a profile."""
    ends = ("louder", "softer") if kind == "level" else ("early", "late")
    signs = (1, -1) if kind == "level" else (-1, 1)
    parts = [label(58, y_of(0) + 4, f"0 {unit}", "axis-word end")]
    for word, sign in zip(ends, signs, strict=True):
        y = y_of(sign * edge)
        parts.append(label(58, y + 4, f"{signed_whole(sign * edge)} {unit}", "axis-word end"))
        parts.append(label(58, y + (-12 if y < 80 else 20), word, "side-word end"))
    return parts


def _profile_mark(kind: str, x: float, y: float, middle: float) -> str:
    """A bar from the middle for level, a dot for timing."""
    if kind == "timing":
        return f'<path class="count-dots" d="M{pixel(x)} {pixel(y)}h0"/>'
    top, height = min(y, middle), abs(y - middle)
    return (
        f'<rect class="level-bar" x="{pixel(x - 11)}" y="{pixel(top)}" width="22" '
        f'height="{pixel(max(height, 1.0))}"/>'
    )
