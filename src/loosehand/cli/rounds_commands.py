"""The command that proposes the rounds of a day."""

import json
from typing import Annotated

import typer

from loosehand.cli.options import StudioPath
from loosehand.cli.speech import say
from loosehand.cli.studio_access import draw_table, present_moment, studio_at
from loosehand.errors import InputError

__all__ = ["rounds"]


def rounds(
    player: Annotated[
        str, typer.Option("--player", help="Whose; may be left out where there is only one.")
    ] = "",
    minutes: Annotated[
        str, typer.Option("--minutes", help="Time there is; 20 if left out, 'any' for no end.")
    ] = "20",
    full_ladder: Annotated[
        bool, typer.Option("--full-ladder", help="The common ladder, 60 to 140 by 5.")
    ] = False,
    light: Annotated[
        bool, typer.Option("--light", help="After pain: light and slow rounds instead of rest.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON.")] = False,
    studio: StudioPath = "",
) -> int:
    """Propose the rounds of today, and say why.

    Nothing is written down. Warm and a little tired may be fine. Pain, tingling, numbness or
    weakness means stop. This is coaching, not medical advice.
    """
    from loosehand.rounds.day_known import PlanAsked
    from loosehand.studio.chart import player_names
    from loosehand.studio.plan_report import plan_to_json
    from loosehand.studio.plan_today import DayAsked, day_rng, plan_for

    asked = PlanAsked(_minutes(minutes), full_ladder=full_ladder, light_anyway=light)
    now = present_moment()
    with studio_at(studio, create=False) as opened:
        with opened.look() as session:
            name = _only(player, player_names(session))
        rng = day_rng(name, now.astimezone().date())
        day = plan_for(opened, name, DayAsked(asked), now=now, rng=rng)
    if as_json:
        say(json.dumps(plan_to_json(day, player=name), allow_nan=False))
        return 0
    from loosehand.studio.terminal_plan import plan_table

    draw_table(plan_table(day, player=name))
    return 0


def _minutes(word: str) -> float | None:
    """Return the time there is, None for any."""
    if word == "any":
        return None
    try:
        return float(word)
    except ValueError as error:
        raise InputError(f"minutes = {word[:40]!r} is not a number; want one, or any") from error


def _only(player: str, known: list[str]) -> str:
    """Return the player asked for, or the only one there is."""
    if player:
        return player
    if len(known) == 1:
        return known[0]
    raise InputError(
        f"say whose rounds, with --player: the studio knows {', '.join(known[:10]) or 'nobody'}"
    )
