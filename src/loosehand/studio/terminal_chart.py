"""The chart drawn in a terminal: days across, tempos down, hand by hand."""

from collections.abc import Sequence
from datetime import date

from rich import box
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from loosehand.studio.chart import ChartRound, ChartSheet, sheets_of
from loosehand.studio.round_tags import NOT_JUDGED

__all__ = ["chart_of", "day_head", "draw", "rounds_of"]

_MARKS = {
    "|": "held to the end",
    "'": "written by hand",
    "*": "corrected",
    "~": "tense",
    "!": "pain",
    "?": "not judged",
}
_TEMPO_WIDTH = 7
_SPACE = 2


def draw(console: Console, part: RenderableType) -> None:
    """Print a part of a page without colour of the figures by guess."""
    console.print(part, highlight=False, markup=False)


def chart_of(player: str, rounds: Sequence[ChartRound], *, width: int) -> RenderableType:
    """Draw a player's chart: a table for each hand, technique, surface and loudness.

    Parameters
    ----------
    player : name
    rounds : the player's rounds as they stand, not empty
    width : columns of the terminal
    """
    parts: list[RenderableType] = [Text(f"Chart of {player}: counts held")]
    for sheet in sheets_of(rounds):
        parts += [Text(), *_sheet(sheet, width=width)]
    used = {mark for found in rounds for mark in _cell(found)} & set(_MARKS)
    if used:
        legend = "  ".join(f"{mark} {what}" for mark, what in _MARKS.items() if mark in used)
        parts += [Text(), Text(legend)]
    return Group(*parts)


def rounds_of(player: str, rounds: Sequence[ChartRound]) -> RenderableType:
    """Draw a player's rounds one a line, with the places that corrections ask for."""
    table = Table(
        box=box.SIMPLE_HEAD,
        show_edge=False,
        pad_edge=False,
        title=f"Rounds of {player}",
        title_justify="left",
    )
    for name, justify in (
        ("day", "left"),
        ("order", "right"),
        ("hand", "left"),
        ("bpm", "right"),
        ("held", "right"),
        ("ended", "left"),
        ("feel", "left"),
        ("whose number", "left"),
    ):
        table.add_column(name, justify=justify)  # type: ignore[arg-type]
    for found in rounds:
        row = found.row
        count = "?" if row.count_held is None else str(row.count_held)
        table.add_row(
            row.day.isoformat(),
            str(row.order),
            Text(row.tags.hand),
            _tempo(row.tags.tempo_bpm),
            f"{count} of {row.tags.counts}",
            Text(row.ended or ""),
            Text(row.tags.feel or ""),
            Text(_whose(found)),
        )
    return table


def _sheet(sheet: ChartSheet, *, width: int) -> list[RenderableType]:
    """Draw a sheet: its title and as many of the latest days as fit."""
    cells = {
        place: "\n".join(_cell(found) for found in rounds) for place, rounds in sheet.cells.items()
    }
    widest = max(len(line) for cell in cells.values() for line in cell.split("\n"))
    column = max(widest, len("30 Sep")) + _SPACE
    fitting = max(1, (width - _TEMPO_WIDTH) // column)
    days = sheet.days[-fitting:]
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 0, 0, 1), pad_edge=False)
    table.add_column("bpm", justify="right", no_wrap=True)
    for day in days:
        table.add_column(day_head(day), justify="right", no_wrap=True)
    for tempo_bpm in sheet.tempos_bpm:
        row = [cells.get((tempo_bpm, day), "") for day in days]
        if any(row):
            table.add_row(_tempo(tempo_bpm), *(Text(cell) for cell in row))
    return [Text(_title(sheet, days)), table]


def _title(sheet: ChartSheet, days: Sequence[date]) -> str:
    """Say what the sheet's rounds share, and which days are shown."""
    tags = [sheet.technique, sheet.surface, sheet.loudness]
    said = [sheet.hand.capitalize(), *(tag for tag in tags if tag)]
    if sheet.places_per_count != 4:
        said.append(f"{sheet.places_per_count} places a count")
    earlier = len(sheet.days) - len(days)
    span = f"{days[0]} to {days[-1]}" if len(days) > 1 else f"{days[0]}"
    more = f", and {earlier} earlier day{'s' if earlier > 1 else ''}" if earlier else ""
    return f"{', '.join(said)}  ({span}{more})"


def _cell(found: ChartRound) -> str:
    """Write the number in force with its marks."""
    feel = found.row.tags.feel
    marks = [
        ("|", found.held_to_the_end),
        ("'", not found.has_take),
        ("*", found.corrected_at is not None),
        ("~", feel == "tense"),
        ("!", feel == "pain"),
    ]
    number = "?" if found.row.count_held is None else str(found.row.count_held)
    return number + "".join(mark for mark, holds in marks if holds)


def _whose(found: ChartRound) -> str:
    """Say whose number stands, and what stands below it."""
    if found.corrected_at is None:
        if not found.has_take:
            return "written"
        sure = "" if found.confidence is None else f", sure {found.confidence:.2f}"
        return f"heard{sure}"
    below = found.count_read if found.has_take else found.count_written
    was = NOT_JUDGED if below is None else str(below)
    return f"corrected ({'heard' if found.has_take else 'written'} {was}): {found.why}"


def _tempo(tempo_bpm: float) -> str:
    """Write a tempo as a click's scale does."""
    return f"{tempo_bpm:g}"


def day_head(day: date) -> str:
    """Write a day in six columns, the same in every country's settings."""
    months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    return f"{day.day} {months[day.month - 1]}"
