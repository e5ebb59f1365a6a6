"""The reach of hands as JSON, version 1: ``loosehand.reach/1``.

``report_to_json`` gives exactly the object described by ``reach.schema.json`` beside this module
and by ``docs/reach-json.md``. What cannot be known is null, with a sentence in the notes; no
number is ever infinite or "not a number".
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from loosehand.errors import InputError
from loosehand.reach.reach import Interval, Reach

__all__ = [
    "LENGTHS_S",
    "SCHEMA",
    "Asked",
    "HandReach",
    "Improved",
    "improved_of",
    "report_to_json",
]

SCHEMA = "loosehand.reach/1"
LENGTHS_S = (60.0, 240.0)
"""Lengths that every answer tells of: a minute and four."""
_IMPROVED_DAYS = 28
_AHEAD_DAYS = 364
_BPM_DIGITS = 2
_CHANCE_DIGITS = 4


@dataclass(frozen=True)
class HandReach:
    """Whose reach it is."""

    player: str
    reach: Reach


@dataclass(frozen=True)
class Asked:
    """What else is asked of every hand.

    Attributes
    ----------
    tempo_bpm, time_s : whether this tempo is held for this time
    by : the day by which it may be reached, or None for not asked
    """

    tempo_bpm: float
    time_s: float
    by: date | None


@dataclass(frozen=True)
class Improved:
    """The chance that a hand is better than it was on a day."""

    since: date
    probability: float
    note: str | None


def improved_of(reach: Reach) -> Improved:
    """Chance that a hand is better than four weeks ago, or than on its first day if that is later.

    Raises
    ------
    InputError   if no round of the hand was ever heard
    """
    if reach.first_day is None:
        raise InputError("first_day is None; want a reach of rounds")
    since = max(reach.first_day, reach.as_of - timedelta(days=_IMPROVED_DAYS))
    if since == reach.as_of:
        note = "All rounds are of one day: whether the hand got better cannot be told from them."
        return Improved(since, 0.5, note)
    return Improved(since, reach.probability_improved(since), None)


def report_to_json(
    hands: Iterable[HandReach],
    *,
    as_of: date,
    asked: Asked | None,
    notes: Sequence[str],
) -> dict[str, Any]:
    """Object of ``reach.schema.json``.

    Parameters
    ----------
    hands : in the order in which they are told
    as_of : the day told of
    asked : what else is asked, or None
    notes : sentences about rounds of which no hand is told

    Raises
    ------
    BadTempo, InputError   if what is asked cannot be
    """
    return {
        "schema": SCHEMA,
        "as_of": as_of.isoformat(),
        "hands": [_hand(each.player, each.reach, asked, as_of) for each in hands],
        "notes": list(notes),
    }


def _hand(player: str, reach: Reach, asked: Asked | None, as_of: date) -> dict[str, Any]:
    """Object of one hand."""
    kind, improved = reach.kind, improved_of(reach)
    sustainable = reach.sustainable_bpm()
    notes = [*reach.notes, *([improved.note] if improved.note else [])]
    if reach.as_of != as_of and not any(f"{reach.as_of}" in note for note in notes):
        notes.append(f"This hand was not played for long: it is told of {reach.as_of}.")
    if sustainable is None:
        notes.append("No law with a sustainable tempo is likely enough to name one.")
    if asked is not None and asked.by is not None and not _can_tell_of(reach, asked.by):
        notes.append(
            f"Of {asked.by} nothing can be told: it lies more than a year after {reach.as_of}, the "
            "day that the rounds of this hand tell of."
        )
    if not all(math.isfinite(each.held_out_score) for each in reach.laws):
        notes.append("A law without a held-out score could not be tried on rounds kept from it.")
    body = {
        "player": player,
        "hand": kind.hand,
        "technique": kind.technique,
        "surface": kind.surface,
        "loudness": kind.loudness,
        "places_per_count": kind.places_per_count,
        "rounds": reach.rounds,
        "first_day": None if reach.first_day is None else reach.first_day.isoformat(),
        "last_day": None if reach.last_day is None else reach.last_day.isoformat(),
        "law": reach.law,
        "laws": [
            {
                "law": each.law,
                "held_out_score": _number(each.held_out_score, _CHANCE_DIGITS),
                "weight": _number(each.weight, _CHANCE_DIGITS),
            }
            for each in reach.laws
        ],
        "tempo_held_bpm": {
            f"{time_s:g}": _tempo(reach.tempo_held_bpm(time_s)) for time_s in LENGTHS_S
        },
        "sustainable_tempo_bpm": None if sustainable is None else _tempo(sustainable),
        "trend_bpm_per_month": _interval(reach.trend_bpm_per_month()),
        "smallest_change_bpm": _number(reach.smallest_change_bpm(), _BPM_DIGITS),
        "plateau": reach.is_plateau(),
        "improved": {
            "since": improved.since.isoformat(),
            "probability": _number(improved.probability, _CHANCE_DIGITS),
        },
        "beyond_seen": [f"{time_s:g}" for time_s in LENGTHS_S if reach.is_beyond_seen(time_s)],
        "days": [
            {
                "day": each.day.isoformat(),
                "level": _tempo(each.level),
                "form_bpm": _interval(each.form_bpm),
            }
            for each in reach.days
        ],
        "recovery": [
            {
                "recovery_s": each.recovery_s,
                "minute_bpm": _number(each.minute_bpm, _BPM_DIGITS),
                "four_minutes_bpm": _number(each.four_minutes_bpm, _BPM_DIGITS),
            }
            for each in reach.recovery
        ],
        "recovery_is_told": reach.recovery_is_told,
    }
    return {**body, **_asked(reach, asked), "notes": notes}


def _asked(reach: Reach, asked: Asked | None) -> dict[str, Any]:
    """Keys of what else was asked."""
    if asked is None:
        return {}
    tempo_bpm, time_s = asked.tempo_bpm, asked.time_s
    question = {"tempo_bpm": tempo_bpm, "time_s": time_s}
    chance = reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=time_s)
    found: dict[str, Any] = {
        "chance": {
            **question,
            "probability": _number(chance, _CHANCE_DIGITS),
            "beyond_seen": reach.is_beyond_seen(time_s),
        }
    }
    if asked.by is not None and _can_tell_of(reach, asked.by):
        reaching = reach.date_of_reaching(tempo_bpm=tempo_bpm, time_s=time_s, last=asked.by)
        days = {"earliest": reaching.earliest, "median": reaching.median, "latest": reaching.latest}
        found["target"] = {
            **question,
            "by": asked.by.isoformat(),
            "probability": _number(reaching.chance, _CHANCE_DIGITS),
            **{name: None if day is None else day.isoformat() for name, day in days.items()},
        }
    return found


def _can_tell_of(reach: Reach, by: date) -> bool:
    """Whether a day lies within the year that a reach looks ahead."""
    return by <= reach.as_of + timedelta(days=_AHEAD_DAYS)


def _tempo(found: Interval) -> dict[str, float | None]:
    """Object of a tempo: none lies under nought, however far a guess is carried on."""
    figures = (found.median, found.low80, found.high80)
    return _interval(Interval(*(max(each, 0.0) for each in figures)))


def _interval(found: Interval) -> dict[str, float | None]:
    """Object of a figure."""
    return {
        "median": _number(found.median, _BPM_DIGITS),
        "low80": _number(found.low80, _BPM_DIGITS),
        "high80": _number(found.high80, _BPM_DIGITS),
    }


def _number(value: float, digits: int) -> float | None:
    """Rounded number, null where it is none."""
    # Nought is added so that no nought is negative.
    return round(float(value), digits) + 0.0 if math.isfinite(value) else None
