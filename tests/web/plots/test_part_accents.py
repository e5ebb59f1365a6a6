"""Accents of a take against its part, drawn."""

import re
from xml.etree import ElementTree

import pytest

from loosehand.judge.part_heard import hear_part
from loosehand.studio.part_take_words import BarHeard, bars_heard
from loosehand.web.plots.part_accents import BARS_A_PICTURE, draw_accents, draw_mark
from tests.studio.part_take_scenes import asked_of, heard_of_part


@pytest.fixture
def bars():
    """Twelve bars, three accents missed and one unasked."""
    return bars_heard(
        hear_part(heard_of_part()[2], asked_of(), count_held=48), ended="held to the end"
    )


def drawn(bars):
    """Return the only picture of some bars, as a tree."""
    (picture,) = draw_accents(bars)
    return ElementTree.fromstring(picture)


def how_many(tree, look):
    """How many signs of a look a picture has."""
    return sum(each.get("class") == look for each in tree.iter())


def test_each_mark_has_its_own_shape(bars):
    """As many signs as accents; missed and unasked differ in shape, not in colour alone."""
    tree = drawn(bars)
    found = {look: how_many(tree, look) for look in ("came", "missed", "unasked", "plain")}
    assert found == {"came": 27, "missed": 3, "unasked": 1, "plain": 192 - 31}
    shapes = {each.get("class"): each.tag for each in tree.iter() if each.get("class") in found}
    assert shapes["unasked"] == "path"
    assert shapes["missed"] == shapes["came"] == "circle"


def test_accents_of_one_place_stand_in_one_column(bars):
    """So that what is missed each time is seen at once."""
    tree = drawn(bars)
    missed = [each for each in tree.iter() if each.get("class") == "missed"]
    assert len({each.get("cx") for each in missed}) == 1
    assert len({each.get("cy") for each in missed}) == 3


def test_a_picture_says_what_it_shows(bars):
    """With a title and a description of every bar."""
    tree = drawn(bars)
    assert tree.get("role") == "img"
    words = {each.tag: each.text for each in tree}
    assert words["title"] == "Accents, bar 1 to 12"
    assert "Bar 1: 2 of 3 came, missed at 2 &. Bar 2: 2 of 2 came." in words["desc"]
    assert "Bar 4: 2 of 2 came, unasked at 1 &." in words["desc"]
    named = tree.get("aria-labelledby").split()
    assert [each.get("id") for each in tree][:2] == named


def drawn_at(line):
    """Where an upright line is."""
    return re.match(r"M([\d.]+) ", line.get("d"))[1]


def test_the_end_of_a_recording_is_no_break():
    """Another line than the break's, and other words."""
    heard = hear_part(heard_of_part()[2], asked_of(), count_held=24)
    tree = drawn(bars_heard(heard, ended="recording ended"))
    assert (how_many(tree, "break-line"), how_many(tree, "end-line")) == (0, 1)
    words = next(each.text for each in tree if each.tag == "desc")
    assert "then the end of the take. Bar 7: after the end of the take." in words
    assert "break" not in words


def test_what_cannot_be_told_is_a_square():
    """And its place is said."""
    bar = BarHeard(1, ("untold", "stroke", "came", "stroke"), 4, None, True)
    tree = drawn([bar])
    (square,) = (each for each in tree.iter() if each.get("class") == "untold")
    assert square.tag == "rect"
    words = next(each.text for each in tree if each.tag == "desc")
    assert words == "Bar 1: 1 of 1 came, cannot be told at 1."


def test_the_break_is_drawn_where_it_is():
    """One red line; bars after it are empty."""
    heard = hear_part(heard_of_part()[2], asked_of(), count_held=24)
    tree = drawn(bars_heard(heard, ended="lost the click"))
    (line,) = (each for each in tree.iter() if each.get("class") == "break-line")
    ends = [each for each in tree.iter() if each.get("class") == "count-line"]
    assert drawn_at(line) == drawn_at(ends[5 * 5 + 4])
    found = {look: how_many(tree, look) for look in ("came", "missed", "unasked", "plain")}
    assert found == {"came": 12, "missed": 3, "unasked": 1, "plain": 96 - 16}
    words = next(each.text for each in tree if each.tag == "desc")
    assert "then the break. Bar 7: after the break." in words


def test_long_parts_are_drawn_in_pieces():
    """Each with a name of its own."""
    bar = BarHeard(1, ("came", "stroke") * 8, 4, None, True)
    pictures = draw_accents([BarHeard(n, bar.marks, 4, None, True) for n in range(1, 34)])
    assert len(pictures) == 3
    names = [re.search(r'id="(plot-[^"]*)"', picture)[1] for picture in pictures]
    assert len(set(names)) == 3
    assert f"bar {BARS_A_PICTURE + 1} to {2 * BARS_A_PICTURE}" in pictures[1]
    assert '<title id="title-accents-2">Accents, bar 33</title>' in pictures[2]


def test_bars_of_broken_counts_have_no_lines_of_counts():
    """A line at every count would lie on no count there."""
    for places, lines in ((16, 5), (14, 0)):
        bar = BarHeard(1, ("stroke",) * places, 4, None, True)
        tree = drawn([bar])
        assert how_many(tree, "count-line") == lines
        counts = [each.text for each in tree.iter() if "count-word" in each.get("class", "")]
        assert counts == (["1", "2", "3", "4"] if lines else [])


def test_a_sign_of_the_key_is_for_the_eye_alone():
    """Words stand beside it."""
    for mark in ("came", "missed", "unasked", "untold", "stroke"):
        assert 'aria-hidden="true"' in draw_mark(mark)
