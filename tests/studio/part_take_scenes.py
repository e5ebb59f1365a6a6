"""Takes of a part, heard and filed wherever a test wants them."""

import tempfile
from functools import cache
from pathlib import Path

from loosehand.batch.hear_file import hear_file
from loosehand.hear.heard import ListenRequest
from loosehand.judge.part_to_hear import part_to_hear
from loosehand.parts.text import parse_part
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.filing import PartTaken, file_take
from loosehand.studio.hearing import Judged, Told
from loosehand.studio.parts_store import add_part
from loosehand.studio.round_tags import RoundTags
from loosehand.studio.sound import incoming_midi
from tests.judge.part_scenes import ACCENTS, TEXT, write_accents
from tests.studio.take_scenes import DAY, NOW

PLAYED = tuple(sorted((set(ACCENTS) - {6, 38, 70}) | {50}))
"""Bars 1, 3 and 5 lack the accent at 2 &; bar 4 has one at 1 & that nobody asked for."""


def asked_of(text=TEXT, limb="right hand"):
    """Return what a part asks of a limb."""
    return part_to_hear(parse_part(text), limb)


@cache
def heard_of_part(accents=PLAYED, tempo_bpm=100, places=192):
    """Return a MIDI take, what was told of it, and its reading as JSON."""
    told = Told(ListenRequest(float(tempo_bpm), 4, "right", places // 4, None), None)
    with tempfile.TemporaryDirectory() as folder:
        path = write_accents(Path(folder) / "take.mid", accents, places=places, tempo_bpm=tempo_bpm)
        return path.read_bytes(), told, hear_file(path, told.request).to_json()


def file_of_part(
    studio,
    part_id,
    *,
    tempo_bpm=100,
    accents=PLAYED,
    version=1,
    day=DAY,
    text=TEXT,
    change=None,
    technique=None,
    player="Ines",
):
    """File a take of a part's right hand, with another reading where some of it is changed."""
    data, told, body = heard_of_part(accents, tempo_bpm)
    round_s = 60 * 48 / tempo_bpm
    tags = RoundTags("right", float(tempo_bpm), 4, round_s, technique, "hat", None, None)
    row = ChartRow(day, None, player, tags, None, None)
    taken = PartTaken(part_id, version, asked_of(text))
    with incoming_midi(studio.folder, data) as incoming:
        return file_take(
            studio,
            incoming,
            row,
            told,
            Judged({**body, **(change or {})}, "7"),
            now=NOW,
            part=taken,
        )


def part_with_take(studio, **how):
    """Keep the part and file a take of it; return the part's number."""
    number = add_part(studio, TEXT, player=None, now=NOW)
    file_of_part(studio, number, **how)
    return number
