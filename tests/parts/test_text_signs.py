"""Signs and words of the text, each way."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.errors import BadNotation
from loosehand.parts import BEATS, INSTRUMENTS, MARKS, Meter
from loosehand.parts.text_signs import (
    ALSO_CALLED,
    NOTHING,
    OPEN_SIGNS,
    SIGNS,
    grid_of_words,
    instrument_of_words,
    meter_of_words,
    number_of_words,
    tempo_of_words,
    words_of_meter,
    words_of_number,
    words_of_tempo,
)


@given(st.fractions(20, 400, max_denominator=1_000_000))
def test_numbers_read_back_exactly(number):
    """Whatever a tempo may be returns from its words."""
    assert number_of_words(words_of_number(number)) == number


@pytest.mark.parametrize("words", ["", "fast", "-3", "1/0", "1e3", "10.", "1" * 10])
def test_what_is_no_number_is_none(words):
    """Signs, powers, halves of a fraction and endless figures are no numbers here."""
    assert number_of_words(words) is None


@given(st.integers(20, 400).map(Fraction), st.sampled_from(tuple(BEATS.values())))
def test_tempos_read_back_exactly(tempo_bpm, beat):
    """Every beat has a name that returns it."""
    assert tempo_of_words(words_of_tempo(tempo_bpm, beat)) == (tempo_bpm, beat)


@given(
    st.lists(st.integers(1, 9), min_size=1, max_size=9).map(tuple),
    st.sampled_from((1, 2, 4, 8, 16, 32)),
)
def test_meters_read_back_exactly(grouping, unit):
    """Every grouping of up to nine counts returns."""
    meter = Meter(grouping, unit)
    assert meter_of_words(words_of_meter(meter)) == meter


def test_signatures_that_all_count_alike_need_no_counts():
    """Quarters are counted one by one, eighths in threes."""
    assert meter_of_words("3/4") == Meter((1, 1, 1), 4)
    assert meter_of_words("12/8") == Meter((3, 3, 3, 3), 8)
    assert meter_of_words("7/8 2+2+3") == Meter((2, 2, 3), 8)
    with pytest.raises(BadNotation, match="5/8 needs its counts"):
        meter_of_words("5/8")
    with pytest.raises(BadNotation, match="do not add up to 7"):
        meter_of_words("7/8 as 7+0")


def test_grids_are_numbers_or_names():
    """A name is taken by the quarter, a number by the unit of the meter."""
    quarters, eighths = Meter((1,) * 4, 4), Meter((2, 2, 3), 8)
    assert grid_of_words("sixteenths", quarters) == 4
    assert grid_of_words("sixteenths", eighths) == 2
    assert grid_of_words("3", eighths) == 3
    with pytest.raises(BadNotation, match="do not divide"):
        grid_of_words("triplets", eighths)


def test_every_combination_of_marks_has_one_sign():
    """An accent is no ghost note; every other set of marks has its own sign."""
    wanted = {(), ("accent",), ("ghost",), ("flam",), ("accent", "flam"), ("flam", "ghost")}
    assert set(SIGNS.values()) == wanted
    assert len(SIGNS) == len(wanted)
    assert {mark for marks in SIGNS.values() for mark in marks} == set(MARKS)
    assert not set(NOTHING) & (set(SIGNS) | set(OPEN_SIGNS))


@pytest.mark.parametrize("name", [*INSTRUMENTS, *ALSO_CALLED])
def test_every_instrument_is_found_by_its_words(name):
    """Each name, in capitals too, leads to its instrument and the words it took."""
    found = instrument_of_words([*name.upper().split(), "x..."])
    assert found == (ALSO_CALLED.get(name, name), len(name.split()))


def test_other_words_are_no_instrument():
    """What is in no table is None."""
    assert instrument_of_words(["gong", "x..."]) is None
    assert instrument_of_words([]) is None
