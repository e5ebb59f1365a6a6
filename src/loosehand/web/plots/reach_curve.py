"""The hold-time curve as a picture: tempo across, time up, and each round as what it was.

Time is drawn on a logarithmic scale from five seconds to eight minutes. A round that was lost is a
dot at the time it was held; one that was held on is an arrow upward where it ended, since nobody
knows how much longer it would have gone; one lost within five seconds is an arrow downward at the
bottom. Rounds of the last four weeks are filled, older ones are outlines.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from markupsafe import Markup

from loosehand.web.plots.reach_frame import (
    Frame,
    Place,
    band,
    dots,
    even_ticks,
    line,
    picture,
    rings,
    triangles,
)
from loosehand.web.plots.take_svg import label

__all__ = ["LONGEST_S", "SHORTEST_S", "CurvePoint", "Fate", "HoldCurve", "RoundMark", "draw_curve"]

SHORTEST_S = 5.0
LONGEST_S = 480.0
"""Time at the top of the picture; the one above is at its bottom."""

Fate = Literal["lost", "held on"]
_WIDTH, _HEIGHT = 760.0, 470.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 58.0, 16.0, 736.0, 408.0
_TIMES_S = {5: "5 s", 10: "10 s", 20: "20 s", 30: "30 s", 60: "1 min", 120: "2 min", 240: "4 min"}
_RING = 3.2
_INSET = 7.0
_LABEL_ROOM = 30.0


@dataclass(frozen=True)
class CurvePoint:
    """A time, and the tempo held so long: median and the bounds of 80 chances in 100."""

    time_s: float
    low_bpm: float
    median_bpm: float
    high_bpm: float


@dataclass(frozen=True)
class RoundMark:
    """A round: its tempo, how long it was held, whether it was lost, and whether it is recent."""

    tempo_bpm: float
    time_s: float
    fate: Fate
    recent: bool


@dataclass(frozen=True)
class HoldCurve:
    """All that the picture shows.

    Attributes
    ----------
    points : of the curve, in rising order of time
    marks : the rounds
    longest_held_s : what lies above was never seen
    title, words : the picture in words
    """

    points: tuple[CurvePoint, ...]
    marks: tuple[RoundMark, ...]
    longest_held_s: float
    title: str
    words: str


def draw_curve(curve: HoldCurve) -> Markup:
    """Draw the hold-time curve with its rounds.

    Parameters
    ----------
    curve : what it shows; at least two points
    """
    frame = _frame(curve)
    seen = [point for point in curve.points if point.time_s <= curve.longest_held_s + 1e-6]
    beyond = curve.points[max(len(seen) - 1, 0) :]
    parts = [
        *_scales(frame),
        frame.inside(
            [
                _band("band", seen, frame),
                _band("band-beyond", beyond, frame),
                _line("curve", seen, frame),
                _line("curve-beyond", beyond, frame),
                *_beyond_line(curve, frame),
            ]
        ),
        *_marks(curve.marks, frame),
    ]
    return picture("curve", (_WIDTH, _HEIGHT), curve.title, curve.words, parts)


def _frame(curve: HoldCurve) -> Frame:
    """Choose the tempos: those that were played and those of the curve, as far as it is seen."""
    played = [mark.tempo_bpm for mark in curve.marks]
    low = min([*played, curve.points[-1].low_bpm])
    fast = min(curve.points[0].high_bpm, max(played, default=0.0) + 6.0)
    high = max([*played, curve.points[-1].high_bpm, fast])
    return Frame(
        _LEFT,
        _TOP,
        _RIGHT,
        _BOTTOM,
        x_from=5.0 * math.floor(low / 5.0 - 0.4),
        x_to=5.0 * math.ceil(high / 5.0 + 0.4),
        y_from=math.log(SHORTEST_S),
        y_to=math.log(LONGEST_S),
    )


def _scales(frame: Frame) -> list[str]:
    """Times at the side, tempos below."""
    parts = []
    for time_s, word in {**_TIMES_S, int(LONGEST_S): "8 min"}.items():
        y = math.log(time_s)
        style = "rule strong" if time_s == 60 else "rule"
        parts.append(frame.level(style, y))
        parts.append(label(_LEFT - 8, frame.y_of(y) + 4, word, "axis-word end"))
    parts.append(frame.level("axis", math.log(SHORTEST_S)))
    parts += [
        label(frame.x_of(tempo), _BOTTOM + 36, f"{tempo:g}", "figure-word middle")
        for tempo in even_ticks(frame.x_from, frame.x_to, most=12)
    ]
    parts.append(label(_RIGHT, _BOTTOM + 56, "counts a minute", "axis-word end"))
    return parts


def _band(style: str, points: Sequence[CurvePoint], frame: Frame) -> str:
    return band(
        style,
        [frame.place(point.low_bpm, math.log(point.time_s)) for point in points],
        [frame.place(point.high_bpm, math.log(point.time_s)) for point in points],
    )


def _line(style: str, points: Sequence[CurvePoint], frame: Frame) -> str:
    return line(style, [frame.place(point.median_bpm, math.log(point.time_s)) for point in points])


def _beyond_line(curve: HoldCurve, frame: Frame) -> list[str]:
    """A dashed line above which no hold was seen, and a word that says so."""
    if curve.longest_held_s >= LONGEST_S:
        return []
    at = math.log(max(curve.longest_held_s, SHORTEST_S))
    return [
        frame.level("beyond", at),
        label(_RIGHT - 8, frame.y_of(at) - 8, "beyond what was seen", "axis-word halo end"),
    ]


def _marks(marks: Sequence[RoundMark], frame: Frame) -> list[str]:
    """Draw the rounds: outlines first, filled ones over them."""
    parts = []
    for recent, style in ((False, "older"), (True, "recent")):
        own = [mark for mark in marks if mark.recent == recent]
        lost = [mark for mark in own if mark.fate == "lost"]
        low = dict.fromkeys(_spot(mark, frame) for mark in lost if mark.time_s < SHORTEST_S)
        at = [_spot(mark, frame) for mark in lost if mark.time_s >= SHORTEST_S]
        up = dict.fromkeys(_spot(mark, frame) for mark in own if mark.fate == "held on")
        parts.append(dots("lost", at) if recent else rings("lost-older", at, radius=_RING))
        parts.append(triangles(f"arrow {style}", low, up=False))
        parts.append(triangles(f"arrow {style}", up, up=True))
    return [*parts, *_how_often(marks, frame)]


def _spot(mark: RoundMark, frame: Frame) -> Place:
    """Where a round is drawn: what is too short or too long stands at the edge."""
    time_s = min(max(mark.time_s, SHORTEST_S), LONGEST_S)
    x, y = frame.place(mark.tempo_bpm, math.log(time_s))
    low = _BOTTOM - (_INSET if mark.time_s < SHORTEST_S else 0.0)
    return x, min(max(y, _TOP + _INSET), low)


def _how_often(marks: Sequence[RoundMark], frame: Frame) -> list[str]:
    """Write how many rounds an arrow stands for, where there is room."""
    parts = []
    ups = Counter(_spot(mark, frame) for mark in marks if mark.fate == "held on")
    short = [mark for mark in marks if mark.fate == "lost" and mark.time_s < SHORTEST_S]
    downs = Counter(_spot(mark, frame) for mark in short)
    for spots, off in ((ups, -10.0), (downs, _INSET + 15.0)):
        last: dict[float, float] = {}
        for (x, y), often in sorted(spots.items()):
            if often > 1 and x - last.get(y, -_LABEL_ROOM) >= _LABEL_ROOM:
                parts.append(label(x, y + off, f"×{often}", "times halo middle"))
                last[y] = x
    return parts
