"""Tests of sections made from what a file says of its bars."""

from fractions import Fraction

import pytest

from loosehand.errors import BadNotation
from loosehand.parts import Bar, Meter
from loosehand.sheets.read_bars import BarRead, sections_of

FOUR = Meter((1, 1, 1, 1), 4)
QUARTER = Fraction(1, 4)


def told(*kinds):
    """Return sections as (name, bars, times, tempo) from what is said of each bar."""
    read = [BarRead(FOUR, f"bar {n}", **kind) for n, kind in enumerate(kinds, start=1)]
    sections = sections_of(read, [Bar(FOUR, 1, ())] * len(read), beat=QUARTER)
    return [(s.name, len(s.bars), s.times, s.tempo_bpm) for s in sections]


def test_names_tempos_and_dynamics_begin_sections():
    """Each of them begins a section; bars without any go on."""
    assert told({"name": "A"}, {}, {"quarters_bpm": Fraction(90)}, {"dynamic": "f"}, {}) == [
        ("A", 2, 1, None),
        ("section 2", 1, 1, 90),
        ("section 3", 2, 1, None),
    ]


def test_a_repeat_is_kept_where_it_is_one_section():
    """A repeat of one section keeps its times; what follows is another section."""
    assert told({"starts_repeat": True}, {"repeat_times": 4}, {}) == [
        ("section 1", 2, 4, None),
        ("section 2", 1, 1, None),
    ]


def test_bars_before_a_repeat_are_played_once():
    """A repeat that begins later leaves what came before alone."""
    assert told({"name": "A"}, {"starts_repeat": True, "name": "B", "repeat_times": 2}) == [
        ("A", 1, 1, None),
        ("B", 1, 2, None),
    ]


def test_a_kept_tempo_stands_if_it_is_still_notated():
    """An exact tempo is taken where the notated one is its rounding, else the notated one."""
    exact = Fraction(271, 3)
    near = {"quarters_bpm": Fraction("90.333"), "exact_tempo_bpm": exact, "name": "A"}
    far = {"quarters_bpm": Fraction(80), "exact_tempo_bpm": exact, "name": "B"}
    assert [tempo for *_, tempo in told(near, far)] == [exact, 80]


def test_an_endless_repeat_is_refused():
    """A repeat of several sections that grows beyond 100,000 bars names its bar."""
    with pytest.raises(BadNotation, match="bar 2: a form of 60000 times"):
        told({"name": "A"}, {"name": "B", "repeat_times": 60_000})
