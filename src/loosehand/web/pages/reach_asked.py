"""What the page of the reach is asked: which hand, since when, and which tempos for how long."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from loosehand.errors import InputError
from loosehand.studio.round_tags import check_day, check_tempo_bpm

__all__ = ["ReachAsked", "TempoFor", "asked_of", "check_since"]

_LEAST_MINUTES, _MOST_MINUTES = 0.05, 60.0


@dataclass(frozen=True)
class TempoFor:
    """A tempo, held for a time."""

    tempo_bpm: float
    time_s: float


@dataclass(frozen=True)
class ReachAsked:
    """What is asked; None where the page chooses.

    Attributes
    ----------
    kind : word of the hand and how it plays
    since : the day that today is compared with
    hold : asked of under 'Will it hold'
    goal : asked of under 'When'
    """

    kind: str | None
    since: date | None
    hold: TempoFor | None
    goal: TempoFor | None


def asked_of(words: Mapping[str, str]) -> ReachAsked:
    """Read what is asked.

    Parameters
    ----------
    words : of the address, by name; empty ones are not asked

    Raises
    ------
    BadTempo, InputError   naming the first word that cannot be
    """
    since = words.get("since", "").strip()
    return ReachAsked(
        kind=words.get("kind") or None,
        since=check_day(since) if since else None,
        hold=_tempo_for(words, tempo="tempo", minutes="minutes"),
        goal=_tempo_for(words, tempo="goal_tempo", minutes="goal_minutes"),
    )


def check_since(since: date, *, first: date, last: date) -> date:
    """Check the day that today is compared with.

    Raises
    ------
    InputError   if it does not lie among the days that are told of
    """
    if since > last:
        raise InputError(
            f"since = {since} lies after {last}, the day told of; want a day from {first} to {last}"
        )
    if since < first:
        raise InputError(
            f"since = {since} lies before {first}, the first day that counts here; want a day from "
            f"{first} to {last}"
        )
    return since


def _tempo_for(words: Mapping[str, str], *, tempo: str, minutes: str) -> TempoFor | None:
    """Read a tempo and a length; None where neither is typed."""
    tempo_word, minutes_word = (words.get(name, "").strip() for name in (tempo, minutes))
    if not tempo_word and not minutes_word:
        return None
    if not tempo_word or not minutes_word:
        missing = tempo if not tempo_word else minutes
        raise InputError(f"{missing} is empty; want a tempo and a length in minutes")
    tempo_bpm = check_tempo_bpm(tempo_word.replace(",", "."))
    return TempoFor(tempo_bpm, 60.0 * _minutes_of(minutes_word, field=minutes))


def _minutes_of(word: str, *, field: str) -> float:
    want = f"want minutes from {_LEAST_MINUTES:g} to {_MOST_MINUTES:g}, such as 2 or 3.5"
    try:
        minutes = float(word.replace(",", "."))
    except ValueError as error:
        raise InputError(f"{field} = {word[:40]!r} is not a length; {want}") from error
    if not _LEAST_MINUTES <= minutes <= _MOST_MINUTES:
        raise InputError(f"{field} = {minutes:g} cannot be; {want}")
    return minutes
