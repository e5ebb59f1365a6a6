"""Fit the hands of a studio anew where need be, and score forecasts, on several processes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from loosehand.reach.report import HandReach
from loosehand.studio.chart import player_names
from loosehand.studio.database import Studio
from loosehand.studio.reach_hands import HandJob, workers
from loosehand.studio.reach_store import do_players, plan_player, reach_of, save_work

__all__ = ["Refreshed", "refresh_studio", "stored_reach_of_hands"]

_FEW_PLAYERS = 4
"""The hands of fewer players are fitted sooner than another process has begun."""


@dataclass(frozen=True)
class Refreshed:
    """What was done: players looked at, hands in all, those fitted, weeks foretold and scored.

    ``not_saved`` counts players whose chart changed meanwhile, or that could not be stored.
    """

    players: int
    hands: int
    fitted: int
    weeks: int
    not_saved: int


def refresh_studio(
    studio: Studio,
    *,
    today: date,
    processes: int | None,
    with_record: bool,
    done: Callable[[str], None] = lambda player: None,
) -> Refreshed:
    """Fit every hand whose rounds changed, and foretell the weeks that were not scored yet.

    What pages only went on with after a round is fitted from the beginning.

    Parameters
    ----------
    processes : how many at once, None for one a core
    with_record : whether to foretell, too
    done : told the name of each player that is done
    """
    with studio.look() as session:
        names = player_names(session)
    return _refreshed(
        studio,
        names,
        today=today,
        processes=processes,
        with_record=with_record,
        afresh=True,
        done=done,
    )


def stored_reach_of_hands(
    studio: Studio, jobs: Sequence[HandJob], *, today: date, processes: int | None
) -> list[HandReach]:
    """What hands can hold, from the stored fits; what changed is fitted and stored first.

    Parameters
    ----------
    jobs : hands on the studio's chart up to today
    processes : how many at once, None for one a core where there are many players
    """
    names = list(dict.fromkeys(job.player for job in jobs))
    at_once = 1 if processes is None and len(names) < _FEW_PLAYERS else processes
    _refreshed(
        studio,
        names,
        today=today,
        processes=at_once,
        with_record=False,
        afresh=False,
        done=lambda player: None,
    )
    found = {
        (name, each.kind): each.reach
        for name in names
        for each in reach_of(studio, name, today=today)
    }
    return [HandReach(job.player, found[job.whose]) for job in jobs]


def _refreshed(
    studio: Studio,
    names: Sequence[str],
    *,
    today: date,
    processes: int | None,
    with_record: bool,
    afresh: bool,
    done: Callable[[str], None],
) -> Refreshed:
    """Do what is to do of some players."""
    plans = [
        plan_player(studio, name, today=today, with_record=with_record, afresh=afresh)
        for name in names
    ]
    fitted = weeks = not_saved = 0
    with workers(processes, jobs=sum(len(plan.to_do) for plan in plans)) as run:
        for plan, own in do_players(plans, run):
            not_saved += not save_work(studio, plan, own)
            fitted += sum(each.reach is not None for each in own)
            weeks += sum(len(each.weeks) for each in own)
            done(plan.player)
    return Refreshed(len(plans), sum(len(plan.hands) for plan in plans), fitted, weeks, not_saved)
