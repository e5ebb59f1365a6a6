"""Places of a grid, and seconds from tempos, exactly."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loosehand.errors import BadNotation, BadTempo
from loosehand.parts.grid import (
    SUBDIVISIONS,
    Meter,
    TempoChange,
    TempoMap,
    places_of_bar,
    steady_tempo,
    strokes_per_second,
    to_float_s,
)

FOUR = Meter((1, 1, 1, 1), 4)
QUARTER = Fraction(1, 4)
# 100 quarters a minute, half of it from bar 2, dotted quarters at 100 from bar 3.
CHANGING = TempoMap(
    [
        TempoChange(Fraction(0), Fraction(100), QUARTER),
        TempoChange(Fraction(1), Fraction(50), QUARTER),
        TempoChange(Fraction(2), Fraction(100), Fraction(3, 8)),
    ]
)


@pytest.mark.parametrize("name", SUBDIVISIONS)
def test_places_of_each_subdivision_fill_the_bar_evenly(name):
    """Every subdivision has equal steps that end exactly at the bar line."""
    per_unit = SUBDIVISIONS[name]
    positions = [p.position for p in places_of_bar(FOUR, places_per_unit=per_unit)]
    step = Fraction(1, 4 * per_unit)
    assert positions == [k * step for k in range(4 * per_unit)]
    assert positions[-1] + step == FOUR.bar_length


def test_seven_eight_has_a_longer_last_count():
    """In 7/8 as 2 2 3, sixteenths give counts of 4, 4 and 6 places."""
    places = places_of_bar(Meter((2, 2, 3), 8), places_per_unit=2)
    assert [p.count for p in places] == [1] * 4 + [2] * 4 + [3] * 6
    assert [p.place for p in places] == [*range(4), *range(4), *range(6)]
    assert places[8].position == Fraction(1, 2)


@pytest.mark.parametrize(("grouping", "unit"), [((), 4), ((2, 0), 8), ((1, 1), 3), ((1,), 0)])
def test_no_meter(grouping, unit):
    """A meter without counts, with an empty count or with an unknown unit is refused."""
    with pytest.raises(BadNotation):
        Meter(grouping, unit)


def test_no_places():
    """Less than one place in a unit is refused."""
    with pytest.raises(BadNotation, match="places_per_unit = 0"):
        places_of_bar(FOUR, places_per_unit=0)


@pytest.mark.parametrize(
    ("position", "at_s"),
    [
        ("-1/4", "-3/5"),
        ("1/4", "3/5"),
        ("1", "12/5"),
        ("3/2", "24/5"),
        ("2", "36/5"),
        ("19/8", "39/5"),
    ],
)
def test_seconds_across_tempo_changes(position, at_s):
    """Quarters of 0.6 s, then of 1.2 s, then dotted quarters of 0.6 s; 0.6 s before the start."""
    assert CHANGING.position_to_s(Fraction(position)) == Fraction(at_s)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.fractions(min_value=-2, max_value=6, max_denominator=960))
def test_seconds_lead_back_to_the_position(position):
    """A position to seconds and back is the same fraction, whatever the tempo changes."""
    assert CHANGING.s_to_position(CHANGING.position_to_s(position)) == position


def test_an_hour_gathers_no_rounding():
    """Sixteenths at 104 counts a minute reach one hour exactly after 24 960 places."""
    at_s = steady_tempo(Fraction(104)).position_to_s(24960 * Fraction(1, 16))
    assert at_s == 3600
    assert to_float_s([at_s, Fraction(15, 26)]) == [3600.0, 15 / 26]


@pytest.mark.parametrize("tempo_bpm", [10, 500])
def test_tempos_at_the_limits_are_taken(tempo_bpm):
    """10 and 500 counts a minute are tempos."""
    assert steady_tempo(Fraction(tempo_bpm)).position_to_s(QUARTER) == Fraction(60, tempo_bpm)


@pytest.mark.parametrize("tempo_bpm", [Fraction(0), Fraction(-100), Fraction(999, 100), 501])
def test_tempos_beyond_the_limits_are_refused(tempo_bpm):
    """A tempo under 10 or over 500 counts a minute is refused by name."""
    with pytest.raises(BadTempo, match="tempo_bpm"):
        steady_tempo(Fraction(tempo_bpm))


@pytest.mark.parametrize("positions", [(), (1,), (0, 2, 2), (0, 3, 1)])
def test_changes_must_start_at_nought_and_go_on(positions):
    """A tempo map without a start, or with changes out of order, is refused."""
    with pytest.raises(BadTempo):
        TempoMap([TempoChange(Fraction(p), Fraction(100), QUARTER) for p in positions])


def test_strokes_a_second_are_the_inverse_of_a_place():
    """Strokes a second times the length of a place in the tempo map is 1."""
    place_s = steady_tempo(Fraction(97)).position_to_s(Fraction(1, 16))
    assert strokes_per_second(Fraction(97), places_per_count=4) * place_s == 1
