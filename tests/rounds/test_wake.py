"""Checks of strokes that speak: which wake a round, which answer, which do neither."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.rounds.wake import (
    Knock,
    count_of_answer,
    feel_of_strokes,
    is_woken,
    loud_ones,
)

OWN_DB = -20.0


def knocks_at(*times_s, level_db=OWN_DB):
    """Strokes at times, all as loud."""
    return [Knock(time_s, level_db) for time_s in times_s]


def ever_wakes(knocks, *, own_level_db=OWN_DB):
    """Whether a round would be woken at any moment, as the strokes come in one by one."""
    end_s = (knocks[-1].time_s if knocks else 0.0) + 3.0
    return any(
        is_woken(
            [each for each in knocks if each.time_s <= now_s],
            now_s=now_s,
            own_level_db=own_level_db,
        )
        for now_s in np.arange(0.0, end_s, 0.01)
    )


gaps_s = st.floats(0.18, 1.19)
offsets = st.floats(-0.08, 0.08)


@given(first_s=st.floats(0.0, 1000.0), gap_s=gaps_s, off=st.lists(offsets, min_size=2, max_size=2))
def test_four_even_strokes_wake(first_s, gap_s, off):
    """Four strokes about even wake, whatever their tempo and the time of day."""
    gaps = [gap_s, gap_s * (1 + off[0]), gap_s * (1 + off[1])]
    times_s = (first_s + np.cumsum([0.0, *gaps])).tolist()
    quiet_s = max(1.8 * gap_s, 0.5)
    knocks = knocks_at(*times_s)
    assert is_woken(knocks, now_s=times_s[-1] + quiet_s, own_level_db=OWN_DB)
    assert not is_woken(knocks, now_s=times_s[-1] + 0.4, own_level_db=OWN_DB)


@pytest.mark.parametrize("strokes", [0, 1, 2, 3, 5, 6, 7, 8, 16])
def test_other_numbers_do_not_wake(strokes):
    """Three or five even strokes, or a whole bar of them, wake nothing at any moment."""
    assert not ever_wakes(knocks_at(*(1.0 + 0.4 * np.arange(strokes))))


@pytest.mark.parametrize("late", range(3))
@pytest.mark.parametrize("off", [-0.45, -0.20, 0.20, 0.5])
def test_uneven_strokes_do_not_wake(late, off):
    """One gap that differs by more than 18 % from the others is not even."""
    gaps = np.full(3, 0.5)
    gaps[late] *= 1 + off
    assert not ever_wakes(knocks_at(*np.cumsum([1.0, *gaps])))


@pytest.mark.parametrize("gap_s", [0.1, 0.15, 1.35, 2.0])
def test_too_fast_or_too_slow_strokes_do_not_wake(gap_s):
    """A buzz of a stick and lone steps wake nothing."""
    assert not ever_wakes(knocks_at(*(1.0 + gap_s * np.arange(4))))


@pytest.mark.parametrize(("below_db", "wakes"), [(0.0, True), (11.0, True), (12.5, False)])
def test_much_softer_strokes_do_not_wake(below_db, wakes):
    """Strokes more than 12 dB softer than the player's own are somebody else's."""
    knocks = knocks_at(*(1.0 + 0.5 * np.arange(4)), level_db=OWN_DB - below_db)
    assert ever_wakes(knocks) is wakes


def test_strokes_of_very_different_loudness_do_not_wake():
    """Four strokes that a hand means as four are about equally loud."""
    for off_db, wakes in ((8.0, True), (10.0, False)):
        levels = [OWN_DB, OWN_DB + off_db, OWN_DB, OWN_DB]
        knocks = [Knock(1.0 + 0.5 * k, level) for k, level in enumerate(levels)]
        assert ever_wakes(knocks) is wakes


@given(before_s=st.floats(0.05, 0.75), level_db=st.floats(-60.0, 0.0))
def test_strokes_that_follow_others_closely_do_not_wake(before_s, level_db):
    """Four strokes at the end of other sound, loud or soft, are part of it."""
    knocks = [Knock(5.0 - before_s, level_db), *knocks_at(5.0, 5.5, 6.0, 6.5)]
    assert not is_woken(knocks, now_s=7.6, own_level_db=OWN_DB)


@given(after_s=st.floats(0.02, 0.75), level_db=st.floats(-60.0, 0.0))
def test_strokes_that_others_follow_closely_do_not_wake(after_s, level_db):
    """Four strokes with other sound right after them, loud or soft, are part of it."""
    knocks = [*knocks_at(5.0, 5.5, 6.0, 6.5), Knock(6.5 + after_s, level_db)]
    assert not ever_wakes(knocks)


@given(between=st.floats(5.01, 6.49), level_db=st.floats(-60.0, 0.0))
def test_strokes_with_others_between_do_not_wake(between, level_db):
    """Sound between the four makes them no signal."""
    knocks = sorted(
        [*knocks_at(5.0, 5.5, 6.0, 6.5), Knock(between, level_db)], key=lambda each: each.time_s
    )
    assert not is_woken(knocks, now_s=7.6, own_level_db=OWN_DB)


def test_strokes_long_before_do_not_matter():
    """After a moment of calm four strokes wake, whatever came before."""
    earlier = knocks_at(*(0.1 * np.arange(30)))
    assert ever_wakes([*earlier, *knocks_at(4.0, 4.5, 5.0, 5.5)])


@pytest.mark.parametrize("gap_s", [0.12, 0.25, 0.5, 1.0])
def test_drumming_that_goes_on_does_not_wake(gap_s):
    """A neighbour's groove, or one's own practice in a rest, wakes nothing while it goes on."""
    rng = np.random.default_rng(4)
    times_s = 1.0 + gap_s * np.arange(60) + rng.normal(0.0, 0.01, 60)
    knocks = [Knock(time_s, OWN_DB + rng.normal(0.0, 2.0)) for time_s in times_s]
    assert not ever_wakes(knocks)


def test_steps_do_not_wake():
    """Somebody who walks through the room makes more than four even sounds, and softer ones."""
    rng = np.random.default_rng(5)
    times_s = 1.0 + np.cumsum(rng.normal(0.55, 0.02, 9))
    assert not ever_wakes(knocks_at(*times_s))
    assert not ever_wakes(knocks_at(*times_s[:4], level_db=OWN_DB - 15.0))


@pytest.mark.parametrize(
    ("level_db", "spread_db", "most"), [(OWN_DB, 0.0, 50), (OWN_DB - 8.0, 6.0, 10)]
)
def test_sounds_at_random_seldom_wake(level_db, spread_db, most):
    """Of 1000 passages of 12 sounds, at gaps of 0.1 to 1 s by chance, few wake at any moment."""
    # All as loud as the player's own strokes is the worst case; the other is nearer to speech.
    rng = np.random.default_rng(6)
    woken = 0
    for _ in range(1000):
        times_s = np.cumsum(np.exp(rng.uniform(np.log(0.1), np.log(1.0), 12)))
        levels = level_db + rng.normal(0.0, spread_db, 12)
        knocks = [Knock(*each) for each in zip(times_s.tolist(), levels.tolist(), strict=True)]
        moments = [*(times_s[4:] - 0.001), times_s[-1] + 3.0]
        woken += any(
            is_woken(knocks[:last], now_s=now_s, own_level_db=OWN_DB)
            for last, now_s in zip(range(4, 13), moments, strict=True)
        )
    assert woken <= most


def test_a_round_is_not_woken_before_anything_was_heard():
    """No stroke wakes nothing."""
    assert not is_woken([], now_s=100.0, own_level_db=OWN_DB)


def test_only_loud_strokes_speak():
    """Strokes down to 12 dB under the player's own speak, in the order they came."""
    knocks = [Knock(0.0, OWN_DB - 12.0), Knock(1.0, OWN_DB - 12.1), Knock(2.0, OWN_DB + 5.0)]
    assert loud_ones(knocks, own_level_db=OWN_DB) == [knocks[0], knocks[2]]


