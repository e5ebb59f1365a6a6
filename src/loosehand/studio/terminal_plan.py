"""A day's plan drawn in a terminal: why, then the rounds in order, then the reasons."""

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from loosehand.rounds.plan_steps import Length, Plan
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.plan_today import PlannedDay

__all__ = ["plan_table"]

_NAMES = {"hold": "hold to failure"}
_FOUR_PLACES = 4


def plan_table(day: PlannedDay, *, player: str) -> RenderableType:
    """Draw a plan.

    Parameters
    ----------
    day : with its plan
    player : whose
    """
    plan = day.plan
    parts: list[RenderableType] = [Text(f"{player} on {day.day}{_kind(day)}"), Text(plan.why)]
    parts += [Text(caution) for caution in plan.cautions]
    if plan.steps:
        parts += [Text(), _rounds(plan), Text(), *(Text(each.why) for each in plan.whys)]
        parts.append(Text(_length(plan.length)))
    parts.append(Text(CARE_SHORT))
    return Group(*parts)


def _kind(day: PlannedDay) -> str:
    """Say what is played."""
    kind = day.kind
    words = [word for word in (kind.technique, kind.surface, kind.loudness) if word]
    if kind.places_per_count != _FOUR_PLACES:
        words.append(f"{kind.places_per_count} places a count")
    return f": {', '.join(words)}" if words else ""


def _rounds(plan: Plan) -> Table:
    """Draw the rounds in order."""
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 2, 0, 0), pad_edge=False)
    table.add_column("", justify="right")
    for name in ("hand", "for"):
        table.add_column(name)
    for name in ("tempo", "seconds", "likely held"):
        table.add_column(name, justify="right")
    for at, step in enumerate(plan.steps, start=1):
        planned = step.planned
        cells = (
            str(at),
            planned.hand,
            _NAMES.get(step.block, step.block),
            f"{planned.tempo_bpm:g}",
            f"{planned.round_s:g}",
            "" if step.chance is None else _percent(step.chance),
        )
        table.add_row(*map(Text, cells))
    return table


def _percent(chance: float) -> str:
    """Write a chance in whole percent, never as certain."""
    return f"{min(max(round(100.0 * chance), 1), 99)} %"


def _length(length: Length) -> str:
    """Say how long it takes."""
    minutes = max(round(length.expected_s / 60.0), 1)
    return f"About {minutes} minute{'s' if minutes > 1 else ''}, with sound check and rests."
