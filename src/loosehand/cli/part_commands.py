"""The command that tells what a part asks, and the ways of playing it."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from loosehand.cli.options import Over, StudioPath
from loosehand.cli.speech import say
from loosehand.cli.studio_access import (
    draw_table,
    present_moment,
    read_file,
    studio_at,
    target_file,
)
from loosehand.errors import InputError

if TYPE_CHECKING:
    from loosehand.parts.demand import Demand
    from loosehand.parts.part import Part
    from loosehand.rounds.ways import WaysOfPlaying

__all__ = ["part"]

_SEED = 20261125
_STAFF_WIDTH_PX = 1000
_COUNT_IN = 4
_CLICK_DB = -6.0


def part(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="A part as text, as MIDI or as MusicXML.")
    ],
    player: Annotated[
        str, typer.Option("--player", help="Whose chances of lasting; nobody's if left out.")
    ] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print it as JSON.")] = False,
    musicxml: Annotated[
        str, typer.Option("--musicxml", metavar="OUT", help="Write the part as MusicXML.")
    ] = "",
    midi: Annotated[str, typer.Option("--midi", metavar="OUT", help="Write it as MIDI.")] = "",
    wav: Annotated[
        str, typer.Option("--wav", metavar="OUT", help="Write its sound, with a click.")
    ] = "",
    svg: Annotated[str, typer.Option("--svg", metavar="OUT", help="Write its notation.")] = "",
    over: Over = False,
    studio: StudioPath = "",
) -> int:
    """Tell what a part asks, and the ways of playing it.

    Several ways may be right. Warm and a little tired may be fine. Pain, tingling, numbness or
    weakness means stop. This is coaching, not medical advice.
    """
    from loosehand.parts.demand import demand_of
    from loosehand.sheets.part_files import part_of_file

    if studio and not player:
        raise InputError("say whose chances, with --player, or leave out --studio")
    targets = {
        word: target_file(name, over=over)
        for word, name in (("musicxml", musicxml), ("midi", midi), ("wav", wav), ("svg", svg))
        if name
    }
    read = part_of_file(file, read_file(file))
    demand = demand_of(read)
    ways = _ways(read, demand, player=player, studio=studio)
    for word, path in targets.items():
        _write(path, _exported(read, word))
    if as_json:
        from loosehand.studio.part_report import part_report_to_json

        told = part_report_to_json(read, demand, ways, player=player or None)
        say(json.dumps(told, allow_nan=False))
        return 0
    from loosehand.studio.terminal_part import part_tables

    draw_table(part_tables(read, demand, ways, player=player or None))
    for path in targets.values():
        say(f"Wrote {path}.")
    return 0


def _ways(read: "Part", demand: "Demand", *, player: str, studio: str) -> "WaysOfPlaying":
    """Ways of playing, for a player of the studio or for nobody."""
    from loosehand.parts.techniques import TECHNIQUES
    from loosehand.rounds.ways import kind_asked, other_kind_asked, ways_of_playing

    if not player:
        return ways_of_playing(read, demand, {})
    from loosehand.studio.part_ways import reaches_for_part

    asked = (kind_asked(read, demand), other_kind_asked(read, demand))
    kinds = [kind for kind in asked if kind is not None]
    today = present_moment().astimezone().date()
    with studio_at(studio, create=False) as opened:
        found = reaches_for_part(opened, player, kinds=kinds, techniques=TECHNIQUES, today=today)
    if not found:
        return ways_of_playing(read, demand, {})
    own, other = found
    return ways_of_playing(read, demand, own, other=other)


def _exported(read: "Part", word: str) -> bytes:
    """Bytes of a part in a format."""
    if word == "musicxml":
        from loosehand.sheets.part_musicxml import part_to_musicxml

        return part_to_musicxml(read)
    if word == "midi":
        from loosehand.sheets.part_midi import part_to_midi

        return part_to_midi(read)
    if word == "svg":
        from loosehand.sheets.part_engraving import part_to_svg
        from loosehand.sheets.part_files import staff_page

        return staff_page(part_to_svg(read, width_px=_STAFF_WIDTH_PX)).encode()
    return _sound(read)


def _sound(read: "Part") -> bytes:
    """A part's sound as WAV, with a click and a count-in."""
    import numpy as np

    from loosehand.players.part_sound import SoundPlan, sound_of_part, wav_bytes

    plan = SoundPlan(section=None, timbre="low wood", count_in_counts=_COUNT_IN, click_db=_CLICK_DB)
    return wav_bytes(sound_of_part(read, plan, np.random.default_rng(_SEED)).samples)


def _write(path: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    from loosehand.studio.database import store_errors
    from loosehand.studio.whole_files import write_whole

    with store_errors(path.parent):
        write_whole(path, data)
