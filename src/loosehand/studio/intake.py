"""Bring a recording or a MIDI file in, hear it as it is kept, file it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from loosehand.hear.decode import open_sound, read_midi, sniff
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.database import Studio
from loosehand.studio.filing import PartTaken, RoundPlace, file_take
from loosehand.studio.hearing import Hearing, Told, hear_stored, nobody_plays
from loosehand.studio.sound import Incoming, incoming_midi, incoming_sound

__all__ = ["bring_take", "check_can_be_read", "hear_and_file"]


def check_can_be_read(source: Path) -> None:
    """Check that a file is sound or MIDI before a studio is made for it.

    Raises
    ------
    InputError, MediaError   if it cannot be read as such
    """
    if sniff(source) == "midi":
        read_midi(source)
    else:
        open_sound(source).close()


@contextmanager
def bring_take(folder: Path, source: Path, told: Told) -> Iterator[tuple[Incoming, Told]]:
    """Bring a file into the studio under a passing name.

    Parameters
    ----------
    folder : the studio's folder
    source : a recording or a MIDI file, of any kind that the ear reads
    told : what the judge is told

    Yields
    ------
    incoming : the file as the studio keeps it
    told : the same, with what was seen of the file that was brought

    Raises
    ------
    InputError, MediaError   if the file cannot be read as sound or MIDI
    DiskFull, StoreError     if it cannot be kept
    """
    if sniff(source) == "midi":
        read_midi(source)
        with incoming_midi(folder, source.read_bytes()) as incoming:
            yield incoming, told
        return
    with open_sound(source) as sound:
        blocks = sound.mono_blocks()
        with incoming_sound(folder, blocks, sample_rate_hz=sound.sample_rate_hz) as incoming:
            yield (
                incoming,
                replace(
                    told,
                    more_notes=(*told.more_notes, *sound.notes),
                    more_assumed=(*told.more_assumed, *sound.assumed),
                ),
            )


def hear_and_file(
    studio: Studio,
    source: Path,
    row: ChartRow,
    told: Told,
    *,
    hearing: Hearing,
    now: datetime,
    part: PartTaken | None = None,
) -> tuple[RoundPlace | None, dict[str, Any]]:
    """Bring a take in, hear it as it is kept, and file it.

    Parameters
    ----------
    studio : the studio
    source : a recording or a MIDI file
    row : the round, without a number; ``ended`` as the person said, or None
    told : what the judge is told
    hearing : what hears a file
    now : the moment, with its zone
    part : which part the take is of, None for none

    Returns
    -------
    place : where it stands on the chart, None where nobody plays: then nothing is filed
    body : the reading as JSON

    Raises
    ------
    InputError, MediaError   if the file cannot be read as sound or MIDI
    StoreError               if it cannot be kept
    """
    with bring_take(studio.folder, source, told) as (incoming, all_told):
        judged = hear_stored(incoming.path, all_told, hearing=hearing)
        if nobody_plays(judged.body):
            return None, judged.body
        place = file_take(studio, incoming, row, all_told, judged, now=now, part=part)
    return place, judged.body
