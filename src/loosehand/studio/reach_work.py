"""What is to be fitted and foretold of a player's hands, and how to tell that it was done before.

A fingerprint is of everything that goes into a fit: the rounds that bear on the hand, the day
told of, the notes and the code. So a hand is fitted again if and only if one of them changed.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from importlib import resources

from loosehand.reach.reach import Reach
from loosehand.reach.record import WeekForetold, foretell_week, origins_of
from loosehand.reach.seen import HandKind, RoundSeen
from loosehand.studio.reach_hands import HandJob, fit_job
from loosehand.studio.reach_rounds import PlayerRounds, rounds_for

__all__ = [
    "STALE_DAYS",
    "HandDone",
    "HandWork",
    "code_version",
    "day_told_of",
    "do_work",
    "work_of_rounds",
]

STALE_DAYS = 60
"""So long after the last round today is told of; later, the day of the last round."""
_WEEK = timedelta(days=7)
_TELL_ONLY = ("compare.py", "report.py", "stored.py")


@dataclass(frozen=True)
class HandWork:
    """A hand, and what may be to do of it.

    Attributes
    ----------
    job : what a fit needs
    fingerprint : of the fit
    weeks : fingerprint of each week that can be foretold, by its Monday
    to_fit : whether to fit it
    to_foretell : Mondays of the weeks to foretell
    """

    job: HandJob
    fingerprint: str
    weeks: Mapping[date, str]
    to_fit: bool = True
    to_foretell: tuple[date, ...] = ()


@dataclass(frozen=True)
class HandDone:
    """What came of the work: the fit, or None where none was to do; the weeks."""

    reach: Reach | None
    weeks: tuple[WeekForetold, ...]


def day_told_of(days: Iterable[date], *, today: date) -> date:
    """Day of which a player's hands are told.

    It is today while the last round is at most 60 days ago, else the day of the last round; rounds
    dated later than today do not count.

    Examples
    --------
    >>> day_told_of([date(2027, 1, 1)], today=date(2027, 3, 1))
    datetime.date(2027, 3, 1)
    >>> day_told_of([date(2027, 1, 1)], today=date(2027, 3, 3))
    datetime.date(2027, 1, 1)
    """
    last = max((day for day in days if day <= today), default=today)
    return today if (today - last).days <= STALE_DAYS else last


def work_of_rounds(player: str, rounds: PlayerRounds, *, as_of: date) -> list[HandWork]:
    """Return the hands of a player that can be told of, with their fingerprints.

    Parameters
    ----------
    as_of : the day told of; hands that have no round with a count up to it are left out
    """
    first: dict[HandKind, date] = {}
    for each in rounds.rounds:
        first.setdefault(each.kind, each.day)
    return [
        _work(player, kind, rounds, as_of=as_of) for kind in rounds.kinds if first[kind] <= as_of
    ]


def do_work(work: HandWork) -> HandDone:
    """Fit and foretell what is to do of a hand."""
    job = work.job
    weeks = [foretell_week(job.rounds, kind=job.kind, origin=origin) for origin in work.to_foretell]
    return HandDone(fit_job(job) if work.to_fit else None, tuple(weeks))


@lru_cache
def code_version() -> str:
    """Fingerprint of the code that a fit depends on: the reach, and how rows are read for it."""
    digest = hashlib.sha256()
    for package in ("loosehand.reach", "loosehand.studio"):
        for file in sorted(resources.files(package).iterdir(), key=lambda each: each.name):
            if _bears_on_fits(package, file.name):
                digest.update(file.name.encode() + file.read_bytes())
    return digest.hexdigest()


def _bears_on_fits(package: str, name: str) -> bool:
    """Whether a module has a say in a fit or a forecast, and not only in how it is told."""
    if package == "loosehand.studio":
        return name == "reach_rounds.py"
    return name.endswith(".py") and name not in _TELL_ONLY


def _work(player: str, kind: HandKind, rounds: PlayerRounds, *, as_of: date) -> HandWork:
    job = HandJob(
        player, kind, tuple(rounds_for(rounds.rounds, kind, as_of=as_of)), as_of, rounds.notes[kind]
    )
    origins = origins_of(job.rounds, kind=kind, as_of=as_of)
    fingerprint, weeks = _fingerprints(job, origins)
    return HandWork(job, fingerprint, weeks)


def _fingerprints(job: HandJob, origins: Iterable[date]) -> tuple[str, dict[date, str]]:
    """Fingerprint of a fit, and of each week: of all rounds up to its end."""
    digest = hashlib.sha256(f"{code_version()} {job.kind!r}".encode())
    weeks: dict[date, str] = {}
    left = sorted(origins)
    for each in job.rounds:
        while left and each.day >= left[0] + _WEEK:
            weeks[left.pop(0)] = digest.hexdigest()
        digest.update(_line(each, job.kind))
    weeks |= {origin: digest.hexdigest() for origin in left}
    digest.update(f"{job.as_of} {job.notes!r}".encode())
    return digest.hexdigest(), weeks


def _line(each: RoundSeen, kind: HandKind) -> bytes:
    """Everything of a round that a fit may look at."""
    whose = "" if each.kind == kind else repr(each.kind)
    return (
        f"{each.day} {each.order} {each.tempo_bpm!r} {each.round_s!r} {each.count_held} "
        f"{each.held_on} {each.rest_s!r} {whose}\n"
    ).encode()
