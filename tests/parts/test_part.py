"""Parts: what four limbs can play, and what is refused."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings

from loosehand.errors import BadNotation
from loosehand.parts import (
    Bar,
    Meter,
    Part,
    Section,
    Stroke,
    bars_in_all,
    check_part,
    count_and_place,
    place_positions,
)
from tests.parts.random_parts import parts

FOUR = Meter((1, 1, 1, 1), 4)


def part_of(*strokes, **changes):
    """Return a part of one bar of sixteenths in 4/4."""
    section = Section("verse", (Bar(FOUR, 4, strokes),), 1, None, None)
    part = Part("tune", Fraction(104), Fraction(1, 4), 50, (), (section,))
    return replace(part, **changes)


def section_of(part, **changes):
    """Return the part with its section changed."""
    return replace(part, sections=(replace(part.sections[0], **changes),))


@settings(max_examples=50, deadline=None)
@given(parts)
def test_what_four_limbs_can_play_is_taken(part):
    """Random playable parts pass, unchanged."""
    assert check_part(part) is part


def test_strokes_and_marks_are_kept_sorted():
    """Bars of the same strokes are equal, in whatever order they were given."""
    kick = Stroke(0, "right foot", "kick")
    hat = Stroke(0, "right hand", "hat")
    later = Stroke(3, "left hand", "snare", ("flam", "accent"))
    assert Bar(FOUR, 4, (later, kick, hat)) == Bar(FOUR, 4, (hat, kick, later))
    assert Bar(FOUR, 4, (later, kick, hat)).strokes == (hat, kick, later)
    assert later.marks == ("accent", "flam")


@pytest.mark.parametrize(
    ("strokes", "match"),
    [
        (
            (Stroke(5, "right hand", "hat"), Stroke(5, "right hand", "ride")),
            "verse, bar 1, count 2, place 1: the right hand has two strokes at once",
        ),
        ((Stroke(0, "third hand", "hat"),), "count 1, place 0: 'third hand' is no limb"),
        ((Stroke(0, "right hand", "gong"),), "count 1, place 0: 'gong' is no instrument"),
        ((Stroke(9, "right foot", "snare"),), "count 3, place 1: the right foot cannot play"),
        ((Stroke(9, "left hand", "kick"),), "the left hand cannot play the kick.*feet"),
        ((Stroke(16, "left hand", "snare"),), "place 16 lies outside the bar.*0 to 15"),
        ((Stroke(-1, "left hand", "snare"),), "place -1 lies outside the bar"),
        ((Stroke(0, "left hand", "snare", ("accent", "ghost")),), "not both"),
        ((Stroke(0, "left hand", "snare", ("loud",)),), "marks loud"),
        ((Stroke(0, "right foot", "kick", ("flam",)),), "a flam is played by the hands"),
        (
            (Stroke(0, "left hand", "snare", ("flam",)), Stroke(0, "right hand", "ride")),
            "count 1, place 0: the flam of the left hand needs the right hand",
        ),
    ],
)
def test_what_four_limbs_cannot_play_is_refused_by_its_place(strokes, match):
    """The sentence names the bar and place, and what is wrong there."""
    with pytest.raises(BadNotation, match=match):
        check_part(part_of(*strokes))


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"sections": ()}, "no section"),
        ({"sections": part_of().sections * 1001}, "1001 sections: want 1000"),
        ({"tempo_bpm": Fraction(0)}, "tempo = 0: want 20 to 400"),
        ({"tempo_bpm": Fraction(401)}, "tempo = 401"),
        ({"tempo_bpm": Fraction(100_000_003, 1_000_003)}, "no finer"),
        ({"beat": Fraction(1, 3)}, "beat = 1/3"),
        ({"swing_percent": 80}, "swing = 80: want 50"),
        ({"title": "two\nlines"}, "the title .* must be one line"),
        ({"title": "x" * 201}, "201 characters"),
        ({"feel": ("laid back, straight",)}, "holds a comma"),
        ({"feel": ("",)}, "feel is empty"),
    ],
)
def test_a_heading_that_cannot_be_is_refused(changes, match):
    """Tempo, beat, swing and words keep their limits."""
    with pytest.raises(BadNotation, match=match):
        check_part(part_of(**changes))


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"name": ""}, "section 1 is empty"),
        ({"bars": ()}, "verse has no bar"),
        ({"times": 0}, "verse is played 0 times"),
        ({"times": 100_001}, "100001 times"),
        ({"dynamic": "loud"}, "dynamic 'loud'"),
        ({"tempo_bpm": Fraction(10)}, "tempo of verse = 10"),
        ({"bars": (Bar(FOUR, 0, ()),)}, "bar 1: 0 places in a unit"),
        ({"bars": (Bar(FOUR, 99, ()),)}, "bar 1: 396 places"),
        ({"bars": (Bar(FOUR, 4, ()),) * 2, "times": 50_001}, "100002 bars long"),
    ],
)
def test_a_section_that_cannot_be_is_refused(changes, match):
    """Names, repeats, dynamics, tempos and lengths keep their limits."""
    with pytest.raises(BadNotation, match=match):
        check_part(section_of(part_of(), **changes))


def test_bars_are_counted_with_repeats():
    """Three bars played four times are twelve."""
    part = section_of(part_of(), bars=(Bar(FOUR, 4, ()),) * 3, times=4)
    assert bars_in_all(part) == 12


def test_every_place_has_its_count():
    """In 7/8 as 2+2+3 with two places a unit, the counts hold 4, 4 and 6 places."""
    bar = Bar(Meter((2, 2, 3), 8), 2, ())
    assert [count_and_place(bar, place) for place in (0, 3, 4, 8, 13)] == [
        (1, 0), (1, 3), (2, 0), (3, 0), (3, 5),
    ]  # fmt: skip
    with pytest.raises(BadNotation, match="0 to 13"):
        count_and_place(bar, 14)


def test_straight_places_are_evenly_spaced():
    """At 50 percent every place follows the one before by the same step."""
    bar = Bar(FOUR, 4, ())
    assert place_positions(bar, swing_percent=50) == tuple(Fraction(k, 16) for k in range(16))


def test_swing_moves_the_second_of_each_pair():
    """At 75 percent the second place of a pair comes three quarters through it."""
    bar = Bar(FOUR, 2, ())
    positions = place_positions(bar, swing_percent=75)
    assert positions[1] == Fraction(3, 16)
    assert positions[2] == Fraction(1, 4)


def test_counts_with_an_odd_number_of_places_are_never_swung():
    """Triplets, and the group of three in 7/8, stay as they are; the pairs are moved."""
    triplets = Bar(FOUR, 3, ())
    assert place_positions(triplets, swing_percent=66) == place_positions(
        triplets, swing_percent=50
    )
    seven = place_positions(Bar(Meter((2, 2, 3), 8), 1, ()), swing_percent=60)
    assert seven[1] == Fraction(6, 40)
    assert seven[4:] == (Fraction(4, 8), Fraction(5, 8), Fraction(6, 8))
