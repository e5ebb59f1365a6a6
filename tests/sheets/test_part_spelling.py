"""Tests of note values, rests, beams and tuplets."""

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from loosehand.parts import Bar, Meter, Stroke
from loosehand.sheets.part_spelling import (
    beam_levels,
    beams,
    closing_strokes,
    count_word,
    spelled_voice,
)
from tests.sheets.some_parts import bar, bars, line

ONE = Meter((1,), 4)


def spelled(places, places_per_unit, meter=ONE):
    """Return the values of one hand's line: 8. is a dotted eighth, r a rest."""
    written = bar(meter, places_per_unit, line("right hand", "hat", places))
    return [
        f"{'' if s.strokes else 'r'}{s.value}{'.' * s.dots}"
        for figure in spelled_voice(written, is_feet=False)
        for s in figure.symbols
    ]


@pytest.mark.parametrize(
    ("places", "per_unit", "values"),
    [
        ("xxxx", 4, ["16", "16", "16", "16"]),
        ("x..x", 4, ["8.", "16"]),
        (".x..", 4, ["r16", "8."]),
        ("...x", 4, ["r8", "r16", "16"]),
        ("x...", 4, ["4"]),
        ("x.x", 3, ["4", "8"]),
        (".xx", 3, ["r8", "8", "8"]),
        ("x..x..", 6, ["8", "8"]),
        ("x....", 5, ["4"]),
        ("x...x", 5, ["4", "16"]),
    ],
)
def test_a_count_is_spelled_as_usual(places, per_unit, values):
    """Strokes last until the next; rests stand on multiples of themselves."""
    assert spelled(places, per_unit) == values


def test_a_count_of_three_eighths_is_dotted():
    """A lone stroke in 6/8 is a dotted quarter, an empty count a dotted rest."""
    assert spelled("x.....", 1, Meter((3, 3), 8)) == ["4.", "r4."]


@settings(
    max_examples=200, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
@given(written=bars())
def test_symbols_fill_the_bar_and_hold_every_stroke(written):
    """The symbols of a voice follow each other without a gap, each stroke at its own place."""
    step = Fraction(1, written.meter.unit * written.places_per_unit)
    for is_feet in (False, True):
        symbols = [s for f in spelled_voice(written, is_feet=is_feet) for s in f.symbols]
        at = Fraction(0)
        for symbol in symbols:
            assert symbol.start == at
            assert all(stroke.place * step == at for stroke in symbol.strokes)
            at += symbol.length
        assert at == (written.meter.bar_length if symbols else 0)
        struck = [stroke for symbol in symbols for stroke in symbol.strokes]
        assert struck == [s for s in written.strokes if ("foot" in s.limb) == is_feet]


@settings(
    max_examples=200, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)
@given(written=bars())
def test_written_values_are_the_lengths_that_sound(written):
    """Value, dots and tuplet of each symbol give its length."""
    for figure in spelled_voice(written, is_feet=False):
        ratio = Fraction(*figure.tuplet) if figure.tuplet else Fraction(1)
        for symbol in figure.symbols:
            dotted = Fraction(3, 2) if symbol.dots else Fraction(1)
            assert symbol.length == dotted / symbol.value / ratio


def test_beams_join_a_count_and_hook_what_stands_alone():
    """A dotted eighth and a sixteenth share a beam, the sixteenth has a hook."""
    [figure] = spelled_voice(bar(ONE, 4, line("right hand", "hat", "x..x")), is_feet=False)
    assert beams(figure) == [(0, 1)]
    assert beam_levels(figure) == [["begin"], ["end", "backward hook"]]


def test_a_quarter_has_no_beam():
    """What has no flag is not beamed."""
    [figure] = spelled_voice(bar(ONE, 4, line("right hand", "hat", "x...")), is_feet=False)
    assert beams(figure) == []


def test_the_next_closed_stroke_closes_a_hat():
    """After an open hat the next stroke on hat or foot hat is marked, across the bar line too."""
    hat = Stroke(1, "right hand", "hat")
    opened = Bar(ONE, 2, (Stroke(1, "right hand", "open hat"),))
    closed = Bar(ONE, 2, (Stroke(0, "left hand", "snare"), hat))
    assert closing_strokes([opened, closed, closed]) == {(1, hat)}


@pytest.mark.parametrize(
    ("meter", "per_unit", "words"),
    [
        (ONE, 2, "1 &"),
        (ONE, 3, "1 trip let"),
        (ONE, 4, "1 e & a"),
        (ONE, 6, "1 trip let & trip let"),
        (Meter((3,), 8), 2, "1 . & . a ."),
        (Meter((2, 3), 8), 1, "1 & 2 & a"),
        (ONE, 8, "1 . e . & . a ."),
    ],
)
def test_counts_are_said_as_usual(meter, per_unit, words):
    """The words of the places of a bar."""
    written = Bar(meter, per_unit, ())
    assert " ".join(count_word(written, place) for place in range(written.places)) == words
