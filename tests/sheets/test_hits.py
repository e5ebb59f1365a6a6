"""Tests of the rules for strokes whose limb or grid nobody says."""

from fractions import Fraction

import pytest

from loosehand.errors import BadNotation
from loosehand.parts import INSTRUMENTS, LIMBS, Meter
from loosehand.sheets.hits import (
    INSTRUMENT_OF_NOTE,
    Hit,
    bar_of_hits,
    file_grids,
    needed_grid,
    plain_meter,
    told_name,
)

FOUR = Meter((1, 1, 1, 1), 4)


def limbs(*hits):
    """Return (place, instrument, limb) of hits given as (place in sixteenths, instrument)."""
    told = [Hit(Fraction(place, 16), name, None, ()) for place, name in hits]
    bar = bar_of_hits(told, FOUR, places_per_unit=4, where="bar 1")
    return [(stroke.place, stroke.instrument, stroke.limb) for stroke in bar.strokes]


def test_cymbals_go_to_the_right_and_the_snare_to_the_left():
    """At one place the hat is the right hand's, the snare the left hand's."""
    assert limbs((0, "snare"), (0, "hat")) == [(0, "hat", "right hand"), (0, "snare", "left hand")]


def test_of_two_drums_the_one_further_right_is_the_right_hands():
    """Snare and floor tom, and high and mid tom, are shared as they stand."""
    assert [(name, limb) for _, name, limb in limbs((0, "snare"), (0, "floor tom"))] == [
        ("floor tom", "right hand"),
        ("snare", "left hand"),
    ]


def test_a_run_on_drums_is_shared():
    """Strokes on drums at neighbouring places take turns, the right hand first."""
    told = limbs((0, "snare"), (1, "snare"), (2, "high tom"), (3, "floor tom"), (8, "snare"))
    assert [limb for _, _, limb in told] == [*(LIMBS[0], LIMBS[1]) * 2, "left hand"]


def test_two_kicks_at_once_are_two_feet():
    """A second kick at one place is the left foot's; a foot hat always is."""
    assert [limb for _, _, limb in limbs((0, "kick"), (0, "kick"))] == ["right foot", "left foot"]
    assert limbs((0, "foot hat")) == [(0, "foot hat", "left foot")]


def test_a_known_limb_is_kept_and_the_other_takes_the_rest():
    """Where one hand is told, the other stroke is the other hand's."""
    told = [Hit(Fraction(0), "hat", "left hand", ()), Hit(Fraction(0), "snare", None, ())]
    bar = bar_of_hits(told, FOUR, places_per_unit=1, where="bar 1")
    assert {s.instrument: s.limb for s in bar.strokes} == {
        "hat": "left hand",
        "snare": "right hand",
    }


def test_more_strokes_than_hands_are_refused_with_their_place():
    """Three sounds of the hands at once cannot be played."""
    with pytest.raises(BadNotation, match="bar 1, place 4: hat, snare, crash at once"):
        limbs((4, "hat"), (4, "snare"), (4, "crash"))


def test_a_bar_that_needs_less_is_put_on_the_usual_grid():
    """Bars that fit on the grid of most bars are put there; triplets stay alone."""
    assert file_grids([4, 4, 1, 2, 3, None]) == [4, 4, 4, 4, 3, 4]
    assert file_grids([]) == []


def test_a_grid_that_is_too_fine_is_refused():
    """A note at 1/49 of a quarter lies on no grid that is looked for."""
    with pytest.raises(BadNotation, match="bar 7: the notes need 49 places"):
        needed_grid([Hit(Fraction(1, 196), "hat", None, ())], FOUR, "bar 7")


@pytest.mark.parametrize(
    ("beats", "unit", "grouping"),
    [(4, 4, (1,) * 4), (5, 8, (2, 3)), (8, 8, (2,) * 4), (12, 8, (3,) * 4), (3, 8, (3,))],
)
def test_meters_are_grouped_as_usual(beats, unit, grouping):
    """A meter whose groups are not told is grouped in threes, or twos and a three."""
    assert plain_meter(beats, unit) == Meter(grouping, unit)


def test_every_note_of_the_table_is_an_instrument():
    """Each General MIDI note that is known leads to one of our instruments."""
    assert set(INSTRUMENT_OF_NOTE.values()) <= set(INSTRUMENTS)
    assert {each.midi_note for each in INSTRUMENTS.values()} <= set(INSTRUMENT_OF_NOTE)


def test_names_become_one_printable_line():
    """Line breaks, control characters and too many words do not come through."""
    assert told_name("a\n\tb\x00c") == "a b c"
    assert len(told_name("x" * 500)) == 200
    assert told_name(None) == ""
