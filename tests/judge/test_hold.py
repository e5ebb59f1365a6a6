"""Where the hand lost the click: the definition, case by case."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.truth import break_place
from loosehand.judge.hold import LEEWAY, HoldGrid, find_break, judge_hold

COUNTS, N = 30, 4
PLACE_S = 0.15
GRID = HoldGrid(2.0, PLACE_S, COUNTS * N, N, LEEWAY)
PLACE = np.arange(COUNTS * N, dtype=float)


GRID_FIRST_S, GRID_PLACE_S = 1.0, 0.15


def judged(place):
    """Judge strokes given in places from place 0."""
    return judge_hold(GRID.first_place_s + PLACE_S * np.asarray(place), GRID)


def pattern(text):
    """Good places as dots, bad ones as crosses; spaces part the counts."""
    return np.array([letter == "." for letter in text.replace(" ", "")])


@pytest.mark.parametrize(
    ("text", "broken"),
    [
        (".... .... ....", None),
        (".... .x.. .... ....", None),  # one slip
        (".... .xx. .... ....", None),  # a slip of two
        (".... xxx. .... ....", 4),  # three bad places
        ("xx.. .... ....", None),  # the first slip needs nothing before it
        (".... .x.. ..x. .... ....", None),  # two slips, four good places between
        (".... .x.. .x.. .... ....", 5),  # two slips, three between: the first breaks
        (".... .... ...x .", None),  # one good place at the end will do
        (".... .... ...x", 11),  # none will not
        (".... x.x. x.x. x.x.", 4),  # every other place empty
        (".... .... x... x... .... xxxx", 8),  # nothing later moves the break
    ],
)
def test_the_definition(text, broken):
    """The first bad run that is not forgiven is the break."""
    assert find_break(pattern(text), places_per_count=N) == broken


def test_every_short_take_agrees_with_the_other_definition():
    """All takes of up to eleven places, two a count, break where the bench's rule says."""
    for size in range(12):
        for good in itertools.product([False, True], repeat=size):
            found = find_break(np.array(good, dtype=bool), places_per_count=2)
            assert found == break_place(list(good), 2), good


@settings(derandomize=True, max_examples=150, deadline=None)
@given(st.lists(st.sampled_from([True] * 7 + [False]), max_size=64), st.integers(1, 8))
def test_long_takes_agree_with_the_other_definition(good, per_count):
    """Takes with few bad places break where the bench's own rule says."""
    found = find_break(np.array(good, dtype=bool), places_per_count=per_count)
    assert found == break_place(good, per_count)


def test_held_to_the_end():
    """A hand on its places holds all counts, every one of them clean."""
    hold = judged(PLACE)
    assert (hold.count_held, hold.last_locked_count, hold.clean_counts) == (30, 30, 30)
    assert hold.first_bad_place is None
    assert not hold.gallops


def test_a_single_slip_is_forgiven():
    """One stroke left out costs its count its cleanness, not the hold."""
    hold = judged(np.delete(PLACE, 50))
    assert (hold.count_held, hold.clean_counts) == (30, 29)


def test_two_slips_too_close_break_at_the_first():
    """Two strokes left out with three between them break at the first."""
    hold = judged(np.delete(PLACE, [50, 54]))
    assert (hold.first_bad_place, hold.count_held) == (50, 12)


def test_three_bad_places_break():
    """Three strokes late by four tenths of a place break; what comes back counts as locked."""
    place = PLACE.copy()
    place[40:43] += 0.4
    hold = judged(place)
    assert (hold.first_bad_place, hold.count_held, hold.last_locked_count) == (40, 10, 30)


def test_thinning_out_breaks():
    """A hand that leaves out every other place from place 60 on breaks at the first of them."""
    hold = judged(np.delete(PLACE, np.arange(60, 120, 2)))
    assert (hold.first_bad_place, hold.count_held) == (60, 15)


def test_stopping_breaks():
    """A hand that stops before place 80 holds twenty counts."""
    hold = judged(PLACE[:80])
    assert (hold.count_held, hold.last_locked_count) == (20, 20)


@pytest.mark.parametrize("slower", [0.01, 0.02, 0.04, 0.08, 0.12, 0.15, 0.2, 0.25])
def test_a_slowing_hand_never_locks_again_as_held(slower):
    """A hand that slows from place 40 is lost once it is late, though it slides by whole places."""
    place = PLACE + slower * np.maximum(PLACE - 40, 0)
    late = int(np.flatnonzero(place - PLACE > LEEWAY)[0])
    assert late - 1 <= judged(place).first_bad_place <= late + 2


@pytest.mark.parametrize("lead_places", [-0.4, -0.25, 0.1, 0.35])
def test_a_steady_lead_is_removed(lead_places):
    """A hand that is always early or late by the same holds to the end, and its lead is told."""
    hold = judged(PLACE + lead_places)
    assert hold.count_held == 30
    assert hold.lead_s == pytest.approx(lead_places * PLACE_S, abs=1e-9)


def test_the_lead_is_taken_before_the_break():
    """Strokes far off after the break do not move the lead."""
    place = PLACE + 0.1
    place[60:] += 0.45
    hold = judged(place)
    assert hold.lead_s == pytest.approx(0.1 * PLACE_S, abs=1e-9)
    assert hold.first_bad_place == 60


def test_a_gallop_is_a_habit_and_is_held():
    """A place always late by 0.35, where the leeway is 0.30, is a habit, capped at 0.25."""
    place = PLACE.copy()
    place[1::4] += 0.35
    hold = judged(place)
    assert hold.gallops
    assert hold.count_held == 30
    assert hold.habit_s / PLACE_S == pytest.approx([0.0, 0.25, 0.0, 0.0], abs=1e-9)


def test_a_gallop_does_not_hide_a_break():
    """A galloping hand that stops for three places breaks there."""
    place = PLACE.copy()
    place[1::4] += 0.35
    hold = judged(np.delete(place, [80, 81, 82]))
    assert hold.gallops
    assert hold.first_bad_place == 80


def test_no_strokes_hold_nothing():
    """Without a stroke no count is held, and nothing fails."""
    hold = judged([])
    assert (hold.count_held, hold.last_locked_count, hold.first_bad_place) == (0, 0, 0)


@pytest.mark.parametrize("seed", range(10))
def test_noise_of_a_person_is_held(seed):
    """Spread of 0.06 of a place, as of people on a click, is held to the end."""
    noise = np.random.default_rng(seed).normal(0.0, 0.06, PLACE.size)
    assert judged(PLACE + noise).count_held == 30


def test_presumed_places_are_good():
    """Two slips too close are no break where the recording hid the strokes."""
    stroke_s = GRID_FIRST_S + GRID_PLACE_S * np.delete(np.arange(80), [40, 42])
    grid = HoldGrid(GRID_FIRST_S, GRID_PLACE_S, 80, 4, LEEWAY)
    presumed = np.zeros(80, dtype=bool)
    presumed[[40, 42]] = True
    assert judge_hold(stroke_s, grid).count_held == 10
    assert judge_hold(stroke_s, grid, presumed=presumed).count_held == 20
