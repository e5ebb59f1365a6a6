"""The reach drawn in a terminal: a table for each player, and its notes in words below."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from loosehand.studio.terminal_chart import day_head

__all__ = ["reach_tables"]

_HOW_TO_READ = (
    "A tempo is held that long every other time, on a day of average form; below it stands the "
    "range that holds 80 chances in 100."
)
_BEYOND = "*"
_LEGEND = f"{_BEYOND} beyond what was seen: no hold that long is on the chart"


def reach_tables(report: dict[str, Any]) -> RenderableType:
    """Draw what hands can hold.

    Parameters
    ----------
    report : object of ``loosehand.reach/1``
    """
    hands = report["hands"]
    parts: list[RenderableType] = []
    for player in dict.fromkeys(hand["player"] for hand in hands):
        own = [hand for hand in hands if hand["player"] == player]
        parts += [
            Text(f"Reach of {player} on {report['as_of']}: tempos in counts a minute"),
            _table(own),
            *_words(own),
            Text(),
        ]
    if any(hand["beyond_seen"] or _chance_is_beyond(hand) for hand in hands):
        parts.append(Text(_LEGEND))
    parts.append(Text(_HOW_TO_READ))
    return Group(*parts, *(Text(note) for note in report["notes"]))


def _table(hands: Sequence[dict[str, Any]]) -> Table:
    """Draw a player's hands, one a row: a figure, and its range below it."""
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0), pad_edge=False)
    asked = hands[0].get("chance")
    heads = ["for\na minute", "for four\nminutes", "gain\na month", "better\nsince"]
    if asked is not None:
        heads.append(f"{asked['tempo_bpm']:g}\nfor {asked['time_s']:g} s")
    table.add_column("hand, rounds\nand kind")
    for name in heads:
        table.add_column(name, justify="right", no_wrap=True)
    for hand in hands:
        improved = hand["improved"]
        cells = [
            f"{hand['hand']}, {_rounds(hand['rounds'])}\n{_kind(hand)}",
            _held(hand, "60"),
            _held(hand, "240"),
            _figure(hand["trend_bpm_per_month"], "{:+.1f}"),
            f"{_percent(improved['probability'])}\n{_short_day(improved['since'])}",
        ]
        if asked is not None:
            mark = _BEYOND if _chance_is_beyond(hand) else " "
            cells.append(_percent(hand["chance"]["probability"]) + mark)
        table.add_row(*map(Text, cells))
    return table


def _words(hands: Sequence[dict[str, Any]]) -> list[RenderableType]:
    """Notes of every hand that has some, and the day asked for."""
    lines = []
    for hand in hands:
        said = [*_target(hand), *hand["notes"]]
        if hand["plateau"]:
            said.insert(0, "It stands still, beyond what chance explains.")
        if said:
            lines.append(Text(f"{_name(hand)}: {' '.join(said)}"))
    return list(lines)


def _target(hand: dict[str, Any]) -> list[str]:
    """Say when a target is reached."""
    target = hand.get("target")
    if target is None:
        return []
    what = f"{target['tempo_bpm']:g} for {target['time_s']:g} s by {target['by']}"
    chance = _percent(target["probability"])
    if target["median"] is None:
        return [f"If the trend goes on, {what} comes in {chance} of cases."]
    return [f"If the trend goes on, {what} comes in {chance} of cases, half by {target['median']}."]


def _kind(hand: dict[str, Any]) -> str:
    """Say how a hand plays."""
    tags = [hand[name] for name in ("technique", "surface", "loudness") if hand[name]]
    if hand["places_per_count"] != 4:
        tags.append(f"{hand['places_per_count']} places a count")
    return ", ".join(tags)


def _rounds(count: int) -> str:
    return "1 round" if count == 1 else f"{count} rounds"


def _short_day(day: str) -> str:
    """Write a day of the last weeks: the year is that of the table's head, or the one before."""
    return day_head(date.fromisoformat(day))


def _name(hand: dict[str, Any]) -> str:
    """Name a hand and how it plays, to begin a sentence."""
    return ", ".join(part for part in (hand["hand"].capitalize(), _kind(hand)) if part)


def _held(hand: dict[str, Any], key: str) -> str:
    """Write a tempo with its range, marked where no hold so long was seen."""
    mark = _BEYOND if key in hand["beyond_seen"] else " "
    median, span = _figure(hand["tempo_held_bpm"][key], "{:.1f}").split("\n")
    return f"{median}{mark}\n{span} "


def _figure(figure: dict[str, Any], form: str) -> str:
    """Write a figure, and its range on the next line."""
    median, low, high = (
        "no end" if figure[name] is None else form.format(figure[name])
        for name in ("median", "low80", "high80")
    )
    return f"{median}\n{low} \N{EN DASH} {high}"


def _percent(chance: float) -> str:
    """Write a chance in whole percent, never as certain."""
    return f"{min(max(round(100.0 * chance), 1), 99)} %"


def _chance_is_beyond(hand: dict[str, Any]) -> bool:
    chance = hand.get("chance")
    return chance is not None and bool(chance["beyond_seen"])
