"""Ways of playing a part, drawn as SVG: the chance of lasting, and the reserve through the tune."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from loosehand.rounds.way_lasting import SectionReserve
from loosehand.web.plots.take_svg import label, picture, pixel

__all__ = ["ChanceRow", "draw_chances", "draw_reserve", "percent_of"]

_ROW_HEIGHT = 34.0
_NAME_WIDTH = 172.0
_BAR_WIDTH = 380.0
_CHANCES_WIDTH = _NAME_WIDTH + _BAR_WIDTH + 70.0
_RESERVE_WIDTH, _RESERVE_HEIGHT = 620.0, 150.0
_LEFT, _TOP, _BOTTOM = 44.0, 12.0, 112.0
_LEAST_NAMED_PX = 46.0
_LETTER_PX = 7.0


@dataclass(frozen=True)
class ChanceRow:
    """One way in the picture.

    Attributes
    ----------
    name : of the way
    chance : of lasting
    is_known : whether it rests on rounds that were heard
    is_beyond : whether it is longer or faster than what was heard
    """

    name: str
    chance: float
    is_known: bool
    is_beyond: bool


def percent_of(chance: float) -> int:
    """Whole chances in a hundred; never none, never all.

    Examples
    --------
    >>> percent_of(0.217), percent_of(1.0), percent_of(0.0)
    (22, 99, 1)
    """
    return min(max(round(100.0 * chance), 1), 99)


def draw_chances(rows: Sequence[ChanceRow]) -> Markup:
    """Draw the chance of lasting of each way as a bar: filled where it was heard, else outlined."""
    height = _ROW_HEIGHT * len(rows) + 34.0
    parts = [*_chance_scale(height)]
    for index, row in enumerate(rows):
        parts += _chance_bar(row, _ROW_HEIGHT * index)
    words = "; ".join(_chance_words(row) for row in rows)
    title = "Chance that the hand lasts to the end, by way of playing"
    return _picture("part-chances", (_CHANCES_WIDTH, height), title, f"{words}.", parts)


def _chance_words(row: ChanceRow) -> str:
    kind = "heard" if row.is_known else "believed, not heard"
    beyond = ", beyond what was seen" if row.is_beyond else ""
    return f"{row.name} {percent_of(row.chance)} in 100, {kind}{beyond}"


def _chance_scale(height: float) -> Iterator[str]:
    for tenth in (0, 25, 50, 75, 100):
        x = _NAME_WIDTH + _BAR_WIDTH * tenth / 100.0
        yield f'<path class="rule" d="M{pixel(x)} 2V{pixel(height - 30)}"/>'
        yield label(x, height - 12, str(tenth), "axis-word middle")


def _chance_bar(row: ChanceRow, top: float) -> Iterator[str]:
    percent = percent_of(row.chance)
    width = _BAR_WIDTH * percent / 100.0
    style = "known" if row.is_known else "believed"
    yield label(_NAME_WIDTH - 10, top + 22, row.name, "way-word end")
    yield (
        f'<rect class="{style}" x="{pixel(_NAME_WIDTH)}" y="{pixel(top + 7)}" '
        f'width="{pixel(width)}" height="20"/>'
    )
    mark = " \N{DAGGER}" if row.is_beyond else ""
    yield label(_NAME_WIDTH + width + 8, top + 23, f"{percent}{mark}", "figure-word")


def draw_reserve(sections: Sequence[SectionReserve], *, name: str, way: str) -> Markup:
    """Draw what is left of the reserve through the tune: the middle, and the bounds of 80 in 100.

    Parameters
    ----------
    sections : of the tune, in order
    name : of the picture, unlike that of any other on the page
    way : of playing
    """
    total_s = sum(section.length_s for section in sections) or 1.0
    right = _RESERVE_WIDTH - 8.0

    def x_of(time_s: float) -> float:
        return _LEFT + (right - _LEFT) * time_s / total_s

    def y_of(left: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * left

    ends = [0.0]
    for section in sections:
        ends.append(ends[-1] + section.length_s)
    middle, low, high = (
        [1.0, *(getattr(section.left, bound) for section in sections)]
        for bound in ("median", "low80", "high80")
    )
    upper = [f"{pixel(x_of(at))} {pixel(y_of(left))}" for at, left in zip(ends, high, strict=True)]
    lower = [f"{pixel(x_of(at))} {pixel(y_of(left))}" for at, left in zip(ends, low, strict=True)]
    line = [f"{pixel(x_of(at))} {pixel(y_of(left))}" for at, left in zip(ends, middle, strict=True)]
    parts = [
        *(label(_LEFT - 6, y_of(left) + 4, f"{left:.0%}", "axis-word end") for left in (0, 0.5, 1)),
        f'<path class="rule" d="M{pixel(_LEFT)} {pixel(y_of(0.5))}H{pixel(right)}"/>',
        f'<path class="band" d="M{"L".join([*upper, *reversed(lower)])}Z"/>',
        f'<path class="axis" d="M{pixel(_LEFT)} {pixel(_BOTTOM)}H{pixel(right)}"/>',
        *_section_marks(sections, [x_of(at) for at in ends]),
        f'<path class="middle-line" d="M{"L".join(line)}"/>',
    ]
    words = "; ".join(
        f"after {section.name} {section.left.median:.0%}, from {section.left.low80:.0%} to "
        f"{section.left.high80:.0%}"
        for section in sections
    )
    size = (_RESERVE_WIDTH, _RESERVE_HEIGHT)
    return _picture(name, size, f"Reserve left through the tune: {way}", f"{words}.", parts)


def _section_marks(sections: Sequence[SectionReserve], xs: Sequence[float]) -> Iterator[str]:
    """Where sections end, and the names of those that are wide enough."""
    for section, left, right in zip(sections, xs, xs[1:], strict=False):
        yield f'<path class="rule" d="M{pixel(right)} {pixel(_TOP)}V{pixel(_BOTTOM + 6)}"/>'
        if right - left >= max(_LEAST_NAMED_PX, _LETTER_PX * len(section.name)):
            yield label((left + right) / 2, _BOTTOM + 22, section.name, "axis-word middle")


def _picture(
    name: str, size: tuple[float, float], title: str, words: str, parts: Sequence[str]
) -> Markup:
    return picture(name, size, title, words, parts, look="part-plot", is_sized=False)
