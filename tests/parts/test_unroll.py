"""The whole tune played out: exact times, sections, counts."""

import time
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from loosehand.errors import BadNotation
from loosehand.parts import LIMBS, bars_in_all
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import (
    INSTRUMENT_NAMES,
    played_sections,
    played_strokes,
    unrolled,
)
from tests.parts.random_parts import parts
from tests.parts.tunes import five_minutes

HEADING = "tempo: 120\nmeter: 4/4\ngrid: 4\n"


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(parts)
def test_arrays_are_the_exact_strokes_rounded_once(part):
    """Every figure of the arrays is that of the stroke played out by fractions, to the last bit."""
    exact, played = list(played_strokes(part)), unrolled(part)
    assert played.time_s.tolist() == [float(stroke.time_s) for stroke in exact]
    assert played.bar.tolist() == [stroke.bar for stroke in exact]
    assert played.bar_section[played.bar].tolist() == [stroke.section for stroke in exact]
    assert played.count.tolist() == [stroke.count for stroke in exact]
    assert played.count_place.tolist() == [stroke.place for stroke in exact]
    assert [LIMBS[limb] for limb in played.limb] == [stroke.limb for stroke in exact]
    assert [INSTRUMENT_NAMES[it] for it in played.instrument] == [it.instrument for it in exact]
    marks = zip(played.accent, played.flam, played.ghost, strict=True)
    names = ("accent", "flam", "ghost")
    assert [
        tuple(name for name, is_so in zip(names, of, strict=True) if is_so) for of in marks
    ] == [stroke.marks for stroke in exact]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(parts)
def test_bars_and_counts_fill_the_tune(part):
    """Strokes lie in their bars, in order of time; bars, counts and sections follow without gap."""
    played = unrolled(part)
    assert played.bar_start_s.size == bars_in_all(part) + 1
    assert np.all(np.diff(played.bar_start_s) > 0)
    assert np.all(np.diff(played.time_s) >= 0)
    assert np.all(played.time_s >= played.bar_start_s[played.bar])
    assert np.all(played.time_s < played.bar_start_s[played.bar + 1])
    assert np.all(np.diff(played.count_s) > 0)
    starts = np.searchsorted(played.count_bar, np.arange(bars_in_all(part)))
    assert played.count_s[starts].tolist() == played.bar_start_s[:-1].tolist()
    ends = [float(section.end_s) for section in played.sections]
    assert ends[-1] == played.duration_s
    assert [float(section.start_s) for section in played.sections[1:]] == ends[:-1]


def test_a_bar_of_sixteenths_at_120_lasts_two_seconds():
    """Sixteen places, an eighth of a second each."""
    played = unrolled(parse_part(HEADING + "RH hat xxxx xxxx xxxx xxxx"))
    assert played.time_s.tolist() == [place / 8 for place in range(16)]
    assert played.duration_s == 2.0
    assert played.count_s.tolist() == [0.0, 0.5, 1.0, 1.5]


def test_sections_repeat_change_tempo_and_keep_it():
    """Two bars at 120, two at 60, and one that goes on at 60."""
    part = parse_part(
        HEADING + "[a] x2 p\nRF kick x... .... .... ....\n[b] x2 tempo 60\n"
        "RF kick x... .... .... ....\n[c] f\nRF kick x... .... .... ...."
    )
    assert unrolled(part).time_s.tolist() == [0.0, 2.0, 4.0, 8.0, 12.0]
    assert [section.dynamic for section in played_sections(part)] == ["p", "p", "f"]
    assert [section.tempo_bpm for section in played_sections(part)] == [120, 60, 60]
    assert [section.first_bar for section in played_sections(part)] == [0, 2, 4]
    assert unrolled(part).bar_of_section.tolist() == [0, 0, 0, 0, 0]


def test_swing_moves_time_but_not_position():
    """At 60 percent a pair of eighths of half a second parts at 0.3 s; as written it is even."""
    played = unrolled(parse_part("tempo: 120\nmeter: 2/4\ngrid: 2\nswing: 60\nRH hat xx xx"))
    assert played.time_s.tolist() == [0.0, 0.3, 0.5, 0.8]
    assert played.position.tolist() == [0.0, 0.125, 0.25, 0.375]


def test_a_tempo_may_count_dotted_quarters():
    """A bar of 6/8 at 60 dotted quarters a minute lasts two seconds."""
    part = parse_part("tempo: dotted quarter = 60\nmeter: 6/8\ngrid: 1\nRH ride xxx xxx")
    assert played_sections(part)[0].end_s == 2
    assert [stroke.time_s for stroke in played_strokes(part)][1] == Fraction(1, 3)


def test_a_part_of_rests_has_counts_but_no_stroke():
    """Bars of rest last as long as others."""
    played = unrolled(parse_part(HEADING + "rest 3"))
    assert played.time_s.size == 0
    assert played.count_s.size == 12
    assert played.duration_s == 6.0


def test_a_tune_of_too_many_strokes_is_refused():
    """A hundred thousand bars of 64 strokes are more than five million."""
    text = "tempo: 120\nmeter: 16/4\ngrid: 4\n[a] x100000\nRH hat " + "x" * 64
    with pytest.raises(BadNotation, match="6400000 strokes: want 5000000 at most"):
        unrolled(parse_part(text))


def test_long_fractions_stay_exact():
    """Two hundred sections at odd tempos outgrow 64 bits; each time still is exact."""
    heads = [f"[{n}] tempo {1000 * n + 7}/{10 * n + 1}\nRF kick x.x. .x.x" for n in range(1, 201)]
    part = parse_part("tempo: 100\nmeter: 2/4\ngrid: 4\nswing: 61\n" + "\n".join(heads))
    played = unrolled(part)
    assert played.time_s.tolist() == [float(stroke.time_s) for stroke in played_strokes(part)]
    assert played.sections[-1].start_s.denominator > 2**64


@pytest.mark.timing
def test_a_tune_of_five_minutes_is_quickly_played_out():
    """Five minutes of a kit in sixteenths, every bar written out, take less than 20 ms."""
    part = five_minutes()
    assert 290 < unrolled(part).duration_s < 310
    spent_s = []
    for _ in range(5):
        began = time.perf_counter()
        unrolled(part)
        spent_s.append(time.perf_counter() - began)
    assert min(spent_s) < 0.020
