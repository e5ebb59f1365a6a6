"""The reach of every hand on a chart, fitted in this process or on several."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol, TypeVar

from loosehand.errors import InputError
from loosehand.reach.fit import fit_hand
from loosehand.reach.pool import leaning_prior
from loosehand.reach.prior import NOBODY_KNOWN, Prior
from loosehand.reach.reach import Reach
from loosehand.reach.report import HandReach
from loosehand.reach.seen import HandKind, RoundSeen
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.reach_lean import donors_of, known_hand, leaning_note
from loosehand.studio.reach_rounds import (
    PlayerRounds,
    kind_of,
    rounds_for,
    rounds_of_rows,
    with_notes,
)

__all__ = [
    "ChartHands",
    "HandJob",
    "Workers",
    "fit_job",
    "hands_of_rows",
    "jobs_of_rounds",
    "reach_of_hands",
    "ready_job",
    "workers",
]

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
    leans_on : the hand to be fitted before it, on which it leans, or None
    prior : what is believed beforehand; see ``ready_job``
    """

    player: str
    kind: HandKind
    rounds: tuple[RoundSeen, ...]
    as_of: date
    notes: tuple[str, ...]
    leans_on: "HandJob | None" = None
    prior: Prior = NOBODY_KNOWN

    @property
    def whose(self) -> tuple[str, HandKind]:
        """Player and kind."""
        return self.player, self.kind


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
        told = [
            job for job in jobs_of_rounds(name, rounds_of_rows(own), as_of=day) if job.kind in asked
        ]
        jobs += told
        if untold := len(asked) - len(told):
            notes.append(_untold(name, untold, day))
    if not jobs:
        raise InputError(f"no round with a count is on the chart up to {day}: {' '.join(notes)}")
    return ChartHands(day, tuple(jobs), tuple(notes))


def jobs_of_rounds(player: str, rounds: PlayerRounds, *, as_of: date) -> list[HandJob]:
    """Hands of a player that can be told of, with what they lean on.

    Parameters
    ----------
    as_of : the day told of; hands that have no round with a count up to it are left out
    """
    jobs = {
        kind: HandJob(
            player,
            kind,
            tuple(rounds_for(rounds.rounds, kind, as_of=as_of)),
            as_of,
            rounds.notes[kind],
        )
        for kind in rounds.kinds
        if any(each.kind == kind and each.day <= as_of for each in rounds.rounds)
    }
    known = {kind: known_hand(job.rounds, kind, as_of=as_of) for kind, job in jobs.items()}
    for kind, donor in donors_of(list(known.values()), as_of=as_of).items():
        notes = (*jobs[kind].notes, leaning_note(known[kind], donor))
        jobs[kind] = replace(jobs[kind], notes=notes, leans_on=jobs[donor])
    return list(jobs.values())


def ready_job(job: HandJob, donor: Reach | None) -> HandJob:
    """Return the job of a hand that waits for no other.

    Parameters
    ----------
    donor : what the hand that it leans on holds; None if it leans on none
    """
    if donor is None:
        return job
    return replace(job, leans_on=None, prior=leaning_prior(job.kind, donor))


def fit_job(job: HandJob) -> Reach:
    """Fit a hand."""
    reach = fit_hand(job.rounds, kind=job.kind, as_of=job.as_of, prior=job.prior)
    return with_notes(reach, job.notes)


def reach_of_hands(jobs: Sequence[HandJob], *, processes: int | None) -> list[HandReach]:
    """Fit hands: the well known first, then those that lean on them.

    Parameters
    ----------
    jobs : the hands
    processes : how many at once; None for one a core, where there are many hands
    """
    first = {job.whose: job for job in (each.leans_on or each for each in jobs)}
    then = [job for job in jobs if job.leans_on is not None]
    at_once = 1 if processes is None and len(jobs) < _FEW_JOBS else processes
    with workers(at_once, jobs=max(len(first), len(then))) as run:
        found = dict(zip(first, run(fit_job, list(first.values())), strict=True))
        ready = [ready_job(job, found[job.leans_on.whose]) for job in then if job.leans_on]
        found |= {job.whose: reach for job, reach in zip(ready, run(fit_job, ready), strict=True)}
    return [HandReach(job.player, found[job.whose]) for job in jobs]


class Workers(Protocol):
    """What does jobs."""

    def __call__(self, work: Callable[[Job], Done], jobs: Sequence[Job], /) -> Iterator[Done]:
        """Yield what comes of jobs in their order.

        Parameters
        ----------
        work : a function that can be named from another process
        jobs : that can be sent to one
        """


@contextmanager
def workers(processes: int | None, *, jobs: int) -> Iterator[Workers]:
    """Make ready what does jobs: this process for one, else a pool.

    Parameters
    ----------
    processes : how many, None for one a core
    jobs : how many there are at most; for a single one no other process is begun
    """
    if processes == 1 or jobs < 2:
        yield map
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        yield pool.map


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


def _untold(player: str, kinds: int, day: date) -> str:
    what = "1 kind" if kinds == 1 else f"{kinds} kinds"
    has = "has" if kinds == 1 else "have"
    return f"Of {player}, {what} of rounds {has} no round with a count up to {day}, and no answer."
