"""What is typed into the chart's forms, checked: one number, and the tags that a sheet shares."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote, urlencode

from loosehand.errors import InputError
from loosehand.studio.chart import KindPlayed
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.round_tags import (
    ENDED,
    FEELS,
    HANDS,
    LOUDNESSES,
    NOT_JUDGED,
    RoundTags,
    check_count,
    check_day,
    check_tags,
    check_tempo_bpm,
    check_whole,
    check_word,
)

__all__ = [
    "WORDS",
    "FormWords",
    "chart_path",
    "check_past",
    "number_row",
    "offered",
    "round_s_of",
    "tags_of",
]

_MINUTE_S = 60.0
_FOUR_PLACES = 4


@dataclass(frozen=True)
class FormWords:
    """Words that the forms offer."""

    hands: tuple[str, ...] = HANDS
    loudnesses: tuple[str, ...] = LOUDNESSES
    feels: tuple[str, ...] = FEELS
    ended: tuple[str, ...] = tuple(word for word in ENDED if word != NOT_JUDGED)


WORDS = FormWords()


def chart_path(player: str, *, under: str = "", **words: str) -> str:
    """Address of a player's chart, or of a page under it.

    Examples
    --------
    >>> chart_path("Ines & Co", under="paper", month="2026-11")
    '/chart/Ines%20%26%20Co/paper?month=2026-11'
    """
    query = urlencode({name: word for name, word in words.items() if word})
    path = f"/chart/{quote(player, safe='')}" + (f"/{under}" if under else "")
    return f"{path}?{query}" if query else path


def offered(played: Sequence[KindPlayed]) -> dict[str, list[str]]:
    """Words of the player's own that the fields suggest: techniques and surfaces, last first."""
    return {
        "technique": _words(found.kind.technique for found in played),
        "surface": _words(found.kind.surface for found in played),
    }


def number_row(words: Mapping[str, str], *, player: str, today: date) -> ChartRow:
    """Read one number written by hand.

    Parameters
    ----------
    words : what was typed, by the field's name
    player : whose
    today : the day it is

    Raises
    ------
    InputError   naming the first field that cannot be
    """
    day = check_past(check_day(words.get("date", "").strip()), today=today)
    tempo_bpm = check_tempo_bpm(words.get("tempo_bpm", "").strip())
    tags = tags_of(words, tempo_bpm=tempo_bpm)
    ended = words.get("ended", "")
    return ChartRow(
        day=day,
        order=None,
        player=player,
        tags=tags,
        count_held=check_count(words.get("count_held", ""), counts=tags.counts),
        ended=check_word(ended, field="ended", words=WORDS.ended) if ended else None,
    )


def tags_of(words: Mapping[str, str], *, tempo_bpm: float) -> RoundTags:
    """Read the tags of a round: four places a count and a minute where not said.

    Raises
    ------
    InputError   naming the first field that cannot be
    """
    grid = words.get("grid", "").strip()
    return check_tags(
        RoundTags(
            hand=words.get("hand", ""),
            tempo_bpm=tempo_bpm,
            places_per_count=check_whole(
                grid or _FOUR_PLACES, field="places_per_count", lowest=1, highest=12
            ),
            round_s=round_s_of(words.get("round_s", "")),
            technique=words.get("technique") or None,
            surface=words.get("surface") or None,
            loudness=words.get("loudness") or None,
            feel=words.get("feel") or None,
        )
    )


def check_past(day: date, *, today: date) -> date:
    """Check that a day has come.

    Raises
    ------
    InputError   if it lies after today
    """
    if day > today:
        raise InputError(f"date = {day} has not come yet; want {today} or a day before it")
    return day


def round_s_of(text: str) -> float:
    """Length of a round, a minute where not said.

    Raises
    ------
    InputError   if it is not a number of seconds
    """
    try:
        return float(text.strip() or _MINUTE_S)
    except ValueError as error:
        raise InputError(
            f"round_s = {text[:40]!r} is not a length; want seconds, such as 60"
        ) from error


def _words(words: Iterable[str | None]) -> list[str]:
    """Words that are said, each once, in their order."""
    return list(dict.fromkeys(word for word in words if word))
