"""Fit every hand of a studio anew where need be, and score its forecasts, on several processes."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from loosehand.studio.chart import player_names
from loosehand.studio.database import Studio
from loosehand.studio.reach_hands import in_turn
from loosehand.studio.reach_store import plan_player, save_work
from loosehand.studio.reach_work import do_work

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

    Parameters
    ----------
    processes : how many at once, None for one a core
    with_record : whether to foretell, too
    done : told the name of each player that is done
    """
    with studio.look() as session:
        names = player_names(session)
    plans = [plan_player(studio, name, today=today, with_record=with_record) for name in names]
    work = [hand for plan in plans for hand in plan.to_do]
    results = in_turn(do_work, work, processes=processes)
    fitted = weeks = not_saved = 0
    for plan in plans:
        own = [next(results) for _ in plan.to_do]
        not_saved += not save_work(studio, plan, own)
        fitted += sum(each.reach is not None for each in own)
        weeks += sum(len(each.weeks) for each in own)
        done(plan.player)
    return Refreshed(len(plans), sum(len(plan.hands) for plan in plans), fitted, weeks, not_saved)
