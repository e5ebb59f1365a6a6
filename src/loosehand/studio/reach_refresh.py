"""Fit every hand of a studio anew where need be, and score its forecasts, on several processes."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from loosehand.studio.chart import player_names
from loosehand.studio.database import Studio
from loosehand.studio.reach_hands import workers
from loosehand.studio.reach_store import do_players, plan_player, save_work

__all__ = ["Refreshed", "refresh_studio"]


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
    plans = [
        plan_player(studio, name, today=today, with_record=with_record, afresh=True)
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
