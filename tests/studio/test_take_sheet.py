"""Checks of what is loaded of one take."""

import pytest
from sqlalchemy import text

from loosehand.errors import NotFound
from loosehand.studio.filing import RoundPlace, add_reading, correct_count, delete_sound
from loosehand.studio.hearing import Judged
from loosehand.studio.models import Take
from loosehand.studio.take_sheet import load_take
from tests.studio.take_scenes import DAY, HELD, NOW, TAGS, TOLD, file_midi, file_sound, heard_take


def correct(studio, count, *, why="I counted along", order=1):
    """Put a person's number above what stands."""
    place = RoundPlace("Ines", DAY, order)
    correct_count(studio, place, count_held=count, ended=None, why=why, now=NOW)


def test_a_take_as_it_was_filed(studio):
    """A take that nobody touched has its round, its reading, its file and the machine's number."""
    file_sound(studio)
    sheet = load_take(studio, 1)
    assert (sheet.place, sheet.tags, sheet.told) == (RoundPlace("Ines", DAY, 1), TAGS, TOLD)
    assert (sheet.standing, sheet.why_void, sheet.kind) == ("counts", None, "sound")
    assert sheet.body == heard_take()
    assert (sheet.count_held, sheet.ended) == (HELD, sheet.body["ended"])
    assert sheet.sound_path.is_file()
    assert [number.by_person for number in sheet.numbers] == [False]


def test_a_persons_number_stands_and_all_are_kept(studio):
    """The last correction stands; those before it and the machine's stay below it."""
    file_sound(studio)
    correct(studio, 9)
    correct(studio, 11, why="I counted again")
    sheet = load_take(studio, 1)
    assert sheet.count_held == 11
    assert [number.count_held for number in sheet.numbers] == [11, 9, HELD]
    assert [number.why for number in sheet.numbers] == ["I counted again", "I counted along", None]
    assert sheet.numbers[0].given_at == NOW


def test_the_last_reading_is_in_force(studio):
    """A take that was read again shows its last reading, and keeps the number of the first."""
    file_sound(studio)
    with studio.act() as session:
        again = heard_take() | {"count_held": 12}
        add_reading(session, session.get(Take, 1), Judged(again, "8"), now=NOW)
    sheet = load_take(studio, 1)
    assert (sheet.body["count_held"], sheet.count_held) == (12, 12)
    assert [number.judge_version for number in sheet.numbers] == ["8", "7"]


def test_a_void_round_says_why(studio):
    """A void round carries its reason."""
    file_sound(studio)
    with studio.act() as session:
        session.execute(text("update rounds set standing = 'void', why_void = 'the phone rang'"))
    sheet = load_take(studio, 1)
    assert (sheet.standing, sheet.why_void) == ("void", "the phone rang")


def test_a_deleted_sound_has_no_path(studio):
    """Where the sound was deleted there is no path, and when it was is known."""
    file_sound(studio)
    delete_sound(studio, player="Ines", day=None, order=None, now=NOW)
    sheet = load_take(studio, 1)
    assert (sheet.sound_path, sheet.sound_deleted_at) == (None, NOW)


def test_a_file_that_is_gone_has_no_path(studio):
    """A file that somebody else took away is no error, and has no path."""
    file_sound(studio)
    load_take(studio, 1).sound_path.unlink()
    sheet = load_take(studio, 1)
    assert (sheet.sound_path, sheet.sound_deleted_at) == (None, None)


def test_a_take_without_a_reading(studio):
    """A take that was never read has no number and no body."""
    file_midi(studio)
    with studio.act() as session:
        session.execute(text("delete from readings"))
    sheet = load_take(studio, 1)
    assert (sheet.body, sheet.in_force, sheet.count_held, sheet.ended) == (None, None, None, None)


@pytest.mark.parametrize("take_id", [0, 2, 2**63, 10**40])
def test_no_such_take(studio, take_id):
    """A number that no take has is said in a sentence, however large it is."""
    file_midi(studio)
    with pytest.raises(NotFound, match="there is no take"):
        load_take(studio, take_id)
