"""Parts in the studio: what is kept comes back, and no change is lost."""

from datetime import timedelta

import pytest

from loosehand.errors import BadNotation, Conflict, NotFound
from loosehand.studio.parts_store import (
    MOST_CHARACTERS,
    NO_TITLE,
    add_part,
    change_part,
    check_part_text,
    delete_part,
    list_parts,
    load_part,
)
from loosehand.studio.workouts import add_player

TEXT = "title: Slow groove\ntempo: 80\nmeter: 4/4\ngrid: 2\nRH hat x. x. x. x.\n"
OTHER = TEXT.replace("80", "84")


def test_what_is_kept_comes_back(studio, now):
    """Text, title, owner and moment are as they were given."""
    add_player(studio, "Ines", now=now)
    number = add_part(studio, TEXT, player="Ines", now=now)
    found = load_part(studio, number)
    assert (found.text, found.title, found.player, found.version) == (
        TEXT,
        "Slow groove",
        "Ines",
        1,
    )
    assert found.changed_at == now


def test_a_part_may_be_the_studios_and_need_no_title(studio, now):
    """Nobody's part without a title has words to show all the same."""
    number = add_part(studio, TEXT.partition("\n")[2], player=None, now=now)
    (listed,) = list_parts(studio)
    assert (listed.part_id, listed.title, listed.player) == (number, NO_TITLE, None)


def test_the_last_changed_stands_first(studio, now):
    """The list is in the order of changes."""
    first = add_part(studio, TEXT, player=None, now=now)
    second = add_part(studio, TEXT, player=None, now=now + timedelta(seconds=1))
    assert [one.part_id for one in list_parts(studio)] == [second, first]
    change_part(studio, first, OTHER, seen=1, now=now + timedelta(seconds=2))
    assert [one.part_id for one in list_parts(studio)] == [first, second]


def test_a_change_counts_up_and_the_same_text_does_not(studio, now):
    """Each change is a version; saving what stands is none, whatever was seen."""
    number = add_part(studio, TEXT, player=None, now=now)
    assert change_part(studio, number, OTHER, seen=1, now=now) == 2
    assert change_part(studio, number, OTHER, seen=1, now=now) == 2
    assert change_part(studio, number, TEXT, seen=2, now=now) == 3
    assert load_part(studio, number).text == TEXT


def test_of_two_changes_the_second_is_told(studio, now):
    """A change made from what no longer stands is refused, and what stands is left alone."""
    number = add_part(studio, TEXT, player=None, now=now)
    change_part(studio, number, OTHER, seen=1, now=now)
    with pytest.raises(Conflict, match="changed elsewhere"):
        change_part(studio, number, TEXT + "RF kick x. .. .. ..\n", seen=1, now=now)
    assert load_part(studio, number).text == OTHER


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the text ends without a bar"),
        (TEXT.replace("x. x. x. x.", "x. x. x."), "line 5, column 8"),
        ("x" * (MOST_CHARACTERS + 1), f"want {MOST_CHARACTERS} at most"),
    ],
)
def test_what_is_no_part_is_not_kept(studio, now, text, says):
    """A text that cannot be read is refused with its place, new or changed."""
    with pytest.raises(BadNotation, match=says):
        add_part(studio, text, player=None, now=now)
    assert list_parts(studio) == []
    number = add_part(studio, TEXT, player=None, now=now)
    with pytest.raises(BadNotation, match=says):
        change_part(studio, number, text, seen=1, now=now)
    with pytest.raises(BadNotation, match=says):
        check_part_text(text)


def test_a_part_is_deleted_once(studio, now):
    """What is gone is not found by anything."""
    number = add_part(studio, TEXT, player=None, now=now)
    delete_part(studio, number)
    for act in (
        lambda: delete_part(studio, number),
        lambda: load_part(studio, number),
        lambda: change_part(studio, number, OTHER, seen=1, now=now),
    ):
        with pytest.raises(NotFound, match=f"no part {number}"):
            act()


def test_the_player_of_a_part_must_be_there(studio, now):
    """A part cannot belong to nobody known."""
    with pytest.raises(NotFound, match="Ines"):
        add_part(studio, TEXT, player="Ines", now=now)
