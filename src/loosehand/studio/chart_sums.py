"""What a day, or a month, says of a hand: its rounds by tempo, its edge, and the gap of the hands.

A tempo is held on a day (in a month) when at least half of its rounds were held to their end. The
edge is the highest tempo held. It is bounded where a faster tempo was tried and not held: else the
hand may well hold more than was asked of it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from loosehand.studio.chart import ChartRound, MonthRounds
from loosehand.studio.round_tags import HELD_TO_THE_END, counts_of_round

__all__ = [
    "LEAST_COMPARED",
    "Edge",
    "HandGap",
    "RoundsAtTempo",
    "Sums",
    "commonest_length_s",
    "day_sums",
    "edge_of",
    "hand_gap",
    "month_sums",
]

LEAST_COMPARED = 3
"""Fewest days (months) that a gap is told from. Source: ours, not validated."""

_MOST_AGAINST = 0.25
"""Share of the days that may point to the other hand. Source: ours, not validated."""


@dataclass(frozen=True)
class RoundsAtTempo:
    """Rounds of one hand, one tempo and one length, on one day or in one month.

    Attributes
    ----------
    counts : that a round has
    counts_held : of the rounds that have a number
    held_to_the_end : how many of those were held to their end
    rounds : how many there are, with or without a number
    """

    counts: int
    counts_held: tuple[int, ...]
    held_to_the_end: int
    rounds: int

    @property
    def is_held(self) -> bool:
        """Whether at least half of the rounds with a number were held to their end."""
        return bool(self.counts_held) and 2 * self.held_to_the_end >= len(self.counts_held)

    @property
    def median_held(self) -> float | None:
        """Median of the counts held, None where there is no number."""
        return median(self.counts_held) if self.counts_held else None

    def together(self, other: "RoundsAtTempo") -> "RoundsAtTempo":
        """Lay the rounds of both together."""
        return RoundsAtTempo(
            self.counts,
            self.counts_held + other.counts_held,
            self.held_to_the_end + other.held_to_the_end,
            self.rounds + other.rounds,
        )


Sums = Mapping[str, Mapping[date, Mapping[float, RoundsAtTempo]]]
"""By hand, then by day (or first day of the month), then by tempo."""


@dataclass(frozen=True)
class Edge:
    """The highest tempo held, and whether a faster one was tried and not held."""

    tempo_bpm: float
    bounded: bool


@dataclass(frozen=True)
class HandGap:
    """How far the weak hand is behind the strong one.

    Attributes
    ----------
    gap_bpm : median gap of the edges, at least 0, or None where it cannot be said yet
    weak : the hand that holds less, None where neither does or it cannot be said yet
    compared : days (months) on which the edges of both hands are bounded
    """

    gap_bpm: float | None
    weak: str | None
    compared: int


def commonest_length_s(lengths: Mapping[float, int]) -> float | None:
    """Length of round that most rounds have (the longer of two alike), None where there is none.

    Parameters
    ----------
    lengths : how many rounds there are of each length in seconds
    """
    return max(lengths, key=lambda length_s: (lengths[length_s], length_s), default=None)


def day_sums(rounds: Iterable[ChartRound], *, round_s: float) -> Sums:
    """Sum rounds up by hand, day and tempo; those of another length are left out."""
    return _sums(
        (found.row.tags.hand, found.row.day, found.row.tags.tempo_bpm, _of_round(found))
        for found in rounds
        if found.row.tags.round_s == round_s
    )


def month_sums(months: Iterable[MonthRounds], *, round_s: float) -> Sums:
    """Sum rounds up by hand, month and tempo; those of another length are left out."""
    return _sums(
        (found.hand, found.month, found.tempo_bpm, _of_month(found))
        for found in months
        if found.round_s == round_s
    )


def edge_of(tempos: Mapping[float, RoundsAtTempo]) -> Edge | None:
    """Return the highest tempo held, None where none was."""
    held = [tempo_bpm for tempo_bpm, rounds in tempos.items() if rounds.is_held]
    if not held:
        return None
    faster = [rounds for tempo_bpm, rounds in tempos.items() if tempo_bpm > max(held)]
    return Edge(max(held), bounded=any(rounds.counts_held for rounds in faster))


def hand_gap(sums: Sums) -> HandGap:
    """Compare the edges of left and right on the days (months) on which both are bounded.

    Source
    ------
    Ours: the median of the differences. Not said from fewer than three days, nor where more than
    a quarter of the days point to the other hand.
    """
    left, right = sums.get("left", {}), sums.get("right", {})
    gaps_bpm = [
        gap_bpm
        for column in sorted(left.keys() & right.keys())
        if (gap_bpm := _gap_bpm(left[column], right[column])) is not None
    ]
    if len(gaps_bpm) < LEAST_COMPARED:
        return HandGap(None, None, len(gaps_bpm))
    middle_bpm = median(gaps_bpm)
    return _said(middle_bpm, gaps_bpm)


def _said(middle_bpm: float, gaps_bpm: Sequence[float]) -> HandGap:
    """Say the gap, or that the days disagree too much to say it."""
    against = sum(gap_bpm * middle_bpm < 0 for gap_bpm in gaps_bpm)
    if against > _MOST_AGAINST * len(gaps_bpm):
        return HandGap(None, None, len(gaps_bpm))
    weak = None if middle_bpm == 0 else "left" if middle_bpm > 0 else "right"
    return HandGap(abs(middle_bpm), weak, len(gaps_bpm))


def _gap_bpm(
    left: Mapping[float, RoundsAtTempo], right: Mapping[float, RoundsAtTempo]
) -> float | None:
    """Right edge less left edge, None where one of them is not bounded."""
    left_edge, right_edge = edge_of(left), edge_of(right)
    if left_edge is None or right_edge is None:
        return None
    if not (left_edge.bounded and right_edge.bounded):
        return None
    return right_edge.tempo_bpm - left_edge.tempo_bpm


def _sums(found: Iterable[tuple[str, date, float, RoundsAtTempo]]) -> Sums:
    """Lay rounds together that share hand, column and tempo."""
    sums: dict[str, dict[date, dict[float, RoundsAtTempo]]] = {}
    for hand, column, tempo_bpm, rounds in found:
        tempos = sums.setdefault(hand, {}).setdefault(column, {})
        there = tempos.get(tempo_bpm)
        tempos[tempo_bpm] = rounds if there is None else there.together(rounds)
    return sums


def _of_round(found: ChartRound) -> RoundsAtTempo:
    """One round."""
    count = found.row.count_held
    return RoundsAtTempo(
        counts=found.row.tags.counts,
        counts_held=() if count is None else (count,),
        held_to_the_end=int(found.held_to_the_end),
        rounds=1,
    )


def _of_month(found: MonthRounds) -> RoundsAtTempo:
    """Rounds of a month that ended alike."""
    counts = counts_of_round(tempo_bpm=found.tempo_bpm, round_s=found.round_s)
    if found.ended is None:
        held = sum(count >= counts for count in found.counts_held)
    else:
        held = len(found.counts_held) if found.ended == HELD_TO_THE_END else 0
    return RoundsAtTempo(counts, found.counts_held, held, found.rounds)
