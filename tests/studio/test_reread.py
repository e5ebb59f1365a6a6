"""Stored takes read again by another judge."""

from dataclasses import replace

import pytest
from sqlalchemy import select

from loosehand import __version__
from loosehand.cli.hear_commands import hear_told
from loosehand.studio.chart import chart_rounds
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.filing import correct_count, delete_sound, file_take
from loosehand.studio.hearing import Judged, Told
from loosehand.studio.models import Reading
from loosehand.studio.reread import reread
from loosehand.studio.sound import incoming_midi, stored_names
from loosehand.studio.take_sheet import load_take
from loosehand.studio.technique_words import is_of_older_kind
from tests.studio.take_scenes import DAY, NOW, TAGS, TOLD, heard_midi


@pytest.fixture
def takes(studio, row, told, judged, now):
    """File two takes, told different tempos, and return where they stand."""
    places = []
    for number, tempo_bpm in enumerate((104.0, 112.0)):
        request = replace(told.request, tempo_bpm=tempo_bpm)
        bare = replace(row, count_held=None, ended=None)
        with incoming_midi(studio.folder, b"MThd%d" % number) as incoming:
            its = Told(request, None)
            places.append(file_take(studio, incoming, bare, its, judged, now=now))
    return places


def _counts(studio):
    """Return the numbers that stand."""
    with studio.look() as session:
        return [found.row.count_held for found in chart_rounds(session, player="Ines")]


def _readings(studio):
    """Return how many readings are kept."""
    with studio.look() as session:
        return len(list(session.scalars(select(Reading.id))))


def test_the_same_judge_changes_nothing(studio, takes, judged, now):
    """Reading again by the same judge adds no reading."""
    done = list(reread(studio, hearing=lambda *_: judged, now=now))
    assert [found.is_new for found in done] == [False, False]
    assert _readings(studio) == 2


def test_another_judges_numbers_take_force_and_the_old_are_kept(studio, takes, judged, now):
    """The chart shows the present judge's numbers; the readings before are still there."""

    def hear(path, told):
        count = 50 if told.request.tempo_bpm == 112.0 else 37
        return replace(judged, body={**judged.body, "count_held": count}, judge_version="2")

    done = list(reread(studio, hearing=hear, now=now))
    assert [found.place for found in done] == takes
    assert [(found.count_before, found.count_now) for found in done] == [(37, 37), (37, 50)]
    assert [found.is_new for found in done] == [True, True]
    assert _counts(studio) == [37, 50]
    assert _readings(studio) == 4


def test_a_reading_from_before_technique_is_heard_again_with_it(studio):
    """A reading of version 0.3.0 without technique gets one of the present version above it."""
    data, body = heard_midi()
    assert body["technique"]["drive_length"] is not None
    old = {key: of for key, of in body.items() if key != "technique"} | {"technique": {}}
    with incoming_midi(studio.folder, data) as incoming:
        row = ChartRow(DAY, None, "Ines", TAGS, None, None)
        file_take(studio, incoming, row, TOLD, Judged(old, "0.3.0"), now=NOW)
    (found,) = reread(studio, hearing=hear_told, now=NOW)
    assert (found.is_new, found.count_now) == (True, found.count_before)
    sheet = load_take(studio, 1)
    assert [number.judge_version for number in sheet.read] == ["0.3.0", __version__]
    assert __version__ != "0.3.0"
    assert sheet.body["technique"] == body["technique"]
    assert is_of_older_kind(old)
    assert not is_of_older_kind(sheet.body)


def test_a_persons_number_still_stands(studio, takes, judged, now):
    """No judge, however new, moves a number that a person corrected."""
    correct_count(studio, takes[0], count_held=60, ended=None, why="my ears", now=now)
    newer = replace(judged, body={**judged.body, "count_held": 50}, judge_version="2")
    list(reread(studio, hearing=lambda *_: newer, now=now))
    assert _counts(studio) == [60, 50]


def test_takes_without_sound_are_passed_over(studio, takes, judged, now):
    """A take whose sound was deleted keeps its reading; one whose file is lost is said."""
    delete_sound(studio, player="Ines", day=None, order=1, now=now)
    ((_, content),) = stored_names(studio.folder)
    (studio.folder / "sound" / content[:2] / f"{content}.mid").unlink()
    newer = replace(judged, judge_version="2")
    (found,) = reread(studio, hearing=lambda *_: newer, now=now)
    assert found.sound_is_gone
    assert (found.place, found.is_new) == (takes[1], False)
    assert _counts(studio) == [37, 37]
