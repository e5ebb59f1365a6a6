"""A short take of known truth, heard once and filed wherever a test wants it."""

import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path

import numpy as np

from loosehand.batch.hear_file import hear_file
from loosehand.hear.heard import ListenRequest
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.filing import file_take
from loosehand.studio.hearing import Judged, Told
from loosehand.studio.round_tags import RoundTags
from loosehand.studio.sound import incoming_midi, incoming_sound
from tests.cli.conftest import write_midi
from tests.hear.scenes import RATE_HZ, jittered, sound_of

NOW = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
DAY = date(2027, 3, 1)
TEMPO_BPM = 120.0
COUNT_S = 0.5
COUNTS = 24
HELD = 14
"""After this count the hand slows by a sixth."""
FIRST_S = 2.25
DURATION_S = FIRST_S + COUNTS * COUNT_S + 0.25
TAGS = RoundTags("left", TEMPO_BPM, 4, COUNTS * COUNT_S, "whip fours", "pad", "soft", None)
TOLD = Told(ListenRequest(TEMPO_BPM, 4, "left", COUNTS, None), None)


def click_times_s():
    """Four clicks of a count-in, then one a count."""
    return FIRST_S + COUNT_S * np.arange(-4, COUNTS)


def stroke_times_s():
    """Strokes on their places for the hold, then a sixth too slow."""
    place_s = COUNT_S / 4
    held = jittered(FIRST_S, place_s, 4 * HELD, sd_s=0.003)
    late = FIRST_S + HELD * COUNT_S + place_s * 7 / 6 * np.arange(4 * (COUNTS - HELD))
    return np.concatenate((held, late[late < DURATION_S - 0.3]))


@cache
def take_samples(*, click=True, strokes=True):
    """Return the sound of the take, or of its clicks or strokes alone."""
    return sound_of(
        stroke_times_s() if strokes else [],
        click_times_s() if click else [],
        duration_s=DURATION_S,
    )


@cache
def heard_take(*, click=True):
    """Return the reading of the take as JSON, as the ear gives it."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "incoming").mkdir()
        blocks = [take_samples(click=click)]
        with incoming_sound(Path(folder), blocks, sample_rate_hz=RATE_HZ) as incoming:
            return hear_file(incoming.path, TOLD.request).to_json()


@cache
def heard_midi():
    """Return a MIDI file in which the hand stops after 14 of 24 counts, and its reading."""
    with tempfile.TemporaryDirectory() as folder:
        path = write_midi(
            Path(folder) / "take.mid",
            tempo_bpm=TEMPO_BPM,
            counts=HELD,
            silent_counts=COUNTS - HELD,
        )
        return path.read_bytes(), hear_file(path, TOLD.request).to_json()


def file_sound(studio, *, click=True, body=None, player="Ines", **tags):
    """File the take with its own reading or another; its number is that of the studio's last."""
    read = heard_take(click=click) if body is None else body
    with incoming_sound(
        studio.folder, [take_samples(click=click)], sample_rate_hz=RATE_HZ
    ) as incoming:
        return file_take(studio, incoming, _row(player, tags), TOLD, Judged(read, "7"), now=NOW)


def file_midi(studio, *, player="Ines"):
    """File the MIDI take."""
    data, body = heard_midi()
    with incoming_midi(studio.folder, data) as incoming:
        return file_take(studio, incoming, _row(player, {}), TOLD, Judged(body, "7"), now=NOW)


def _row(player, tags):
    return ChartRow(DAY, None, player, replace(TAGS, **tags), None, None)
