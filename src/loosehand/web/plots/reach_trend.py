"""The trend as a picture: days across, the tempo held for a minute up, each day's form a dot."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup

from loosehand.web.plots.reach_frame import Frame, band, dots, even_ticks, line, picture
from loosehand.web.plots.take_svg import label, upright

__all__ = ["Trend", "TrendDay", "draw_trend"]

_WIDTH, _HEIGHT = 760.0, 314.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 58.0, 38.0, 716.0, 270.0
_LABEL_ROOM = 58.0
_WEEKS_UP_TO_DAYS = 63
_LEAST_SPAN_BPM = 6.0


@dataclass(frozen=True)
class TrendDay:
    """A day of the trend: the level with its bounds, and where its form put it.

    ``form_bpm`` is None on a day without rounds.
    """

    day: date
    low_bpm: float
    median_bpm: float
    high_bpm: float
    form_bpm: float | None


@dataclass(frozen=True)
class Trend:
    """All that the picture shows.

    Attributes
    ----------
    days : in order, at least one
    since : the day compared with
    title, words : the picture in words
    """

    days: tuple[TrendDay, ...]
    since: date
    title: str
    words: str


def draw_trend(trend: Trend) -> Markup:
    """Draw the trend of the tempo held for a minute."""
    frame = _frame(trend)

    def at(each: TrendDay, value: float) -> tuple[float, float]:
        return frame.place(each.day.toordinal(), value)

    days = trend.days
    forms = [at(day, day.form_bpm) for day in days if day.form_bpm is not None]
    parts = [
        *_scales(frame, days),
        frame.inside(
            [
                band("band", [at(d, d.low_bpm) for d in days], [at(d, d.high_bpm) for d in days]),
                line("curve", [at(day, day.median_bpm) for day in days]),
                dots("form", forms),
            ]
        ),
        *_since(frame, trend.since),
    ]
    if len(days) == 1:
        parts.append(dots("lost", [at(days[0], days[0].median_bpm)]))
    return picture("trend", (_WIDTH, _HEIGHT), trend.title, trend.words, parts)


def _frame(trend: Trend) -> Frame:
    """Choose days and tempos: all that is drawn, and a little room."""
    days = trend.days
    values = [value for day in days for value in (day.low_bpm, day.high_bpm)]
    values += [day.form_bpm for day in days if day.form_bpm is not None]
    low, high = min(values), max(values)
    room = max(0.06 * (high - low), (_LEAST_SPAN_BPM - (high - low)) / 2.0)
    first, last = days[0].day.toordinal(), days[-1].day.toordinal()
    aside = max(0.02 * (last - first), 0.6)
    return Frame(_LEFT, _TOP, _RIGHT, _BOTTOM, first - aside, last + aside, low - room, high + room)


def _scales(frame: Frame, days: Sequence[TrendDay]) -> list[str]:
    """Tempos at the side, dates below."""
    parts = [label(_LEFT - 50, 16.0, "counts a minute", "axis-word")]
    for tempo in even_ticks(frame.y_from, frame.y_to, most=6):
        parts.append(frame.level("rule", tempo))
        parts.append(label(_LEFT - 8, frame.y_of(tempo) + 4, f"{tempo:g}", "figure-word end"))
        # At the other end too: where the picture scrolls, one end is out of sight.
        parts.append(label(_RIGHT + 8, frame.y_of(tempo) + 4, f"{tempo:g}", "figure-word start"))
    parts.append(frame.level("axis", frame.y_from))
    last_x = -_LABEL_ROOM
    for day in _dates(days[0].day, days[-1].day):
        x = frame.x_of(day.toordinal())
        parts.append(upright("axis", x, _BOTTOM, _BOTTOM + 5))
        if x - last_x >= _LABEL_ROOM:
            word = f"{day.day} {day:%b}" + (f" {day.year}" if day.month == 1 else "")
            parts.append(label(x, _BOTTOM + 20, word, "axis-word middle"))
            last_x = x
    return parts


def _dates(first: date, last: date) -> list[date]:
    """Days that are named: weeks where there are few, else the first of each month."""
    span = (last - first).days
    if span <= _WEEKS_UP_TO_DAYS:
        return [first + timedelta(days=day) for day in range(0, span + 1, 7)]
    every = [first + timedelta(days=day) for day in range(span + 1)]
    return [day for day in every if day.day == 1]


def _since(frame: Frame, since: date) -> list[str]:
    """An upright line at the day compared with, and its word."""
    x = frame.x_of(since.toordinal())
    if not _LEFT <= x <= _RIGHT:
        return []
    side = "start" if x < (_LEFT + _RIGHT) / 2.0 else "end"
    off = 6.0 if side == "start" else -6.0
    word = f"compared with {since.day} {since:%B}"
    return [
        upright("since", x, _TOP - 16, _BOTTOM),
        label(x + off, _TOP - 6, word, f"axis-word halo {side}"),
    ]
