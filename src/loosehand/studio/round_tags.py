"""The words and figures that a round may carry, and the checks of them.

A check returns the value as it is kept, or raises one sentence: field, got, want.
"""

import math
import unicodedata
from dataclasses import dataclass
from datetime import date
from typing import Any

from loosehand.errors import BadTempo, InputError

__all__ = [
    "ENDED",
    "FEELS",
    "HANDS",
    "HELD_TO_THE_END",
    "LOUDNESSES",
    "NOT_JUDGED",
    "RoundTags",
    "check_count",
    "check_day",
    "check_player",
    "check_tags",
    "check_tempo_bpm",
    "check_text",
    "check_whole",
    "check_word",
    "counts_of_round",
    "ended_of_written",
    "tags_of_row",
]

HANDS = ("left", "right", "alternating")
LOUDNESSES = ("soft", "medium", "loud")
FEELS = ("loose", "working", "tense", "pain")
HELD_TO_THE_END = "held to the end"
NOT_JUDGED = "not judged"
ENDED = (
    HELD_TO_THE_END,
    "lost the click",
    "ran ahead",
    "fell behind",
    "thinned out",
    "stopped",
    "stopped by choice",
    "recording ended",
    NOT_JUDGED,
)

_LOWEST_TEMPO_BPM = 20.0
_HIGHEST_TEMPO_BPM = 400.0
_MOST_PLACES = 12
_LONGEST_ROUND_S = 4 * 3600.0
_LONGEST_NAME = 80
_LONGEST_WORD = 60


@dataclass(frozen=True)
class RoundTags:
    """What a round was: one hand at one tempo, and how.

    Attributes
    ----------
    hand : left, right or alternating
    tempo_bpm : counts a minute
    places_per_count : places of the grid in a count
    round_s : planned length of the round
    technique, surface : in the teacher's words, or None
    loudness : soft, medium, loud, or None
    feel : loose, working, tense, pain, or None
    """

    hand: str
    tempo_bpm: float
    places_per_count: int
    round_s: float
    technique: str | None
    surface: str | None
    loudness: str | None
    feel: str | None

    @property
    def counts(self) -> int:
        """Counts that the round has."""
        return counts_of_round(tempo_bpm=self.tempo_bpm, round_s=self.round_s)


def tags_of_row(found: Any) -> RoundTags:
    """Tags of a row that has columns of their names.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> columns = {"hand": "left", "tempo_bpm": 104.0, "places_per_count": 4, "round_s": 60.0}
    >>> others = dict.fromkeys(("technique", "surface", "loudness", "feel"))
    >>> tags_of_row(SimpleNamespace(**columns, **others)).counts
    104
    """
    return RoundTags(**{name: getattr(found, name) for name in RoundTags.__dataclass_fields__})


def counts_of_round(*, tempo_bpm: float, round_s: float) -> int:
    """Whole counts in a round.

    Source
    ------
    A minute at 60 is 60 counts (common practice, no source).

    Examples
    --------
    >>> counts_of_round(tempo_bpm=104.0, round_s=60.0)
    104
    """
    return math.floor(tempo_bpm * round_s / 60.0 + 1e-6)


def ended_of_written(ended: str | None, *, count_held: int, counts: int) -> str | None:
    """How a written round ended: as said, else held to the end if all its counts were held."""
    if ended is not None:
        return ended
    return HELD_TO_THE_END if count_held >= counts else None


def check_tags(tags: RoundTags) -> RoundTags:
    """Check the words and figures of a round.

    Raises
    ------
    BadTempo, InputError   naming the first field that cannot be
    """
    round_s = _check_number(tags.round_s, field="round_s")
    if not 0.0 < round_s <= _LONGEST_ROUND_S:
        raise InputError(
            f"round_s = {round_s:g} is not a length of a round; "
            f"want seconds above 0 and up to {_LONGEST_ROUND_S:g}"
        )
    checked = RoundTags(
        hand=check_word(tags.hand, field="hand", words=HANDS),
        tempo_bpm=check_tempo_bpm(tags.tempo_bpm),
        places_per_count=check_whole(
            tags.places_per_count, field="places_per_count", lowest=1, highest=_MOST_PLACES
        ),
        round_s=round_s,
        technique=_check_own_word(tags.technique, field="technique"),
        surface=_check_own_word(tags.surface, field="surface"),
        loudness=_check_optional(tags.loudness, field="loudness", words=LOUDNESSES),
        feel=_check_optional(tags.feel, field="feel", words=FEELS),
    )
    if checked.counts < 1:
        raise InputError(f"round_s = {round_s:g} is too short for one count at {tags.tempo_bpm:g}")
    return checked