@given(
    strokes=st.integers(1, 9),
    gap_s=st.floats(0.05, 1.19),
    since_s=st.floats(1.41, 60.0),
    first_s=st.floats(0.0, 1000.0),
)
def test_strokes_of_an_answer_are_counted(strokes, gap_s, since_s, first_s):
    """So many strokes near each other are so many, once it has been quiet for a moment."""
    times_s = first_s + gap_s * np.arange(strokes)
    knocks = knocks_at(*times_s)
    assert count_of_answer(knocks, now_s=times_s[-1] + since_s, own_level_db=OWN_DB) == strokes
    assert count_of_answer(knocks, now_s=times_s[-1] + 1.3, own_level_db=OWN_DB) is None


def test_an_answer_ends_at_a_pause():
    """Of strokes with a pause among them only those after the pause are the answer."""
    knocks = knocks_at(1.0, 1.5, 4.0)
    assert count_of_answer(knocks, now_s=6.0, own_level_db=OWN_DB) == 1


@given(soft=st.lists(st.floats(0.0, 5.0), max_size=6))
def test_soft_sounds_are_no_answer(soft):
    """What is much softer than the player's own strokes neither answers nor adds to an answer."""
    around = knocks_at(*sorted(soft), level_db=OWN_DB - 20.0)
    assert count_of_answer(around, now_s=9.0, own_level_db=OWN_DB) is None
    both = sorted([*around, *knocks_at(1.0, 1.4)], key=lambda each: each.time_s)
    assert count_of_answer(both, now_s=9.0, own_level_db=OWN_DB) == 2


@pytest.mark.parametrize(
    ("strokes", "feel"),
    [(1, "loose"), (2, "working"), (3, "tense"), (4, "pain"), (5, "pain"), (30, "pain")],
)
def test_what_strokes_say(strokes, feel):
    """One stroke says loose, two working, three tense, four or more pain."""
    assert feel_of_strokes(strokes) == feel
