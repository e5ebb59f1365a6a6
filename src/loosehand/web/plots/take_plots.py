"""The take from beginning to end, drawn as SVG: its sound, strokes, counts, and where it broke.

The plots with time across share one ``TimeAxis``, so that they stand above each other as the
lines of a score do. Colours come from the style sheet; what a colour says, a shape or a word
says too. Coordinates are rounded to a tenth of a pixel: a picture of a minute is a few kB.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from loosehand.web.plots.take_axis import HoldShown, TimeAxis, side_word, word_beside
from loosehand.web.plots.take_svg import label, picture, pixel, upright

__all__ = ["draw_waveform"]

FloatArray = NDArray[np.float64]
Json = dict[str, Any]

_WAVE_TOP, _WAVE_HALF = 30.0, 56.0
_WAVE_MIDDLE = _WAVE_TOP + _WAVE_HALF
_FOOT = 212.0
_WAVE_HEIGHT = 222.0
_LEAST_TICK = 5.0
_LEVEL_RANGE_DB = 6.0


@dataclass(frozen=True)
class _Lane:
    """Where the strokes' ticks stand: under the sound, or over all the plot where there is none."""

    top: float
    height: float

    @property
    def foot(self) -> float:
        """Pixel of its lower edge."""
        return self.top + self.height


_UNDER_SOUND, _WHOLE_PLOT = _Lane(152.0, 40.0), _Lane(62.0, 130.0)


def draw_waveform(
    axis: TimeAxis,
    *,
    extent: FloatArray | None,
    strokes: Sequence[Json],
    hold: HoldShown,
    alternating: bool,
) -> Markup:
    """Draw the sound, the strokes under it, the counts behind, the hold and its end.

    Parameters
    ----------
    axis : time across
    extent : float array, shape (columns, 2), lowest and highest sample of equal shares of the
        take, full scale 1; None where there is no sound to draw
    strokes : of the reading
    hold : what is shaded
    alternating : whether the strokes of the right hand point down
    """
    parts = [_shade(axis, hold), _count_rules(axis)]
    if extent is not None:
        parts += [_wave(axis, extent), side_word("sound", _WAVE_MIDDLE)]
    lane = _WHOLE_PLOT if extent is None else _UNDER_SOUND
    parts += [_stroke_marks(axis, strokes, lane, alternating=alternating), *_hold_ends(axis, hold)]
    words = ((0.3, "left"), (0.8, "right")) if alternating else ((0.85, "strokes"),)
    parts += [side_word(word, lane.top + share * lane.height) for share, word in words]
    return picture(
        "waveform",
        (axis.width, _WAVE_HEIGHT),
        "The take from beginning to end" if extent is not None else "The strokes in time",
        _waveform_words(axis, extent, strokes, hold),
        parts,
    )


def _waveform_words(
    axis: TimeAxis, extent: FloatArray | None, strokes: Sequence[Json], hold: HoldShown
) -> str:
    """Say what the waveform shows."""
    unplaced = sum(stroke["count"] is None for stroke in strokes)
    said = [f"{axis.duration_s:.1f} seconds, {len(strokes)} strokes"]
    said.append(f"{unplaced} of them without a place" if unplaced else "each with its place")
    sentence = ", ".join(said) + "."
    if hold.count_held is not None and axis.counts:
        sentence += f" The hold is shaded: {hold.count_held} of {axis.counts} counts, {hold.why}."
    if extent is None:
        sentence += " There is no sound to draw."
    return sentence


def _wave(axis: TimeAxis, extent: FloatArray) -> str:
    """One upright line a pixel, from the lowest to the highest sample."""
    loudest = float(np.max(np.abs(extent), initial=0.0)) or 1.0
    scaled = np.round(extent / loudest * _WAVE_HALF).astype(np.int64)
    step = axis.span / extent.shape[0]
    first = _WAVE_MIDDLE - scaled[0, 1]
    moves = [f"M{pixel(axis.left + step / 2)} {pixel(first)}v{scaled[0, 1] - scaled[0, 0]}"]
    across = pixel(step)
    for column in range(1, scaled.shape[0]):
        rise = scaled[column - 1, 0] - scaled[column, 1]
        height = scaled[column, 1] - scaled[column, 0]
        moves.append(f"m{across} {rise}v{height}".replace(" -", "-"))
    return f'<path class="wave" d="{"".join(moves)}"/>'