def check_tempo_bpm(tempo_bpm: float | str) -> float:
    """Check a tempo: a number of counts a minute that a click can have.

    Raises
    ------
    BadTempo   if it is not a number from 20 to 400
    """
    want = f"want a number from {_LOWEST_TEMPO_BPM:g} to {_HIGHEST_TEMPO_BPM:g} counts a minute"
    try:
        value = float(tempo_bpm)
    except ValueError as error:
        raise BadTempo(f"tempo_bpm = {str(tempo_bpm)!r} is not a tempo; {want}") from error
    if not _LOWEST_TEMPO_BPM <= value <= _HIGHEST_TEMPO_BPM:
        raise BadTempo(f"tempo_bpm = {value:g} is not a tempo; {want}")
    return value


def check_whole(value: int | str, *, field: str, lowest: int, highest: int) -> int:
    """Check a whole number within limits.

    Raises
    ------
    InputError   if it is not one
    """
    want = f"want a whole number from {lowest} to {highest}"
    text = str(value).strip()
    if not text.isascii() or not text.removeprefix("-").isdigit() or len(text) > 18:
        raise InputError(f"{field} = {_shown(text)} is not a whole number; {want}")
    if not lowest <= int(text) <= highest:
        raise InputError(f"{field} = {int(text)} cannot be; {want}")
    return int(text)


def check_count(count_held: int | str, *, counts: int) -> int:
    """Check a count held against the counts of its round.

    Raises
    ------
    InputError   if it is not a whole number from 0 to ``counts``
    """
    return check_whole(count_held, field="count_held", lowest=0, highest=counts)


def check_word(word: str, *, field: str, words: tuple[str, ...]) -> str:
    """Check that a word is one of those known.

    Raises
    ------
    InputError   if it is not
    """
    if word not in words:
        raise InputError(f"{field} = {_shown(word)} is not known; want one of: {', '.join(words)}")
    return word


def check_player(name: str) -> str:
    """Check a player's name and return it as it is kept: trimmed, in one form of Unicode.

    Raises
    ------
    InputError   if it is empty, too long or holds control characters
    """
    return check_text(name, field="player", longest=_LONGEST_NAME)


def check_text(text: str, *, field: str, longest: int) -> str:
    """Check a short text: not empty, one line, not too long.

    Raises
    ------
    InputError   if it is not so
    """
    kept = unicodedata.normalize("NFC", text).strip()
    if not kept:
        raise InputError(f"{field} is empty; want a short text")
    if any(unicodedata.category(letter) in {"Cc", "Cs", "Zl", "Zp"} for letter in kept):
        raise InputError(f"{field} = {_shown(kept)} holds a line break or a control character")
    if len(kept) > longest:
        raise InputError(f"{field} has {len(kept)} characters; want at most {longest}")
    return kept


def check_day(day: str) -> date:
    """Check a day written as an ISO date.

    Raises
    ------
    InputError   if it is not a day of the calendar written as 2027-03-01
    """
    try:
        found = date.fromisoformat(day)
    except ValueError as error:
        raise InputError(f"date = {_shown(day)} is not a day; want one like 2027-03-01") from error
    if found.isoformat() != day:
        raise InputError(f"date = {_shown(day)} is not written like 2027-03-01")
    return found


def _check_optional(word: str | None, *, field: str, words: tuple[str, ...]) -> str | None:
    """Check a word that may be left out."""
    return None if not word else check_word(word, field=field, words=words)


def _check_own_word(word: str | None, *, field: str) -> str | None:
    """Check a word of the teacher's own choosing that may be left out."""
    if word is None or not word.strip():
        return None
    return check_text(word, field=field, longest=_LONGEST_WORD)


def _check_number(value: float, *, field: str) -> float:
    """Check that a number is finite."""
    if not math.isfinite(value):
        raise InputError(f"{field} = {value} is not a number")
    return float(value)


def _shown(text: str) -> str:
    """Text as shown in a sentence: quoted and short."""
    return repr(text if len(text) <= 40 else text[:37] + "...")
