"""Runs, rests and re-entries of one hand."""

import pytest

from loosehand.parts.demand_runs import (
    SURFACE_NAMES,
    hand_line,
    longest_run,
    re_entries,
    rests_of_section,
    section_slice,
)
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled

HEADING = "tempo: 60\nmeter: 4/4\ngrid: 4\n"


def line_of(text, limb="right hand"):
    """Return the tune and the line of a hand."""
    played = unrolled(parse_part(HEADING + text))
    return played, hand_line(played, limb)


def test_the_step_is_the_gap_found_most():
    """Sixteenths with one place left out step in sixteenths; of equals the shorter one counts."""
    _, often = line_of("RH hat xxx. xxx. xxx. xxx.")
    _, equal = line_of("RH hat xx.x x... .... ....")
    assert set(often.step) == {0.0625}
    assert set(equal.step) == {0.0625}
    assert often.starts_run.tolist() == [True, False, False] * 4


def test_each_section_has_its_own_step():
    """Eighths after sixteenths are no rests."""
    _, line = line_of("[a]\nRH hat xxxx xxxx xxxx xxxx\n[b]\nRH hat x.x. x.x. x.x. x.x.")
    assert line.step.tolist() == [0.0625] * 16 + [0.125] * 8
    assert line.starts_run.tolist() == [True] + [False] * 23
    assert (section_slice(line, 0), section_slice(line, 1)) == (slice(0, 16), slice(16, 24))


def test_a_gap_of_one_and_a_half_steps_is_no_rest():
    """Three places between strokes that are two apart elsewhere stay in the run."""
    _, line = line_of("meter: 12/8\ngrid: 2\nRH ride x.x.x. x.x.x. x.x..x .x.x.x")
    assert line.starts_run.sum() == 1


def test_the_longest_run_is_the_first_of_equals():
    """Where, how many strokes, how long, how fast."""
    played, line = line_of("RH hat x... xxxx .... xxxx")
    run = longest_run(played, line, slice(0, line.time_s.size))
    assert (run.start.count, run.start.place, run.strokes) == (2, 0, 4)
    assert run.duration_s == 0.75
    assert run.strokes_a_second == pytest.approx(4)


def test_a_section_without_the_hand_has_no_run():
    """Nothing is played, nothing is found."""
    played, line = line_of("[a]\nrest 1\n[b]\nRH hat xxxx .... .... ....")
    assert longest_run(played, line, section_slice(line, 0)) is None
    assert rests_of_section(played, line, section_slice(line, 0)) == ()
    assert longest_run(played, line, section_slice(line, 1)).strokes == 4


def test_rests_are_told_by_where_they_are_written():
    """Twice the same rest in a repeated bar; the one into the next section is the first's."""
    played, line = line_of("[a] x3\nRH hat xxxx xxxx xxxx ....\n[b]\nRH hat xxxx xxxx xxxx xxxx")
    (rest,) = rests_of_section(played, line, section_slice(line, 0))
    assert (rest.after.section, rest.after.count, rest.after.place) == ("a", 3, 3)
    assert (rest.times, rest.gap_s) == (3, 1.25)
    assert rests_of_section(played, line, section_slice(line, 1)) == ()


def test_strokes_know_their_surface():
    """The open hat is hat, the bell is ride."""
    _, line = line_of("RH hat xo.. .... .... ....\nRH ride bell ..x. .... .... ....")
    assert [SURFACE_NAMES[surface] for surface in line.surface] == ["hat", "hat", "ride"]


def test_a_short_visit_is_no_re_entry():
    """Three strokes back on the ride are too few."""
    played, line = line_of(
        "RH ride      xxxx xxxx .xxx ....\nRH high tom  .... .... x... xxxx\n\n"
        "RH ride xxxx .... .... ...."
    )
    assert [(entry.at.bar, entry.strokes) for entry in re_entries(played, line)] == [(2, 4)]


def test_a_hand_that_does_nothing_has_an_empty_line():
    """No stroke, no run, no re-entry."""
    played, line = line_of("RF kick x... .... .... ....")
    assert line.time_s.size == 0
    assert re_entries(played, line) == ()
