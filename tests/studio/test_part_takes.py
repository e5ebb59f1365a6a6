"""Takes of parts in the studio."""

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from loosehand.studio.chart import chart_rounds
from loosehand.studio.filing import correct_count
from loosehand.studio.models import Take
from loosehand.studio.part_takes import (
    accents_in_words,
    part_of_take,
    takes_of_part,
)
from loosehand.studio.parts_store import change_part, delete_part
from loosehand.studio.take_sheet import load_take
from tests.judge.part_scenes import TEXT
from tests.studio.part_take_scenes import asked_of, file_of_part, part_with_take
from tests.studio.take_scenes import DAY, NOW, file_midi


@pytest.fixture
def part(studio):
    """Return the number of a part that has one take."""
    return part_with_take(studio)


def test_a_take_keeps_what_the_part_asked(studio, part):
    """Part, limb, accents and bars as they were, at the part's own tempo."""
    taken = part_of_take(studio, 1)
    assert (taken.part_id, taken.asked, taken.now) == (part, asked_of(), "same")


def test_another_take_has_no_part(studio, part):
    """Neither a take of no part, nor one that is not there."""
    file_midi(studio)
    assert part_of_take(studio, 2) is None
    assert part_of_take(studio, 99) is None
    assert takes_of_part(studio, part, player="Ines", most=9).in_all == 1


@pytest.mark.parametrize(
    ("old", "new", "now"),
    [
        ("title: Slow train", "title: Fast train", "same"),
        ("tempo: 100", "tempo: 90", "same"),
        ("LH snare .... x...", "LH snare .... X...", "same"),
        ("RH hat Xxxx", "RH hat xxxx", "changed"),
        ("[verse] x6", "[verse] x5", "changed"),
        ("RH hat Xxxx xxXx", "RH hat Xx.x xxXx", "changed"),
        ("grid: 4", "grid: 4\nswing: 60", "changed"),
    ],
)
def test_a_change_of_the_part_is_noticed(studio, part, old, new, now):
    """Only where the limb is asked for something else; what was asked then is kept."""
    change_part(studio, part, TEXT.replace(old, new), seen=1, now=NOW)
    taken = part_of_take(studio, 1)
    assert (taken.now, taken.asked) == (now, asked_of())


def test_a_deleted_part_leaves_its_takes(studio, part):
    """The round stands, and the take still knows what was asked."""
    delete_part(studio, part)
    taken = part_of_take(studio, 1)
    assert (taken.part_id, taken.now, taken.asked) == (None, "deleted", asked_of())
    assert load_take(studio, 1).count_held == 48
    with studio.look() as session:
        assert [each.take_id for each in chart_rounds(session, player="Ines")] == [1]
    assert takes_of_part(studio, part, player="Ines", most=9).in_all == 0


def test_a_part_that_is_gone_when_its_take_is_filed(studio):
    """The take is kept as that of a deleted part."""
    file_of_part(studio, 77)
    assert part_of_take(studio, 1).now == "deleted"
    with studio.look() as session:
        assert session.scalar(select(Take.part_id)) is None


def test_the_takes_of_a_part_are_listed(studio, part):
    """The last day first, with tempo, number, accents and drive; no more than asked for."""
    file_of_part(studio, part, tempo_bpm=80, day=DAY + timedelta(days=3))
    file_of_part(studio, part, tempo_bpm=90, day=DAY - timedelta(days=3))
    found = takes_of_part(studio, part, player="Ines", most=2)
    assert found.in_all == 3
    assert [(one.tempo_bpm, one.day) for one in found.takes] == [
        (80.0, DAY + timedelta(days=3)),
        (100.0, DAY),
    ]
    (_, one) = found.takes
    assert (one.take_id, one.player, one.limb) == (1, "Ines", "right hand")
    assert (one.count_held, one.counts, one.accents) == (48, 48, "27 of 30, 1 unasked")
    assert one.technique is None
    assert one.drive


def test_each_player_has_a_list(studio, part):
    """Takes of another player are neither listed nor counted."""
    file_of_part(studio, part, player="Otto")
    found = {name: takes_of_part(studio, part, player=name, most=9) for name in ("Ines", "Otto")}
    assert [[one.take_id for one in each.takes] for each in found.values()] == [[1], [2]]
    assert [each.in_all for each in found.values()] == [1, 1]


def test_the_technique_that_was_said_stands_in_the_list(studio, part):
    """So that two takes of one day can be told apart."""
    file_of_part(studio, part, technique="whip fours")
    found = takes_of_part(studio, part, player="Ines", most=9).takes
    assert [one.technique for one in found] == ["whip fours", None]


def test_the_accents_of_a_take_are_told_in_few_words(studio, part):
    """How many came and how many nobody asked for, or why neither is told."""
    sheet = load_take(studio, 1)
    assert accents_in_words(sheet, asked_of()) == "27 of 30, 1 unasked"
    assert accents_in_words(replace(sheet, body=None), asked_of()) == "not read yet"
    assert accents_in_words(replace(sheet, read=(), corrected=()), asked_of()) == "not judged"
    plain = asked_of(TEXT.replace("X", "x"))
    assert accents_in_words(sheet, plain) == "none asked for"
    every = replace(asked_of(), accents=tuple(range(192)))
    assert accents_in_words(sheet, every) == "asked on every stroke"
    short = replace(sheet.read[-1], count_held=2)
    assert accents_in_words(replace(sheet, read=(short,)), asked_of()) == "cannot be told"


def test_a_persons_number_stands_in_the_list(studio, part):
    """And accents are told up to there."""
    place = load_take(studio, 1).place
    correct_count(studio, place, count_held=24, ended=None, why="a slip", now=NOW)
    (one,) = takes_of_part(studio, part, player="Ines", most=9).takes
    assert (one.count_held, one.accents) == (24, "12 of 15, 1 unasked")
