"""What is to be fitted and foretold of a player's hands, and how to tell that it was done before.

A fingerprint is of everything that goes into a fit: the rounds that bear on the hand, those of
the hand that it leans on, the day told of, the notes and the code. So a hand is fitted again if
and only if one of them changed. Where nothing changed but that a few rounds came after the others,
the fit goes on from the one that was made without them, which is quicker.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from importlib import resources

from loosehand.reach.fit import refit_hand
from loosehand.reach.reach import Reach
from loosehand.reach.record import WeekForetold, foretell_week, origins_of
from loosehand.reach.seen import HandKind, RoundSeen
from loosehand.studio.reach_hands import HandJob, fit_job, jobs_of_rounds, ready_job
from loosehand.studio.reach_rounds import PlayerRounds, with_notes

__all__ = [
    "MOST_ADDED",
    "STALE_DAYS",
    "FitBefore",
    "HandDone",
    "HandWork",
    "code_version",
    "day_told_of",
    "do_work",
    "ready_work",
    "work_of_rounds",
]

STALE_DAYS = 60
"""So long after the last round today is told of; later, the day of the last round."""
MOST_ADDED = 20
"""After so many rounds more a hand is fitted from the beginning."""
_WEEK = timedelta(days=7)
_TELL_ONLY = ("alternatives.py", "compare.py", "practice_curves.py", "report.py", "stored.py")
_FIT_TOO = ("reach_lean.py", "reach_rounds.py")


@dataclass(frozen=True)
class FitBefore:
    """A fit that was made before the last rounds, and how many there are since the last whole one.

    Attributes
    ----------
    reach : the fit
    added : rounds that this one is to take in, and that others took in since it was fitted from
        the beginning
    """

    reach: Reach
    added: int


@dataclass(frozen=True)
class HandWork:
    """A hand, and what may be to do of it.

    Attributes
    ----------
    job : what a fit needs
    fingerprint : of the fit
    rounds_mark : fingerprint of the same but for the notes
    before : what ``rounds_mark`` was before the last rounds of the hand, with how many of them
    weeks : fingerprint of each week that can be foretold, by its Monday
    to_fit : whether to fit it
    go_on : the fit to go on from; None to fit from the beginning
    to_foretell : Mondays of the weeks to foretell
    """

    job: HandJob
    fingerprint: str
    rounds_mark: str
    before: Mapping[str, int]
    weeks: Mapping[date, str]
    to_fit: bool = True
    go_on: FitBefore | None = None
    to_foretell: tuple[date, ...] = ()


@dataclass(frozen=True)
class HandDone:
    """What came of the work.

    Attributes
    ----------
    reach : the fit, or None where none was to do
    weeks : that were foretold
    added : rounds taken in since the last fit from the beginning
    """

    reach: Reach | None
    weeks: tuple[WeekForetold, ...]
    added: int = 0


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
    jobs = jobs_of_rounds(player, rounds, as_of=as_of)
    marks: dict[HandKind, str] = {}
    found: dict[HandKind, HandWork] = {}
    # Those that lean on none come first: the mark of a hand has that of its donor in it.
    for job in sorted(jobs, key=lambda each: each.leans_on is not None):
        donor = marks[job.leans_on.kind] if job.leans_on else ""
        found[job.kind] = _work(job, donor)
        marks[job.kind] = found[job.kind].rounds_mark
    return [found[job.kind] for job in jobs]


def ready_work(work: HandWork, donor: Reach | None) -> HandWork:
    """Return work that waits for no other hand, and carries none along.

    Parameters
    ----------
    donor : what the hand that it leans on holds; None if it leans on none, or is not to be fitted
    """
    return replace(work, job=ready_job(replace(work.job, leans_on=None), donor))


def do_work(work: HandWork) -> HandDone:
    """Fit and foretell what is to do of a hand."""
    job = work.job
    weeks = tuple(
        foretell_week(job.rounds, kind=job.kind, origin=origin) for origin in work.to_foretell
    )
    if not work.to_fit:
        return HandDone(None, weeks)
    if work.go_on is None:
        return HandDone(fit_job(job), weeks)
    return HandDone(_refit_job(job, work.go_on.reach), weeks, work.go_on.added)


def _refit_job(job: HandJob, before: Reach) -> Reach:
    """Go on from a fit."""
    reach = refit_hand(before, job.rounds, as_of=job.as_of, prior=job.prior)
    return with_notes(reach, job.notes)


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
        return name in _FIT_TOO
    return name.endswith(".py") and name not in _TELL_ONLY


def _work(job: HandJob, donor: str) -> HandWork:
    """Lay out the work of a hand; ``donor`` is the mark of the one that it leans on."""
    told_of = f"{job.as_of} {donor}"
    digest = hashlib.sha256(f"{code_version()} {job.kind!r}".encode())
    weeks: dict[date, str] = {}
    before: dict[str, int] = {}
    left = sorted(origins_of(job.rounds, kind=job.kind, as_of=job.as_of))
    after = sum(each.kind == job.kind for each in job.rounds)
    for each in job.rounds:
        while left and each.day >= left[0] + _WEEK:
            weeks[left.pop(0)] = digest.hexdigest()
        digest.update(_line(each, job.kind))
        if each.kind == job.kind:
            after -= 1
            if after <= MOST_ADDED:
                before[_ended(digest, told_of)] = after
    weeks |= {origin: digest.hexdigest() for origin in left}
    mark = _ended(digest, told_of)
    fingerprint = hashlib.sha256(f"{mark} {job.notes!r}".encode()).hexdigest()
    return HandWork(job, fingerprint, mark, before, weeks)


def _ended(digest: "hashlib._Hash", words: str) -> str:
    """Fingerprint of what was digested so far and some words; the digest stays as it is."""
    ended = digest.copy()
    ended.update(words.encode())
    return ended.hexdigest()


def _line(each: RoundSeen, kind: HandKind) -> bytes:
    """Everything of a round that a fit may look at."""
    whose = "" if each.kind == kind else repr(each.kind)
    return (
        f"{each.day} {each.order} {each.tempo_bpm!r} {each.round_s!r} {each.count_held} "
        f"{each.held_on} {each.rest_s!r} {whose}\n"
    ).encode()
