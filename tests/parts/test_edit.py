"""Changes to a part: each does what it says, can be undone, and never makes the unplayable."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.errors import BadNotation
from loosehand.parts.edit import (
    EDITS,
    At,
    apply_edit,
    hand_over,
    instruments_of,
    keep_notes,
    move_instrument,
    stroke_at,
    toggle_mark,
    toggle_stroke,
)
from loosehand.parts.part import LIMBS, Stroke, check_part
from loosehand.parts.text import parse_part, write_part
from tests.parts.random_parts import parts

GROOVE = """\
tempo: 104
meter: 4/4
grid: 4

[verse] x8
RH hat    xxxx xxxx xxxx xxxx | Xxxx xxxx xxxx xxx.
LH snare  .... X... .... X... | .... X... .... X..f
"""
HAT = At(0, 0, 1, "right hand")


@pytest.fixture
def groove():
    """Two bars of sixteenths with a backbeat; the last place of the second is a flam's."""
    return parse_part(GROOVE)


def test_a_stroke_is_taken_away_and_set_again(groove):
    """Twice the same change, and the part is what it was."""
    without = toggle_stroke(groove, HAT)
    assert stroke_at(without, HAT) is None
    assert toggle_stroke(without, HAT) == groove


def test_a_new_stroke_strikes_what_is_struck_nearby(groove):
    """The limb stays on its instrument; where it has none in the bar, on its usual one."""
    assert stroke_at(toggle_stroke(groove, At(0, 0, 3, "left hand")), At(0, 0, 3, "left hand")) == (
        Stroke(3, "left hand", "snare")
    )
    foot = At(0, 1, 0, "right foot")
    assert stroke_at(toggle_stroke(groove, foot), foot).instrument == "kick"
    bell = toggle_stroke(groove, foot, instrument="kick")
    assert bell == toggle_stroke(groove, foot)


def test_an_accent_ends_a_ghost_note(groove):
    """A stroke is never both."""
    ghost = toggle_mark(groove, HAT, "ghost")
    assert stroke_at(ghost, HAT).marks == ("ghost",)
    assert stroke_at(toggle_mark(ghost, HAT, "accent"), HAT).marks == ("accent",)
    assert toggle_mark(ghost, HAT, "ghost") == groove


def test_a_stroke_moves_over_the_staff_and_stays_on_it(groove):
    """Up leads to what stands next above, and the highest and lowest stay."""
    order = instruments_of("right hand")
    up = move_instrument(groove, HAT, steps=1)
    assert stroke_at(up, HAT).instrument == order[order.index("hat") + 1] == "half-open hat"
    assert move_instrument(up, HAT, steps=-1) == groove
    assert stroke_at(move_instrument(groove, HAT, steps=99), HAT).instrument == order[-1]
    assert stroke_at(move_instrument(groove, HAT, steps=-99), HAT).instrument == "floor tom"


def test_a_stroke_is_handed_over(groove):
    """The other hand gets it, with instrument and marks; twice, and it is back."""
    changed, there = apply_edit(groove, "other limb", HAT)
    assert there == replace(HAT, limb="left hand")
    assert stroke_at(changed, there).instrument == "hat"
    assert apply_edit(changed, "other limb", there) == (groove, HAT)


@pytest.mark.parametrize(
    ("name", "at", "says"),
    [
        ("accent", At(0, 0, 0, "left hand"), "the left hand has no stroke there: set one first"),
        ("other limb", At(0, 0, 4, "right hand"), "the left hand has a stroke of its own there"),
        ("flam", At(0, 0, 4, "right hand"), "verse, bar 1, count 2, place 0: the flam"),
        ("stroke", At(0, 1, 15, "right hand"), "needs the right hand, which has a stroke"),
        ("stroke", At(1, 0, 0, "left hand"), "section 2: the part has 1"),
        ("stroke", At(0, 2, 0, "left hand"), "bar 3: verse has 2"),
        ("stroke", At(0, 0, 16, "left hand"), "place 16: bar 1 has places 0 to 15"),
        ("stroke", At(0, 0, -1, "left hand"), "place -1"),
        ("stroke", At(0, 0, 0, "third hand"), "limb = 'third hand'"),
        ("double", At(0, 0, 0, "left hand"), "edit = 'double': want one of stroke, accent"),
    ],
)
def test_what_cannot_be_is_refused(groove, name, at, says):
    """A change that cannot be made says why in one sentence."""
    with pytest.raises(BadNotation, match=says) as caught:
        apply_edit(groove, name, at)
    assert "\n" not in str(caught.value)


@given(parts, st.data())
def test_a_changed_part_can_be_played_and_only_one_bar_changed(part, data):
    """Whatever is changed, four limbs can play it; every other bar is what it was."""
    section = data.draw(st.integers(0, len(part.sections) - 1))
    bar = data.draw(st.integers(0, len(part.sections[section].bars) - 1))
    place = data.draw(st.integers(0, part.sections[section].bars[bar].places - 1))
    at = At(section, bar, place, data.draw(st.sampled_from(LIMBS)))
    try:
        changed, _ = apply_edit(part, data.draw(st.sampled_from(sorted(EDITS))), at)
    except BadNotation:
        return
    assert check_part(changed) is changed
    assert parse_part(write_part(changed)) == changed
    for number, (old, new) in enumerate(zip(part.sections, changed.sections, strict=True)):
        for index, (was, now) in enumerate(zip(old.bars, new.bars, strict=True)):
            assert was == now or (number, index) == (section, bar)


def test_handing_over_is_refused_where_the_flam_would_need_the_hand(groove):
    """The other limb must be free."""
    with pytest.raises(BadNotation, match="has a stroke of its own"):
        hand_over(groove, At(0, 0, 12, "left hand"))


def test_notes_stay_in_their_section(groove):
    """Lines that begin with # are kept where they belong when the text is written anew."""
    text = "# top\n" + GROOVE.replace("[verse] x8\n", "[verse] x8\n# loose wrist\n")
    kept = keep_notes(text, write_part(parse_part(text)))
    assert parse_part(kept) == groove
    lines = kept.splitlines()
    assert lines[0] == "# top"
    assert lines[lines.index("[verse] x8") + 1] == "# loose wrist"


def test_notes_of_a_section_without_a_name_are_kept():
    """Where the text names no section, the first bars begin one."""
    text = "tempo: 90\nmeter: 2/4\ngrid: 1\nRF kick x x\n# after\n"
    kept = keep_notes(text, write_part(parse_part(text)))
    assert kept.splitlines()[-3:] == ["[groove]", "# after", "RF kick  x x"]
