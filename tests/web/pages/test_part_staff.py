"""The staff of a part's page: what is drawn at once, and what can be chosen there."""

import json
import re

import pytest

from loosehand.errors import InputError
from loosehand.parts.text import parse_part
from loosehand.studio.part_examples import EXAMPLE_TUNE
from loosehand.web.pages.part_staff import (
    BARS_AT_ONCE,
    WIDTHS_PX,
    StaffAsked,
    pieces_of,
    staff_of,
    width_asked,
)
from tests.web.pages.part_scenes import TINY, of_many_sections

TUNE = parse_part(EXAMPLE_TUNE)


def test_every_bar_lies_in_one_piece():
    """Pieces hold all written bars in order, none with more than are drawn at once."""
    part = parse_part(of_many_sections(3, 2 * BARS_AT_ONCE + 1))
    found = [
        (piece.section, bar)
        for piece in pieces_of(part)
        for bar in range(piece.first_bar, piece.first_bar + piece.bars)
    ]
    assert found == [(section, bar) for section in range(3) for bar in range(2 * BARS_AT_ONCE + 1)]
    assert max(piece.bars for piece in pieces_of(part)) == BARS_AT_ONCE
    assert pieces_of(part)[2].title == f"part 1, bar {2 * BARS_AT_ONCE + 1}"


def test_a_short_part_is_drawn_whole():
    """All sections of a tune stand there, with what a player calls them."""
    staff = staff_of(TUNE, StaffAsked(start=0, width_px=1060))
    assert [piece.title for piece, _ in staff.drawn] == [
        "count-off, mf",
        "verse, 8 times, mf",
        "fill",
        "chorus, 8 times, f",
        "verse again, 8 times, mf",
        "ending, ff",
    ]
    assert (staff.before, staff.after) == (None, None)


def test_one_leafs_through_a_long_part_and_back():
    """Leaf by leaf all pieces come once, and back again the same way."""
    part = parse_part(of_many_sections(9, 5))
    leaves, start = [], 0
    while start is not None:
        staff = staff_of(part, StaffAsked(start=start, width_px=660))
        assert sum(piece.bars for piece, _ in staff.drawn) <= BARS_AT_ONCE
        leaves.append([piece.number for piece, _ in staff.drawn])
        start = staff.after
    assert [number for leaf in leaves for number in leaf] == list(range(9))
    last = staff_of(part, StaffAsked(start=leaves[-1][0], width_px=660))
    assert last.before == leaves[-2][0]
    assert staff_of(part, StaffAsked(start=99, width_px=660)).start == 8


def test_a_section_that_is_typed_in_is_drawn():
    """The bars around the caret are among those drawn, wherever the staff stood."""
    part = parse_part(of_many_sections(9, 5))
    assert staff_of(part, StaffAsked(start=0, width_px=660, section=1)).start == 0
    assert staff_of(part, StaffAsked(start=0, width_px=660, section=7)).start == 7
    assert staff_of(part, StaffAsked(start=0, width_px=660, section=70)).start == 0


def test_every_stroke_can_be_found_on_the_staff():
    """The note of each stroke carries the id that the script makes from the bars."""
    staff = staff_of(TUNE, StaffAsked(start=0, width_px=1060))
    drawn = "".join(systems for _, systems in staff.drawn)
    ids = re.findall(r' id="([^"]+)"', drawn)
    assert len(set(ids)) == len(ids)
    limbs = ("right-hand", "left-hand", "right-foot", "left-foot")
    bars = json.loads(staff.bars)
    wanted = {
        f"{bar['group']}-p{stroke['place']}-{limbs[stroke['limb']]}"
        for bar in bars
        for stroke in bar["strokes"]
    }
    assert len(wanted) == sum(len(bar.strokes) for one in TUNE.sections for bar in one.bars)
    assert wanted | {bar["group"] for bar in bars} <= set(ids)


def test_the_bars_say_where_they_are():
    """The script has the words of each place and stroke from here."""
    (bar,) = json.loads(staff_of(parse_part(TINY), StaffAsked(start=0, width_px=310)).bars)
    assert (bar["section"], bar["bar"], bar["said"]) == (0, 0, "a bar 1")
    assert bar["places"] == ["count 1", "count 1, &", "count 2", "count 2, &"]
    assert bar["strokes"][0]["said"] == "right hand, hat, accent"


def test_the_tempo_of_a_section_is_that_which_holds_there():
    """A section after a change of tempo says the later one, and only where it begins."""
    text = TINY + "[b] tempo 120\nRF kick x. x.\n[c]\nRF kick x. x.\n"
    staff = staff_of(parse_part(text), StaffAsked(start=0, width_px=660))
    found = [re.findall(r"= (\d+)", systems)[:1] for _, systems in staff.drawn]
    assert found == [["90"], ["120"], []]
    later = staff_of(parse_part(text), StaffAsked(start=2, width_px=660))
    assert re.findall(r"= (\d+)", later.drawn[0][1]) == ["120"]


def test_counts_and_sticking_stand_under_the_notes():
    """As asked; without asking neither."""

    def words(**asked):
        (_, drawn), *_ = staff_of(parse_part(TINY), StaffAsked(0, 660, **asked)).drawn
        return set(re.findall(r">([RL12])<", drawn))

    assert words() == set()
    assert words(sticking=True) == {"R"}
    assert words(counts=True) == {"1", "2"}


@pytest.mark.parametrize("width_px", WIDTHS_PX)
def test_no_system_is_wider_than_was_asked(width_px):
    """Whatever the width, what is drawn keeps to it, and to a strict policy."""
    staff = staff_of(TUNE, StaffAsked(start=0, width_px=width_px))
    drawn = "".join(systems for _, systems in staff.drawn)
    widths = [float(width) for width in re.findall(r'<svg[^>]* width="([0-9.]+)"', drawn)]
    assert widths
    assert max(widths) <= width_px
    assert not re.search(r"<style|<script|\sstyle=|\son[a-z]+=|href=\"[^#]", drawn)


@pytest.mark.parametrize("word", ["", "wide", "-5", "1e3", "999999", "\u0665"])
def test_what_is_no_width_is_refused(word):
    """A width is a number of pixels."""
    with pytest.raises(InputError, match="width = "):
        width_asked(word)
