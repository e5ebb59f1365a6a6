"""The commands that tell what a hand can hold."""

import json
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from loosehand.cli.options import DayWord, HandWord, StudioPath, day_of, seconds_of, workers_of
from loosehand.cli.speech import say, warn
from loosehand.cli.studio_access import draw_table, many, present_moment, read_file, studio_at
from loosehand.errors import InputError

if TYPE_CHECKING:
    from loosehand.reach.report import Asked, HandReach
    from loosehand.studio.chart_csv import ChartRow

__all__ = ["reach", "refit"]

Workers = Annotated[
    str, typer.Option("--workers", help="Hands fitted at once; one a core if left out.")
]

_SHORTEST_S, _LONGEST_S = 0.5, 4 * 3600.0


def reach(
    chart: Annotated[
        str, typer.Option("--chart", metavar="FILE.csv", help="A chart as CSV; else the studio's.")
    ] = "",
    player: Annotated[str, typer.Option("--player", help="Whose alone; all if left out.")] = "",
    hand: HandWord = "",
    as_of: Annotated[
        str,
        typer.Option(
            "--as-of", help="Day told of; the last of the chart, of the studio today if left out."
        ),
    ] = "",
    tempo: Annotated[
        str, typer.Option("--tempo", help="With --for: the chance of holding this tempo.")
    ] = "",
    for_s: Annotated[str, typer.Option("--for", help="With --tempo: for so many seconds.")] = "",
    target_by: Annotated[
        str, typer.Option("--target-by", help="With both: a day by which it may be reached.")
    ] = "",
    workers: Workers = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print the reach as JSON.")] = False,
    studio: StudioPath = "",
) -> int:
    """Tell what every hand can hold.

    Of the studio, or of a chart as CSV. Warm and a little tired may be fine. Pain, tingling,
    numbness or weakness means stop. This is coaching, not medical advice.
    """
    from loosehand.reach.report import report_to_json
    from loosehand.studio.round_tags import HANDS, check_day, check_player, check_word

    if chart and studio:
        raise InputError("say --chart or --studio, not both")
    asked = _asked(tempo, for_s, target_by)
    whose = _Whose(
        check_player(player) if player else None,
        check_word(hand, field="hand", words=HANDS) if hand else None,
        check_day(as_of) if as_of else None,
    )
    at_once = workers_of(workers)
    told = (
        _of_rows(_rows_of_file(chart), whose, asked, at_once)
        if chart
        else _of_studio(studio, whose, asked, at_once)
    )
    report = report_to_json(told.hands, as_of=told.as_of, asked=asked, notes=told.notes)
    if as_json:
        say(json.dumps(report, allow_nan=False))
        return 0
    from loosehand.studio.terminal_reach import reach_tables

    draw_table(reach_tables(report))
    return 0


def refit(
    no_record: Annotated[
        bool, typer.Option("--no-record", help="Fit only; score no forecasts of past weeks.")
    ] = False,
    day: DayWord = "",
    workers: Workers = "",
    studio: StudioPath = "",
) -> int:
    """Fit every hand whose rounds changed.

    The fits are stored, so that the pages come at once. Weeks that are over are foretold from what
    was there before them, and scored, each once.
    """
    from loosehand.studio.reach_refresh import refresh_studio

    at_once = workers_of(workers)
    begin = present_moment()
    today = day_of(day, now=begin)
    with studio_at(studio, create=False) as opened:
        done = refresh_studio(opened, today=today, processes=at_once, with_record=not no_record)
    took_s = (present_moment() - begin).total_seconds()
    say(
        f"Fitted {done.fitted} of {many(done.hands, 'hand')} of {many(done.players, 'player')}, "
        f"and scored the forecasts of {many(done.weeks, 'week')}, in {took_s:.1f} s."
    )
    if done.not_saved:
        warn(
            f"what was fitted of {many(done.not_saved, 'player')} was not kept: their charts "
            "changed meanwhile, or the studio could not be written; say refit again"
        )
    return 0


@dataclass(frozen=True)
class _Whose:
    """Of whom it is asked: player and hand, None for all; the day, None for the usual one."""

    player: str | None
    hand: str | None
    as_of: date | None


@dataclass(frozen=True)
class _Told:
    """Hands as they are told of on a day, and sentences about those that are not."""

    hands: list["HandReach"]
    as_of: date
    notes: tuple[str, ...]


def _of_rows(
    rows: list["ChartRow"], whose: _Whose, asked: "Asked | None", at_once: int | None
) -> _Told:
    """Fit the hands of a chart."""
    from loosehand.studio.reach_hands import hands_of_rows, reach_of_hands

    hands = hands_of_rows(rows, player=whose.player, hand=whose.hand, as_of=whose.as_of)
    _check_target(asked, hands.as_of)
    return _Told(reach_of_hands(hands.jobs, processes=at_once), hands.as_of, hands.notes)


def _of_studio(folder: str, whose: _Whose, asked: "Asked | None", at_once: int | None) -> _Told:
    """Tell the hands of a studio: those of today from the stored fits."""
    from loosehand.studio.chart import chart_rounds
    from loosehand.studio.reach_hands import hands_of_rows
    from loosehand.studio.reach_refresh import stored_reach_of_hands

    with studio_at(folder, create=False) as opened:
        with opened.look() as session:
            rows = [found.row for found in chart_rounds(session, player=None)]
        if whose.as_of is not None:
            return _of_rows(rows, whose, asked, at_once)
        # A chart may go on after today: then its last day is told of, as that of a file is.
        today = max((day_of("", now=present_moment()), *(row.day for row in rows)))
        hands = hands_of_rows(rows, player=whose.player, hand=whose.hand, as_of=today)
        _check_target(asked, today)
        found = stored_reach_of_hands(opened, hands.jobs, today=today, processes=at_once)
    return _Told(found, max(each.reach.as_of for each in found), hands.notes)


def _rows_of_file(chart: str) -> list["ChartRow"]:
    """Rows of a file."""
    from loosehand.studio.chart_csv import decode_chart_csv, read_chart_csv

    return read_chart_csv(decode_chart_csv(read_file(chart)))


def _asked(tempo: str, for_s: str, target_by: str) -> "Asked | None":
    """Return what else is asked."""
    from loosehand.reach.report import Asked
    from loosehand.studio.round_tags import check_day, check_tempo_bpm

    if not (tempo or for_s or target_by):
        return None
    if not (tempo and for_s):
        raise InputError("say both, such as --tempo 104 --for 240: a tempo, and for how long")
    time_s = seconds_of(for_s, field="for")
    if not _SHORTEST_S <= time_s <= _LONGEST_S:
        raise InputError(f"for = {time_s:g} cannot be; want {_SHORTEST_S:g} to {_LONGEST_S:g} s")
    return Asked(check_tempo_bpm(tempo), time_s, check_day(target_by) if target_by else None)


def _check_target(asked: "Asked | None", as_of: date) -> None:
    """Refuse a day that is over, or too far ahead, before anything is fitted."""
    by = None if asked is None else asked.by
    if by is not None and not 0 <= (by - as_of).days <= 364:
        raise InputError(f"target_by = {by} cannot be; want a day within a year after {as_of}")
