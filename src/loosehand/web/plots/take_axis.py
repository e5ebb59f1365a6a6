"""What the plots of a take share: time across, and the hold that is shown in them."""

from dataclasses import dataclass
from typing import Any

from loosehand.web.plots.take_svg import label

__all__ = ["LEFT", "SIDE", "HoldShown", "TimeAxis", "side_word", "time_axis", "word_beside"]

Json = dict[str, Any]

LEFT = 66.0
"""Pixel of the beginning of the take."""
SIDE = LEFT - 12.0
"""Pixel at which the words at the side end."""
_RIGHT = 10.0
_NARROWEST, _WIDEST = 1120.0, 4480.0
_PIXELS_A_SECOND = 16.5
_SHORTEST_S = 0.1
_LETTER, _BESIDE, _HEAD = 7.5, 10.0, 14.0


@dataclass(frozen=True)
class TimeAxis:
    """Time across a plot.

    Attributes
    ----------
    duration_s : length of the take
    width : of the plot in pixels, margins included
    first_count_s, count_s : where count 1 lies and how long a count is, None where no counts
        were found
    counts : counts of the round, 0 where none were found
    """

    duration_s: float
    width: float
    first_count_s: float | None
    count_s: float | None
    counts: int

    @property
    def left(self) -> float:
        """Pixel of time 0."""
        return LEFT

    @property
    def span(self) -> float:
        """Pixels from the beginning to the end of the take."""
        return self.width - LEFT - _RIGHT

    def x_of(self, time_s: float) -> float:
        """Pixel of a time."""
        return LEFT + self.span * min(max(time_s / self.duration_s, 0.0), 1.0)

    def x_of_count(self, count: float) -> float:
        """Pixel at which a count (from 1) begins."""
        assert self.first_count_s is not None, "there are counts"
        assert self.count_s is not None, "there are counts"
        return self.x_of(self.first_count_s + (count - 1.0) * self.count_s)


@dataclass(frozen=True)
class HoldShown:
    """The hold as it is drawn.

    Attributes
    ----------
    count_held : as it stands, None where there is no number
    count_read : the machine's, where it is another; None where it is the same, or there is none
    broke : whether the hand lost the click, so that there is a break to show
    why : how the hold ended, in a word or two
    """

    count_held: int | None
    count_read: int | None
    broke: bool
    why: str


def time_axis(body: Json) -> TimeAxis:
    """Lay time out for a reading.

    Parameters
    ----------
    body : the reading as JSON
    """
    strokes = body["strokes"]
    last_s = strokes[-1]["time_s"] if strokes else 0.0
    duration_s = max(body["quality"].get("duration_s") or 0.0, last_s, _SHORTEST_S)
    width = min(max(_PIXELS_A_SECOND * duration_s + LEFT + _RIGHT, _NARROWEST), _WIDEST)
    found = body["first_count_s"] is not None and body["tempo_bpm"] is not None
    return TimeAxis(
        duration_s=duration_s,
        width=float(round(width)),
        first_count_s=body["first_count_s"] if found else None,
        count_s=60.0 / body["tempo_bpm"] if found else None,
        counts=(body["counts_offered"] or 0) if found else 0,
    )


def side_word(word: str, y: float) -> str:
    """A word at the left side of a line."""
    return label(SIDE, y, word, "side-word end")


def word_beside(axis: TimeAxis, x: float, word: str, *, side: str, style: str) -> str:
    """A word at the head of an upright line, beside it.

    Parameters
    ----------
    axis : of the plot
    x : pixel of the line
    word : the word
    side : "start" to the right of the line, "end" to the left, unless there is no room there
    style : class of the word
    """
    room = _LETTER * len(word) + 2 * _BESIDE
    if side == "start" and x + room > axis.width:
        side = "end"
    if side == "end" and x - room < 0:
        side = "start"
    at = x + _BESIDE if side == "start" else x - _BESIDE
    return label(at, _HEAD, word, f"{style} {side}")
