"""The words of the command line, and what they mean.

Figures come in as text, so that one that cannot be is refused in a sentence of ours.
"""

import math
from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from loosehand.errors import InputError
from loosehand.studio.round_tags import (
    ENDED,
    HANDS,
    RoundTags,
    check_day,
    check_tags,
    check_tempo_bpm,
    check_whole,
    check_word,
    counts_of_round,
)

if TYPE_CHECKING:
    from loosehand.hear.heard import ListenRequest

__all__ = [
    "AsJson",
    "DayWord",
    "Ended",
    "Feel",
    "FirstCount",
    "HandWord",
    "Loudness",
    "Notes",
    "OrderWord",
    "Over",
    "PerCount",
    "Player",
    "RoundSeconds",
    "StudioPath",
    "Surface",
    "Technique",
    "Tempo",
    "Why",
    "assumed_of",
    "day_of",
    "ended_of",
    "first_count_s_of",
    "hear_request_of",
    "notes_of",
    "order_of",
    "places_of",
    "seconds_of",
    "tags_of",
    "workers_of",
]

Player = Annotated[str, typer.Option("--player", help="Whose chart.")]
StudioPath = Annotated[
    str, typer.Option("--studio", metavar="PATH", help="Folder of the studio; else your own.")
]
HandWord = Annotated[str, typer.Option("--hand", help="left, right or alternating.")]
Tempo = Annotated[str, typer.Option("--tempo", help="Counts a minute of the click.")]
PerCount = Annotated[
    str, typer.Option("--per-count", help="Places in a count; 4, sixteenths, if left out.")
]
Technique = Annotated[str, typer.Option("--technique", help="In your words: whip fours, ...")]
Surface = Annotated[str, typer.Option("--surface", help="pad, hat, ride, snare, ...")]
Loudness = Annotated[str, typer.Option("--loudness", help="soft, medium or loud.")]
Feel = Annotated[str, typer.Option("--feel", help="loose, working, tense or pain.")]
RoundSeconds = Annotated[
    str, typer.Option("--round-s", help="Seconds of the round; 60 if left out.")
]
DayWord = Annotated[str, typer.Option("--day", help="Like 2027-03-01; today if left out.")]
OrderWord = Annotated[str, typer.Option("--order", help="Place of the round in its day, from 1.")]
Ended = Annotated[str, typer.Option("--ended", help="How it ended, in the words of the chart.")]
FirstCount = Annotated[
    str, typer.Option("--first-count-s", help="Time of count 1 in the recording, in seconds.")
]
Notes = Annotated[
    list[str] | None,
    typer.Option("--note", help="A MIDI note to hear, for MIDI files; may be given again."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the reading as JSON.")]
Over = Annotated[bool, typer.Option("--over", help="Write over a file that is there.")]
Why = Annotated[str, typer.Option("--why", help="The reason, in a line.")]

_PLACES_PER_COUNT = 4
_ROUND_S = 60.0
_MOST_COUNTS = 100_000
_MOST_PLACES = 12
_MOST_ORDER = 9999
_MOST_WORKERS = 256
_LONGEST_TAKE_S = 86_400.0


def hear_request_of(
    *, tempo: str, per_count: str, hand: str, counts: str, round_s: str, first_count_s: str
) -> "ListenRequest":
    """Return what the ear is told, from the words of ``hear``.

    Raises
    ------
    BadTempo, InputError   naming the first word that cannot be
    """
    from loosehand.hear.heard import ListenRequest

    tempo_bpm = None if tempo in ("", "auto") else check_tempo_bpm(tempo)
    return ListenRequest(
        tempo_bpm=tempo_bpm,
        places_per_count=places_of(per_count),
        hand=check_word(hand, field="hand", words=HANDS) if hand else None,  # type: ignore[arg-type]
        counts_planned=_counts_planned(counts, round_s, tempo_bpm=tempo_bpm),
        first_count_s=first_count_s_of(first_count_s),
    )


def tags_of(
    *,
    hand: str,
    tempo: str,
    per_count: str,
    round_s: str,
    technique: str,
    surface: str,
    loudness: str,
    feel: str,
) -> RoundTags:
    """Return the tags of a round, from the words of those commands that put one on the chart.

    Raises
    ------
    BadTempo, InputError   naming the first word that cannot be
    """
    if tempo == "auto":
        raise InputError("the chart needs the tempo of the round: say --tempo 104, not auto")
    return check_tags(
        RoundTags(
            hand=hand,
            tempo_bpm=check_tempo_bpm(tempo),
            places_per_count=places_of(per_count),
            round_s=seconds_of(round_s, field="round_s") if round_s else _ROUND_S,
            technique=technique,
            surface=surface,
            loudness=loudness,
            feel=feel,
        )
    )


def assumed_of(*, tempo: str, per_count: str, hand: str) -> tuple[str, ...]:
    """Say what was assumed because it was left out."""
    left_out = (
        (tempo, "The tempo was not told: it was taken from the recording."),
        (
            per_count,
            f"{_PLACES_PER_COUNT} places a count (sixteenths) were taken, as none were told.",
        ),
        (hand, "The hand was not told: the strokes were taken for those of one hand."),
    )
    return tuple(sentence for word, sentence in left_out if not word)


def places_of(per_count: str) -> int:
    """Return the places in a count. Raises InputError if they cannot be."""
    if not per_count:
        return _PLACES_PER_COUNT
    return check_whole(per_count, field="per_count", lowest=1, highest=_MOST_PLACES)


def first_count_s_of(word: str) -> float | None:
    """Return the time of count 1, or None. Raises InputError if it cannot be."""
    if not word:
        return None
    found = seconds_of(word, field="first_count_s")
    if not 0.0 <= found <= _LONGEST_TAKE_S:
        raise InputError(
            f"first_count_s = {found:g} cannot be; want seconds from 0 to {_LONGEST_TAKE_S:g}"
        )
    return found


def notes_of(words: list[str] | None) -> frozenset[int] | None:
    """Return the MIDI notes to hear, None for all. Raises InputError if one cannot be."""
    if not words:
        return None
    return frozenset(check_whole(word, field="note", lowest=0, highest=127) for word in words)


def workers_of(word: str) -> int | None:
    """Return how many takes to hear at once, or None. Raises InputError if it cannot be."""
    return check_whole(word, field="workers", lowest=1, highest=_MOST_WORKERS) if word else None


def order_of(word: str) -> int | None:
    """Return a round's place in its day, or None. Raises InputError if it cannot be."""
    return check_whole(word, field="order", lowest=1, highest=_MOST_ORDER) if word else None


def ended_of(word: str) -> str | None:
    """Return how a round ended, or None. Raises InputError if it cannot be."""
    return check_word(word, field="ended", words=ENDED[:-1]) if word else None


def day_of(word: str, *, now: datetime) -> date:
    """Return a day, today's if left out. Raises InputError if it cannot be."""
    return check_day(word) if word else now.astimezone().date()


def seconds_of(word: str, *, field: str) -> float:
    """Return seconds that are a number. Raises InputError if they are none."""
    try:
        found = float(word)
    except ValueError as error:
        raise InputError(f"{field} = {word[:40]!r} is not a number of seconds") from error
    if not math.isfinite(found):
        raise InputError(f"{field} = {found} is not a number of seconds")
    return found


def _counts_planned(counts: str, round_s: str, *, tempo_bpm: float | None) -> int | None:
    """Return the counts of the round, however they were told."""
    if counts and round_s:
        raise InputError("say --counts or --round-s, not both")
    if counts:
        return check_whole(counts, field="counts", lowest=1, highest=_MOST_COUNTS)
    if not round_s:
        return None
    if tempo_bpm is None:
        raise InputError("--round-s needs the tempo: say --tempo 104, or say --counts")
    found = counts_of_round(tempo_bpm=tempo_bpm, round_s=seconds_of(round_s, field="round_s"))
    if not 1 <= found <= _MOST_COUNTS:
        raise InputError(
            f"round_s = {round_s} cannot be; want a round of 1 to {_MOST_COUNTS} counts"
        )
    return found
