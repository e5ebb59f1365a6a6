"""What each hand that was used lately holds for a minute: a line each, for the page Today."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from loosehand.reach.reach import Reach
from loosehand.web.pages.reach_kind import kind_word, kind_words, reach_path

__all__ = ["StripLine", "strip_lines"]

_LATELY_DAYS = 28
_MOST_LINES = 6


@dataclass(frozen=True)
class StripLine:
    """A hand: its name, the tempo it holds for a minute, whether that was seen, and its page."""

    kind: str
    minute: str
    beyond: bool
    way: str


def strip_lines(every: Sequence[Reach], *, player: str, today: date) -> list[StripLine]:
    """Lines of the hands that were played in the last four weeks, the last played first."""
    lately = [
        reach
        for reach in every
        if reach.last_day is not None and reach.last_day > today - timedelta(days=_LATELY_DAYS)
    ]
    # The sort keeps the order of hands that were played on the same day.
    lately.sort(key=lambda reach: reach.last_day or date.min, reverse=True)
    return [_line(reach, player) for reach in lately[:_MOST_LINES]]


def _line(reach: Reach, player: str) -> StripLine:
    return StripLine(
        kind=kind_words(reach.kind),
        minute=f"{reach.tempo_held_bpm(60.0).median:.0f}",
        beyond=reach.is_beyond_seen(60.0),
        way=reach_path(player, kind=kind_word(reach.kind)),
    )
