"""A round while it runs: which counts are locked, where it broke, when it is over.

What is said here may be taken back: the reading that goes on the chart is made from the stored
sound. A break is told only when a count's places after it have settled.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from loosehand.hear.heard import CountGrid, Heard, ListenRequest, Quality, Strokes
from loosehand.judge.read_take import judge_hands
from loosehand.rounds.workout import PlannedRound

__all__ = ["RoundEnd", "RoundWatch", "Watched"]

RoundEnd = Literal["whole", "lost", "silence"]
_LOST_COUNTS = 4
_FEWEST_COUNTS_FOR_HABIT = 5
_SILENT_COUNTS = 2.0
_JUDGED_COUNTS = 12
"""So many of the last counts are judged anew, an even number: a hand keeps its places."""
_QUALITY = Quality(0.0, None, None, None, None, 0.0, (), (), None)


@dataclass(frozen=True)
class Watched:
    """What is known of a round so far.

    Attributes
    ----------
    counts : counts that have settled
    locked : for each of them, whether all its places are good
    held : counts held before the break, None while nothing broke
    end : why the round is over, or None
    """

    counts: int
    locked: tuple[bool, ...]
    held: int | None
    end: RoundEnd | None


class RoundWatch:
    """Follows a round.

    Parameters
    ----------
    planned : what is played
    first_count_s : time of count 1 in the sound's own clock
    play_out : whether only the end of the round ends it
    """

    def __init__(self, planned: PlannedRound, *, first_count_s: float, play_out: bool) -> None:
        self._planned = planned
        self._first_s = first_count_s
        self._count_s = 60.0 / planned.tempo_bpm
        self._play_out = play_out
        self._parts: list[Strokes] = []
        self._last_heard_s = first_count_s
        self._judged = Watched(0, (), None, None)

    @property
    def end_s(self) -> float:
        """Time at which the round's last count is over."""
        return self._first_s + self._planned.counts * self._count_s

    def push(
        self, heard: Strokes, settled: Strokes, *, settled_until_s: float, now_s: float
    ) -> Watched:
        """Take what the ear says and tell how the round stands.

        Parameters
        ----------
        heard : strokes heard at once
        settled : strokes that stand
        settled_until_s : no stroke before this time is still to settle
        now_s : how far the sound has come
        """
        if len(settled):
            self._parts.append(settled)
        if len(heard):
            self._last_heard_s = max(self._last_heard_s, float(heard.time_s[-1]))
        until_s = min(max(settled_until_s, self._first_s), self.end_s + self._count_s)
        counts = min(int((until_s - self._first_s) / self._count_s), self._planned.counts)
        if counts > self._judged.counts:
            self._judged = self._judge(counts)
        self._judged = Watched(
            self._judged.counts, self._judged.locked, self._judged.held, self._end(now_s)
        )
        return self._judged

    def _judge(self, counts: int) -> Watched:
        """Judge the counts that have settled: the last ones, those before were judged already."""
        planned = self._planned
        before = self._judged
        base = max((counts if before.held is None else before.held) - _JUDGED_COUNTS, 0) // 2 * 2
        first_s = self._first_s + base * self._count_s
        grid = CountGrid(
            first_s, self._count_s, counts - base, planned.places_per_count, "told", 1.0
        )
        strokes = _joined(self._parts, since_s=first_s - 0.5 * grid.place_s)
        if not len(strokes):
            return Watched(counts, (False,) * counts, 0, None)
        request = ListenRequest(
            planned.tempo_bpm, planned.places_per_count, planned.hand, counts - base, first_s
        )
        hands, _ = judge_hands(Heard(strokes, grid, _QUALITY, None), request)
        own = [hand.hold.good.reshape(counts - base, -1).all(axis=1) for hand in hands]
        locked = (*before.locked[:base], *np.logical_and.reduce(own).tolist())
        held = base + min(hand.hold.count_held for hand in hands)
        # A break is told a count late: its places may be forgiven until then.
        return Watched(counts, locked, held if held < counts - 1 else None, None)

    def _end(self, now_s: float) -> RoundEnd | None:
        """Whether, and why, the round is over."""
        if now_s >= self.end_s:
            return "whole"
        if self._play_out:
            return None
        if now_s - self._last_heard_s > _SILENT_COUNTS * self._count_s:
            return "silence"
        # A gallop is told from a lost click only when it has come back often enough.
        known = self._judged.counts >= _FEWEST_COUNTS_FOR_HABIT
        return "lost" if known and not any(self._judged.locked[-_LOST_COUNTS:]) else None


def _joined(parts: list[Strokes], *, since_s: float) -> Strokes:
    """Strokes one after the other, from a time on."""
    if not parts:
        empty = np.zeros(0)
        return Strokes(empty, empty, empty, np.zeros((0, 1)))
    whole = Strokes(
        np.concatenate([part.time_s for part in parts]),
        np.concatenate([part.level_db for part in parts]),
        np.concatenate([part.confidence for part in parts]),
        np.concatenate([part.timbre_db for part in parts]),
    )
    return whole.some(whole.time_s >= since_s)