def _stroke_marks(
    axis: TimeAxis, strokes: Sequence[Json], lane: _Lane, *, alternating: bool
) -> str:
    """Ticks whose height follows the level; dots for strokes that have no place among others."""
    if not strokes:
        return ""
    most = lane.height / 2 if alternating else lane.height
    base = lane.top + most
    height = _tick_heights(strokes, most)
    has_places = any(stroke["count"] is not None for stroke in strokes)
    ticks, dots = [], []
    for stroke, tall in zip(strokes, height, strict=True):
        x = pixel(axis.x_of(stroke["time_s"]))
        if has_places and stroke["count"] is None:
            dots.append(f"M{x} {pixel(lane.foot + 5)}h0")
        elif alternating and stroke["hand"] is None:
            ticks.append(f"M{x} {pixel(base - tall / 2)}v{pixel(tall)}")
        elif alternating and stroke["hand"] == "right":
            ticks.append(f"M{x} {pixel(base)}v{pixel(tall)}")
        else:
            ticks.append(f"M{x} {pixel(base)}v{pixel(-tall)}")
    marks = f'<path class="stroke-ticks" d="{"".join(ticks)}"/>'
    return marks + (f'<path class="stroke-dots" d="{"".join(dots)}"/>' if dots else "")


def _tick_heights(strokes: Sequence[Json], most: float) -> list[float]:
    """Height of every stroke's tick: the median level in the middle, the outermost cut."""
    level_db = np.array([stroke["level_db"] for stroke in strokes])
    low_db, middle_db, high_db = np.percentile(level_db, [3, 50, 97])
    rise = 0.5 + (level_db - middle_db) / max(1.6 * (high_db - low_db), _LEVEL_RANGE_DB)
    heights: list[float] = (_LEAST_TICK + np.clip(rise, 0, 1) * (most - _LEAST_TICK)).tolist()
    return heights


def _count_rules(axis: TimeAxis) -> str:
    """A rule at every count, with every tenth named; without counts every tenth second."""
    if not axis.counts:
        return _second_rules(axis)
    height = _FOOT - 14 - _WAVE_TOP
    rules = [
        f"M{pixel(axis.x_of_count(count))} {pixel(_WAVE_TOP)}v{pixel(height)}"
        for count in range(1, axis.counts + 2)
    ]
    named = [count for count in range(1, axis.counts + 1) if count == 1 or count % 10 == 0]
    names = [
        label(axis.x_of_count(count), _FOOT + 6, str(count), "axis-word middle") for count in named
    ]
    heavy = "".join(
        f"M{pixel(axis.x_of_count(count))} {pixel(_WAVE_TOP)}v{pixel(height + 4)}"
        for count in named
    )
    return (
        f'<path class="count-rules" d="{"".join(rules)}"/><path class="tenth-rules" d="{heavy}"/>'
        + "".join(names)
        + side_word("count", _FOOT + 6)
    )


def _second_rules(axis: TimeAxis) -> str:
    """A rule every ten seconds."""
    seconds = range(0, int(axis.duration_s) + 1, 10)
    rules = "".join(
        f"M{pixel(axis.x_of(second))} {pixel(_WAVE_TOP)}v{pixel(_FOOT - 10 - _WAVE_TOP)}"
        for second in seconds
    )
    names = "".join(
        label(axis.x_of(second), _FOOT + 6, f"{second}", "axis-word middle") for second in seconds
    )
    return f'<path class="tenth-rules" d="{rules}"/>{names}{side_word("seconds", _FOOT + 6)}'


def _shade(axis: TimeAxis, hold: HoldShown) -> str:
    """Shade the hold."""
    if not hold.count_held or not axis.counts:
        return ""
    low, high = axis.x_of_count(1), axis.x_of_count(hold.count_held + 1)
    return (
        f'<rect class="hold-shade" x="{pixel(low)}" y="{pixel(_WAVE_TOP)}" '
        f'width="{pixel(high - low)}" height="{pixel(_FOOT - 14 - _WAVE_TOP)}"/>'
    )


def _hold_ends(axis: TimeAxis, hold: HoldShown) -> list[str]:
    """Mark the break with a red line and a word, and the machine's own where it differs."""
    if not axis.counts or hold.count_held is None:
        return []
    parts = []
    top, bottom = _WAVE_TOP - 8, _FOOT - 10
    if hold.count_read is not None:
        x = axis.x_of_count(hold.count_read + 1)
        side = "end" if hold.count_read < hold.count_held else "start"
        parts.append(upright("read-end", x, top, bottom))
        read = f"read: {hold.count_read}"
        parts.append(word_beside(axis, x, read, side=side, style="axis-word"))
    x = axis.x_of_count(hold.count_held + 1)
    side = "end" if hold.count_read is not None and hold.count_read > hold.count_held else "start"
    if hold.broke:
        parts.append(upright("break-line", x, top, bottom))
        parts.append(f'<path class="break-flag" d="M{pixel(x)} {pixel(top)}l-6-9h12z"/>')
    style = "red-word" if hold.broke else "axis-word"
    held = f"{hold.count_held} held, {hold.why}"
    return [*parts, word_beside(axis, x, held, side=side, style=style)]
