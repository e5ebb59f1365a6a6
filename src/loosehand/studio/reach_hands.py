"""The reach of every hand on a chart, fitted in this process or on several."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from loosehand.errors import InputError
from loosehand.reach.fit import fit_hand
from loosehand.reach.reach import Reach
from loosehand.reach.report import HandReach
from loosehand.reach.seen import HandKind, RoundSeen
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.reach_rounds import kind_of, rounds_for, rounds_of_rows, with_notes

__all__ = ["ChartHands", "HandJob", "fit_job", "hands_of_rows", "in_turn", "reach_of_hands"]

Job = TypeVar("Job")
Done = TypeVar("Done")
_FEW_JOBS = 9
"""Up to so many hands are fitted sooner than another process has begun."""


@dataclass(frozen=True)
class HandJob:
    """A hand to fit.

    Attributes
    ----------
    player, kind : whose
    rounds : that bear on it, in the order played
    as_of : the day told of
    notes : sentences to show with the answer
    """

    player: str
    kind: HandKind
    rounds: tuple[RoundSeen, ...]
    as_of: date
    notes: tuple[str, ...]


@dataclass(frozen=True)
class ChartHands:
    """The hands of a chart.

    Attributes
    ----------
    as_of : the day told of
    jobs : hands that can be told of, in order
    notes : sentences about hands that cannot
    """

    as_of: date
    jobs: tuple[HandJob, ...]
    notes: tuple[str, ...]


def hands_of_rows(
    rows: Sequence[ChartRow], *, player: str | None, hand: str | None, as_of: date | None
) -> ChartHands:
    """Sort the rows of a chart into hands that can be told of.

    Parameters
    ----------
    rows : of any players, those that count
    player, hand : of which alone is told, None for all
    as_of : the day told of, None for the last of the chart

    Raises
    ------
    InputError   if the chart is empty, or has no round of the player, of the hand, up to the day
    """
    if not rows:
        raise InputError("the chart holds no rounds: there is nothing to tell of")
    day = max(row.day for row in rows) if as_of is None else as_of
    chosen = _of_hand(_of_player(rows, player), hand)
    jobs: list[HandJob] = []
    notes: list[str] = []
    for name, own in sorted(_by_player(chosen).items()):
        asked = {kind_of(row.tags) for row in own if hand in (None, row.tags.hand)}
        found = rounds_of_rows(own)
        told = [
            each for each in found.kinds if each in asked and _has_past(found.rounds, each, day)
        ]
        jobs += [
            HandJob(
                name,
                kind,
                tuple(rounds_for(found.rounds, kind, as_of=day)),
                day,
                found.notes[kind],
            )
            for kind in told
        ]
        if untold := len(asked - set(told)):
            notes.append(_untold(name, untold, day))
    if not jobs:
        raise InputError(f"no round with a count is on the chart up to {day}: {' '.join(notes)}")
    return ChartHands(day, tuple(jobs), tuple(notes))


def fit_job(job: HandJob) -> Reach:
    """Fit a hand."""
    reach = fit_hand(job.rounds, kind=job.kind, as_of=job.as_of)
    return with_notes(reach, job.notes)


def reach_of_hands(jobs: Sequence[HandJob], *, processes: int | None) -> list[HandReach]:
    """Fit hands.

    Parameters
    ----------
    jobs : the hands
    processes : how many at once; None for one a core, where there are many hands
    """
    at_once = 1 if processes is None and len(jobs) < _FEW_JOBS else processes
    done = in_turn(fit_job, jobs, processes=at_once)
    return [HandReach(job.player, reach) for job, reach in zip(jobs, done, strict=True)]


def in_turn(
    work: Callable[[Job], Done], jobs: Sequence[Job], *, processes: int | None
) -> Iterator[Done]:
    """Do jobs, in this process for one, else on a pool; yield what comes of them in their order.

    Parameters
    ----------
    work : a function that can be named from another process
    jobs : that can be sent to one
    processes : how many, None for one a core
    """
    if processes == 1 or len(jobs) < 2:
        yield from map(work, jobs)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        yield from pool.map(work, jobs)


def _of_player(rows: Sequence[ChartRow], player: str | None) -> list[ChartRow]:
    found = [row for row in rows if player in (None, row.player)]
    if not found:
        known = ", ".join(sorted({row.player for row in rows})[:10])
        raise InputError(f"there is no player {player!r} on this chart; it knows {known}")
    return found


def _of_hand(rows: list[ChartRow], hand: str | None) -> list[ChartRow]:
    """Check that there are rounds of a hand; the others stay, since they tire it."""
    if hand is not None and all(row.tags.hand != hand for row in rows):
        known = ", ".join(sorted({row.tags.hand for row in rows}))
        raise InputError(f"there is no round of hand {hand!r} on this chart; it has {known}")
    return rows


def _by_player(rows: Iterable[ChartRow]) -> dict[str, list[ChartRow]]:
    found: dict[str, list[ChartRow]] = {}
    for row in rows:
        found.setdefault(row.player, []).append(row)
    return found


def _has_past(rounds: Iterable[RoundSeen], kind: HandKind, day: date) -> bool:
    return any(each.kind == kind and each.day <= day for each in rounds)


def _untold(player: str, kinds: int, day: date) -> str:
    what = "1 kind" if kinds == 1 else f"{kinds} kinds"
    has = "has" if kinds == 1 else "have"
    return f"Of {player}, {what} of rounds {has} no round with a count up to {day}, and no answer."
