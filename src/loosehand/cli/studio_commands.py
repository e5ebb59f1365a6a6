"""The commands that keep the chart: file, write, correct, show, carry in and out."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from loosehand.cli.break_off import breaking_off, step_by_step
from loosehand.cli.hear_commands import EXIT_NOBODY_PLAYS, hear_told, print_reading
from loosehand.cli.options import (
    AsJson,
    DayWord,
    Ended,
    Feel,
    FirstCount,
    HandWord,
    Loudness,
    Notes,
    OrderWord,
    Over,
    PerCount,
    Player,
    RoundSeconds,
    StudioPath,
    Surface,
    Technique,
    Tempo,
    Why,
    assumed_of,
    day_of,
    ended_of,
    first_count_s_of,
    notes_of,
    order_of,
    tags_of,
)
from loosehand.cli.speech import say, warn, width_of_terminal
from loosehand.cli.studio_access import (
    draw_table,
    many,
    present_moment,
    read_file,
    studio_at,
    target_file,
)
from loosehand.errors import InputError, NotFound

if TYPE_CHECKING:
    from loosehand.studio.chart import ChartRound
    from loosehand.studio.filing import RoundPlace

__all__ = [
    "chart",
    "chart_in",
    "chart_out",
    "correct",
    "demo",
    "drop_sound",
    "file_take",
    "pack",
    "reread",
    "unpack",
    "write",
]

Held = Annotated[str, typer.Option("--held", help="The count held.")]
OneRound = Annotated[str, typer.Option("--order", help="Which round of the day (chart --rounds).")]
ChartFile = Annotated[str, typer.Argument(metavar="FILE.csv", help="The chart as CSV.")]
ArchiveFile = Annotated[str, typer.Argument(metavar="FILE.zip", help="The whole studio.")]
MaybePlayer = Annotated[
    str, typer.Option("--player", help="Whose; may be left out where there is only one.")
]


def file_take(
    file: Annotated[str, typer.Argument(help="A recording or MIDI file.")],
    player: Player,
    hand: HandWord,
    tempo: Tempo,
    per_count: PerCount = "",
    technique: Technique = "",
    surface: Surface = "",
    loudness: Loudness = "",
    feel: Feel = "",
    round_s: RoundSeconds = "",
    ended: Ended = "",
    day: DayWord = "",
    order: OrderWord = "",
    first_count_s: FirstCount = "",
    note: Notes = None,
    studio: StudioPath = "",
    as_json: AsJson = False,
) -> int:
    """Hear a take and put it on the chart."""
    from loosehand.hear.heard import ListenRequest
    from loosehand.studio.chart_csv import ChartRow
    from loosehand.studio.filing import sweep_studio
    from loosehand.studio.hearing import Told
    from loosehand.studio.intake import check_can_be_read, hear_and_file
    from loosehand.studio.round_tags import check_player

    now = present_moment()
    tags = tags_of(
        hand=hand,
        tempo=tempo,
        per_count=per_count,
        round_s=round_s,
        technique=technique,
        surface=surface,
        loudness=loudness,
        feel=feel,
    )
    row = ChartRow(
        day=day_of(day, now=now),
        order=order_of(order),
        player=check_player(player),
        tags=tags,
        count_held=None,
        ended=ended_of(ended),
    )
    request = ListenRequest(
        tempo_bpm=tags.tempo_bpm,
        places_per_count=tags.places_per_count,
        hand=tags.hand,  # type: ignore[arg-type]
        counts_planned=tags.counts,
        first_count_s=first_count_s_of(first_count_s),
    )
    assumed = assumed_of(tempo=tempo, per_count=per_count, hand=hand)
    told = Told(request, notes_of(note), more_assumed=assumed)
    check_can_be_read(Path(file))
    with studio_at(studio, create=True) as opened:
        place, body = hear_and_file(opened, Path(file), row, told, hearing=hear_told, now=now)
        sweep_studio(opened, now=now)
    print_reading(body, as_json=as_json)
    if place is None:
        warn("nobody plays in this take, so it was not filed")
        return EXIT_NOBODY_PLAYS
    if not as_json:
        say(f"Filed as {_where(place)}.")
    return 0


def write(
    player: Player,
    hand: HandWord,
    tempo: Tempo,
    held: Held,
    per_count: PerCount = "",
    technique: Technique = "",
    surface: Surface = "",
    loudness: Loudness = "",
    feel: Feel = "",
    round_s: RoundSeconds = "",
    ended: Ended = "",
    day: DayWord = "",
    order: OrderWord = "",
    studio: StudioPath = "",
) -> int:
    """Write a number on the chart by hand."""
    from loosehand.studio.chart_csv import ChartRow
    from loosehand.studio.filing import write_count
    from loosehand.studio.round_tags import check_count, check_player

    now = present_moment()
    tags = tags_of(
        hand=hand,
        tempo=tempo,
        per_count=per_count,
        round_s=round_s,
        technique=technique,
        surface=surface,
        loudness=loudness,
        feel=feel,
    )
    row = ChartRow(
        day=day_of(day, now=now),
        order=order_of(order),
        player=check_player(player),
        tags=tags,
        count_held=check_count(held, counts=tags.counts),
        ended=ended_of(ended),
    )
    with studio_at(studio, create=True) as opened:
        place = write_count(opened, row, now=now)
    say(f"Written: {row.count_held} of {tags.counts} counts, as {_where(place)}.")
    if tags.feel == "pain":
        _say_care()
    return 0


def correct(
    player: Player,
    order: OneRound,
    held: Held,
    why: Why,
    day: DayWord = "",
    ended: Ended = "",
    studio: StudioPath = "",
) -> int:
    """Put your number above the one that stands."""
    from loosehand.studio.filing import RoundPlace, correct_count
    from loosehand.studio.round_tags import check_player, check_whole

    now = present_moment()
    place = RoundPlace(check_player(player), day_of(day, now=now), order_of(order) or 0)
    count = check_whole(held, field="count_held", lowest=0, highest=10**6)
    with studio_at(studio, create=False) as opened:
        before = correct_count(
            opened, place, count_held=count, ended=ended_of(ended), why=why, now=now
        )
    was = "not judged" if before is None else str(before)
    say(f"Corrected: {count} stands now; it was {was}, which is kept ({_where(place)}).")
    return 0


def chart(
    player: MaybePlayer = "",
    rounds: Annotated[
        bool, typer.Option("--rounds", help="One round a line, with what 'correct' asks for.")
    ] = False,
    day: Annotated[str, typer.Option("--day", help="With --rounds: this day alone.")] = "",
    studio: StudioPath = "",
) -> int:
    """Show the chart: days across, tempos down.

    Warm and a little tired may be fine. Pain, tingling, numbness or weakness means stop. This is
    coaching, not medical advice.
    """
    from loosehand.studio.terminal_chart import chart_of, rounds_of

    if day and not rounds:
        raise InputError("--day goes with --rounds; the chart shows all the days that fit")
    found = _rounds(studio, player)
    name = found[0].row.player
    if not rounds:
        draw_table(chart_of(name, found, width=width_of_terminal()))
        return 0
    asked = day_of(day, now=present_moment()) if day else None
    shown = [one for one in found if asked in (None, one.row.day)]
    if not shown:
        raise NotFound(f"{name} has no round on {asked}")
    draw_table(rounds_of(name, shown))
    return 0


def chart_out(
    file: Annotated[
        str, typer.Argument(metavar="[FILE.csv]", help="Where to; the terminal if left out.")
    ] = "",
    player: Annotated[str, typer.Option("--player", help="Whose alone; all if left out.")] = "",
    over: Over = False,
    studio: StudioPath = "",
) -> int:
    """Write the chart as CSV."""
    from loosehand.studio.chart import chart_rounds
    from loosehand.studio.chart_csv import write_chart_csv
    from loosehand.studio.database import store_errors
    from loosehand.studio.whole_files import write_whole

    with studio_at(studio, create=False) as opened, opened.look() as session:
        rows = [found.row for found in chart_rounds(session, player=player or None)]
    text = write_chart_csv(rows)
    if not file:
        sys.stdout.write(text.replace("\r\n", "\n"))
        return 0
    path = target_file(file, over=over)
    with store_errors(path.parent):
        write_whole(path, text.encode())
    say(f"Wrote {many(len(rows), 'round')} to {path}.")
    return 0


def chart_in(file: ChartFile, studio: StudioPath = "") -> int:
    """Take in a chart from CSV.

    Rounds that are there already are left alone.
    """
    from loosehand.studio.chart_csv import decode_chart_csv, read_chart_csv
    from loosehand.studio.filing import import_rows

    rows = read_chart_csv(decode_chart_csv(read_file(file)))
    if not rows:
        say("The chart holds no rounds; nothing was changed.")
        return 0
    with studio_at(studio, create=True) as opened:
        done = import_rows(opened, rows, now=present_moment())
    moved = f", {done.moved} of them at the end of a day" if done.moved else ""
    there = f"; {done.already_there} were there already" if done.already_there else ""
    say(f"Took in {many(done.added, 'round')}{moved}{there}.")
    return 0


def pack(file: ArchiveFile, over: Over = False, studio: StudioPath = "") -> int:
    """Pack the whole studio into one file."""
    from loosehand.studio.archive import pack as pack_studio

    path = target_file(file, over=over)
    with studio_at(studio, create=False) as opened:
        packed = pack_studio(opened, path, now=present_moment())
    say(f"Packed {many(packed.rows, 'row')} and {many(packed.files, 'take file')} into {path}.")
    return 0


def unpack(file: ArchiveFile, studio: StudioPath = "") -> int:
    """Fill an empty studio from a packed one."""
    from loosehand.studio.archive import check_archive
    from loosehand.studio.archive import unpack as unpack_studio

    check_archive(Path(file))
    with studio_at(studio, create=True) as opened:
        packed = unpack_studio(opened, Path(file))
        where = opened.folder
    say(f"Unpacked {many(packed.rows, 'row')} and {many(packed.files, 'take file')} into {where}.")
    return 0


def reread(studio: StudioPath = "") -> int:
    """Hear every stored take again.

    The present judge's reading takes force; earlier readings are kept.
    """
    from loosehand.studio.reread import reread as reread_studio

    read = changed = gone = 0
    with studio_at(studio, create=False) as opened:
        for found in reread_studio(opened, hearing=hear_told, now=present_moment()):
            read += not found.sound_is_gone
            changed += found.is_new
            gone += found.sound_is_gone
            if found.count_before != found.count_now:
                before, after = (
                    "not judged" if count is None else str(count)
                    for count in (found.count_before, found.count_now)
                )
                say(f"{_where(found.place)}: {before} before, {after} now.")
    say(f"Heard {many(read, 'take')} again; {many(changed, 'reading')} changed.")
    if gone:
        warn(f"the sound of {many(gone, 'take')} could not be found in the studio's folder")
    return 0


def drop_sound(
    player: Player,
    day: Annotated[str, typer.Option("--day", help="This day's alone.")] = "",
    order: Annotated[str, typer.Option("--order", help="This round's alone.")] = "",
    everything: Annotated[bool, typer.Option("--all", help="All sound of this player.")] = False,
    studio: StudioPath = "",
) -> int:
    """Delete the sound of takes, keep the numbers."""
    from loosehand.studio.filing import delete_sound
    from loosehand.studio.round_tags import check_day, check_player

    if everything == bool(day) or (order and not day):
        raise InputError("say which sound: --day (with or without --order), or --all")
    with studio_at(studio, create=False) as opened:
        done = delete_sound(
            opened,
            player=check_player(player),
            day=check_day(day) if day else None,
            order=order_of(order),
            now=present_moment(),
        )
    say(f"Deleted the sound of {many(done.takes, 'take')}; the numbers stay.")
    return 0


def demo(studio: StudioPath = "") -> int:
    """Show it all on an invented studio."""
    from loosehand.studio.care import CARE_SHORT
    from loosehand.studio.chart import chart_rounds
    from loosehand.studio.database import default_folder
    from loosehand.studio.demo import DEMO_PLAYER, make_demo, next_words

    folder = Path(studio) if studio else default_folder().with_name("demo")
    say(f"An invented studio, in {folder}. Nobody in it is real.\n")
    with studio_at(str(folder), create=True) as opened:
        with breaking_off() as go_on:
            hearing = step_by_step(hear_told, go_on)
            shown = make_demo(opened, hearing=hearing, now=present_moment())
        say(f"One of its takes, {_where(shown.place)}, heard just now:\n")
        print_reading(shown.body, as_json=False)
        with opened.look() as session:
            rounds = chart_rounds(session, player=DEMO_PLAYER)
    from loosehand.studio.terminal_chart import chart_of

    say("")
    draw_table(chart_of(DEMO_PLAYER, rounds, width=width_of_terminal()))
    say("\n" + next_words(folder, shown) + "\n\n" + CARE_SHORT)
    return 0


def _rounds(studio: str, player: str) -> list["ChartRound"]:
    """Find the rounds of a player, or of the only one there is."""
    from loosehand.studio.chart import chart_rounds, player_names
    from loosehand.studio.round_tags import check_player

    with studio_at(studio, create=False) as opened, opened.look() as session:
        names = player_names(session)
        if not player and len(names) != 1:
            known = ", ".join(names) or "nobody yet"
            raise InputError(f"say whose chart with --player; this studio knows {known}")
        name = check_player(player) if player else names[0]
        found = chart_rounds(session, player=name)
    if not found:
        raise NotFound(f"the chart of {name} is empty")
    return found


def _where(place: "RoundPlace") -> str:
    """Name a round the way 'correct' asks for it."""
    return f"round {place.order} of {place.player} on {place.day}"


def _say_care() -> None:
    """Say the cautions where pain was told."""
    from loosehand.studio.care import CARE

    say(f"\nYou wrote pain. {CARE}")
