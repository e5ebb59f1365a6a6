"""Rows of the chart as the rounds that tell of a hand, and what to know with them.

A number outweighs the words beside it: where they contradict each other the number counts, and a
note says of how many rounds that is so.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind, RoundSeen
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.round_tags import HELD_TO_THE_END, RoundTags

__all__ = [
    "PlayerRounds",
    "kind_of",
    "kind_place",
    "rounds_for",
    "rounds_of_rows",
    "with_notes",
]

_BROKEN_OFF = ("stopped by choice", "recording ended")
_HURTS = ("pain", "tense")
_HANDS = {"left": 0, "right": 1, "alternating": 2}


@dataclass(frozen=True)
class PlayerRounds:
    """Rounds of one player.

    Attributes
    ----------
    rounds : those with a count, in the order played
    notes : of each kind that is on the chart, sentences to show with its answers
    """

    rounds: tuple[RoundSeen, ...]
    notes: Mapping[HandKind, tuple[str, ...]]

    @property
    def kinds(self) -> tuple[HandKind, ...]:
        """Kinds of which there are rounds with a count, in the order of ``kind_place``."""
        return tuple(sorted({each.kind for each in self.rounds}, key=kind_place))


def kind_of(tags: RoundTags) -> HandKind:
    """Return the kind of a round."""
    return HandKind(tags.hand, tags.technique, tags.surface, tags.loudness, tags.places_per_count)


def kind_place(kind: HandKind) -> tuple[str | int, ...]:
    """Order of kinds: left, right, alternating, then by the other tags.

    Examples
    --------
    >>> right = HandKind("right", None, "pad", None, 4)
    >>> kind_place(right) > kind_place(HandKind("left", None, "pad", None, 4))
    True
    """
    words = (kind.technique or "", kind.surface or "", kind.loudness or "")
    return (_HANDS[kind.hand], *words, kind.places_per_count)


def rounds_of_rows(rows: Iterable[ChartRow]) -> PlayerRounds:
    """Rounds of a player's rows.

    Parameters
    ----------
    rows : of one player, those that count; those without a place in their day come after the
        others, in the order of the file
    """
    rounds: list[RoundSeen] = []
    said: Counter[tuple[HandKind, str]] = Counter()
    kinds: dict[HandKind, HandKind] = {}
    day, order = date.min, 0
    for row in sorted(rows, key=_place):
        kind = kind_of(row.tags)
        kind = kinds.setdefault(kind, kind)
        day, order = row.day, 1 if row.day != day else order + 1
        for what in _what_to_say(row):
            said[kind, what] += 1
        if row.count_held is not None:
            rounds.append(_round(row, kind, order=order, count_held=row.count_held))
    notes = {
        kind: tuple(
            words(said[kind, what]) for what, words in _SENTENCES.items() if said[kind, what]
        )
        for kind in kinds
    }
    return PlayerRounds(tuple(rounds), notes)


def rounds_for(rounds: Sequence[RoundSeen], kind: HandKind, *, as_of: date) -> list[RoundSeen]:
    """Rounds that bear on a kind: its own, and what was played before them on the same days.

    Parameters
    ----------
    rounds : of one player, in the order played
    as_of : later rounds are left out, but for the kind's own
    """
    last = {each.day: each.order for each in rounds if each.kind == kind}
    return [
        each
        for each in rounds
        if each.order <= last.get(each.day, -1) and (each.day <= as_of or each.kind == kind)
    ]


def with_notes(reach: Reach, notes: Iterable[str]) -> Reach:
    """Return a reach that says more."""
    return replace(reach, notes=(*reach.notes, *notes))


def _place(row: ChartRow) -> tuple[date, bool, int]:
    """Place of a row; Python's sort keeps those in the same place as they were."""
    return (row.day, row.order is None, row.order or 0)


def _round(row: ChartRow, kind: HandKind, *, order: int, count_held: int) -> RoundSeen:
    broken_off = row.ended in _BROKEN_OFF
    return RoundSeen(
        day=row.day,
        order=order,
        kind=kind,
        tempo_bpm=row.tags.tempo_bpm,
        round_s=row.tags.round_s,
        count_held=count_held,
        held_on=broken_off or count_held >= row.tags.counts,
        rest_s=None,
    )


def _what_to_say(row: ChartRow) -> list[str]:
    """Name what is to be said of a row."""
    held, counts, ended = row.count_held, row.tags.counts, row.ended
    if held is None:
        return ["not judged"]
    found = []
    if ended == "stopped by choice" and row.tags.feel in _HURTS:
        found.append("stopped hurt")
    if ended == HELD_TO_THE_END:
        at_odds = held < counts
    else:
        at_odds = held >= counts and ended is not None and ended not in _BROKEN_OFF
    if at_odds or held > counts:
        found.append("at odds")
    return found


def _not_judged(count: int) -> str:
    were = "1 round was" if count == 1 else f"{count} rounds were"
    return f"{were} not judged and left out."


def _stopped_hurt(count: int) -> str:
    were = "1 round was" if count == 1 else f"{count} rounds were"
    it = "it is" if count == 1 else "they are"
    return (
        f"{were} stopped by choice with pain or tension: {it} taken as held so far, which may "
        "make the hand look better than it is."
    )


def _at_odds(count: int) -> str:
    say = "1 round says" if count == 1 else f"{count} rounds say"
    return f"{say} one thing in words and another in the count: the count was taken."


_SENTENCES = {"not judged": _not_judged, "stopped hurt": _stopped_hurt, "at odds": _at_odds}
