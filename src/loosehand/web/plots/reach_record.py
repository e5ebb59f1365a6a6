"""The record of past forecasts as a picture: chance foretold across, share that held up."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from loosehand.web.plots.reach_frame import Frame, dots, line, picture
from loosehand.web.plots.take_svg import label, upright

__all__ = ["RecordBin", "draw_record"]

_WIDTH, _HEIGHT = 420.0, 400.0
_FRAME = Frame(56.0, 34.0, 400.0, 346.0, 0.0, 1.0, 0.0, 1.0)
_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class RecordBin:
    """Rounds of like chance: how it was foretold, and what became of them.

    Attributes
    ----------
    chance : foretold, on average
    share : of the rounds that were held to their end
    low, high : bounds of that share, as far as so few rounds can tell
    rounds : how many
    """

    chance: float
    share: float
    low: float
    high: float
    rounds: int


def draw_record(bins: Sequence[RecordBin], *, title: str, words: str) -> Markup:
    """Draw foretold chances against shares that held; on the line, both are the same.

    Parameters
    ----------
    bins : rounds of like chance
    title, words : the picture in words
    """
    spots = [_FRAME.place(each.chance, each.share) for each in bins]
    parts = [*_scales(), line("even", [_FRAME.place(0, 0), _FRAME.place(1, 1)])]
    parts += [
        upright("whisker", x, _FRAME.y_of(each.high), _FRAME.y_of(each.low))
        for each, (x, _) in zip(bins, spots, strict=True)
    ]
    parts.append(dots("lost", spots))
    parts += [
        label(
            x + (9.0 if each.chance < 0.85 else -9.0),
            y + 4.0,
            str(each.rounds),
            f"figure-word halo {'start' if each.chance < 0.85 else 'end'}",
        )
        for each, (x, y) in zip(bins, spots, strict=True)
    ]
    return picture("record", (_WIDTH, _HEIGHT), title, words, parts)


def _scales() -> list[str]:
    """Shares at the side, chances below."""
    parts = [label(6.0, 18.0, "held, %", "axis-word")]
    for share in _SHARES:
        parts.append(_FRAME.level("axis" if share == 0.0 else "rule", share))
        word = f"{100.0 * share:g}"
        parts.append(label(_FRAME.left - 8, _FRAME.y_of(share) + 4, word, "figure-word end"))
        parts.append(label(_FRAME.x_of(share), _FRAME.bottom + 22, word, "figure-word middle"))
    parts.append(label(_FRAME.right, _HEIGHT - 8, "chance foretold, %", "axis-word end"))
    return parts
