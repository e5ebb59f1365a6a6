"""Checks of a round while it runs: what is locked, what broke, what is over."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loosehand.hear.heard import Strokes
from loosehand.rounds.watch import RoundWatch
from loosehand.rounds.workout import PlannedRound

FIRST_S = 2.25
COUNT_S = 0.5
PLACE_S = COUNT_S / 4
COUNTS = 12
LAG_S = COUNT_S
STEP_S = 0.02


def strokes_of(times_s):
    """Strokes at times."""
    size = len(times_s)
    return Strokes(
        np.asarray(times_s, dtype=np.float64),
        np.full(size, -20.0),
        np.ones(size),
        np.zeros((size, 1)),
    )


def times_of(places, off_s=0.0):
    """Times of strokes at places of the round."""
    return FIRST_S + PLACE_S * np.asarray(places, dtype=np.float64) + off_s


def steady(counts=COUNTS, *, sd_s=0.006, seed=1):
    """Times of a hand that holds so many counts."""
    off_s = np.random.default_rng(seed).normal(0.0, sd_s, 4 * counts)
    return times_of(np.arange(4 * counts), off_s)


def watch_of(*, play_out=False, hand="left"):
    """A watch at a round of twelve counts."""
    planned = PlannedRound("round", hand, 60.0 / COUNT_S, 4, COUNTS * COUNT_S)
    return RoundWatch(planned, first_count_s=FIRST_S, play_out=play_out)


def follow(watch, times_s, *, until_s=None, step_s=STEP_S):
    """All that is told from the start until the round is over, with the time of each."""
    times_s = np.sort(np.asarray(times_s, dtype=np.float64))
    told = []
    since_s = 0.0
    end_s = watch.end_s + 0.1 if until_s is None else until_s
    for now_s in np.arange(step_s, end_s, step_s):
        heard = times_s[(times_s > since_s) & (times_s <= now_s)]
        settled = times_s[(times_s > since_s - LAG_S) & (times_s <= now_s - LAG_S)]
        since_s = now_s
        told.append(
            (
                float(now_s),
                watch.push(
                    strokes_of(heard),
                    strokes_of(settled),
                    settled_until_s=now_s - LAG_S,
                    now_s=float(now_s),
                ),
            )
        )
        if told[-1][1].end is not None:
            break
    return told


def test_a_round_that_is_held_is_locked_count_by_count():
    """Counts are told as they settle, all locked, nothing broke, and the round ends whole."""
    told = follow(watch_of(), steady())
    counts = [each.counts for _, each in told]
    assert counts == sorted(counts)
    assert set(range(COUNTS - 1)) <= set(counts)
    for now_s, each in told:
        assert each.locked == (True,) * each.counts
        assert each.held is None
        assert each.counts == max(int((now_s - LAG_S - FIRST_S) / COUNT_S + 1e-9), 0)
    end_s, last = told[-1]
    assert last.end == "whole"
    assert end_s == pytest.approx(FIRST_S + COUNTS * COUNT_S, abs=2 * STEP_S)


def test_the_end_of_a_round_is_that_of_its_last_count():
    """A round is over when its counts are, whatever its length in seconds."""
    planned = PlannedRound("round", "left", 100.0, 4, 10.0)
    watch = RoundWatch(planned, first_count_s=1.0, play_out=False)
    assert planned.counts == 16
    assert watch.end_s == pytest.approx(1.0 + 16 * 0.6)


def test_a_break_is_told_only_a_count_late():
    """A hand that loses the click in count 6 is told so when the count after it has settled."""
    places = np.arange(4 * COUNTS)
    off_s = np.where(places >= 20, 0.45 * PLACE_S, 0.0)
    told = follow(watch_of(), times_of(places, off_s), until_s=FIRST_S + 9 * COUNT_S)
    marked = [(now_s, each) for now_s, each in told if each.held is not None]
    first_s, first = marked[0]
    assert first.held == 5
    assert first.counts == 7
    assert first_s >= FIRST_S + 7 * COUNT_S
    assert {each.held for _, each in marked} == {5}
    assert first.locked == (True,) * 5 + (False,) * 2


def test_a_slip_that_is_forgiven_is_never_told():
    """Two bad places with a good count on both sides make a count unlocked and no break."""
    places = np.delete(np.arange(4 * COUNTS), [22, 23])
    told = follow(watch_of(), times_of(places))
    assert {each.held for _, each in told} == {None}
    assert told[-1][1].locked[5] is False
    assert sum(told[-1][1].locked) == told[-1][1].counts - 1


def test_a_break_is_taken_back_when_it_is_forgiven():
    """A gallop looks like a break until it is known to be the hand's habit: then it is none."""
    places = np.arange(4 * COUNTS)
    off_s = np.where(places % 4 == 3, 0.38 * PLACE_S, 0.0)
    told = follow(watch_of(play_out=True), times_of(places, off_s))
    held = [each.held for _, each in told]
    assert 0 in held
    assert held[-1] is None
    last = told[-1][1]
    assert last.locked == (True,) * last.counts


def test_a_gallop_does_not_end_the_round():
    """A hand that gallops all along is not taken for one that lost the click."""
    places = np.arange(4 * COUNTS)
    off_s = np.where(places % 4 == 3, 0.38 * PLACE_S, 0.0)
    last = follow(watch_of(), times_of(places, off_s))[-1][1]
    assert (last.end, last.held) == ("whole", None)


def test_a_hand_that_never_locks_is_lost():
    """Where no count is locked from the start the round ends all the same, five counts on."""
    places = np.arange(4 * COUNTS)
    told = follow(watch_of(), times_of(places[places % 4 < 3]))
    assert told[-1][1].end == "lost"
    assert told[-1][1].locked == (False,) * 5


def test_four_counts_lost_end_the_round():
    """A hand that is off in four counts one after the other has lost the click."""
    places = np.arange(4 * COUNTS)
    off_s = np.where(places >= 12, 0.5 * PLACE_S, 0.0)
    told = follow(watch_of(), times_of(places, off_s))
    end_s, last = told[-1]
    assert last.end == "lost"
    assert last.held == 3
    assert last.locked == (True,) * 3 + (False,) * 4
    assert end_s == pytest.approx(FIRST_S + 7 * COUNT_S + LAG_S, abs=2 * STEP_S)


def test_a_hand_that_catches_the_click_again_plays_on():
    """Three counts lost and found again do not end the round."""
    places = np.arange(4 * COUNTS)
    off_s = np.where((places >= 16) & (places < 28), 0.5 * PLACE_S, 0.0)
    told = follow(watch_of(), times_of(places, off_s))
    last = told[-1][1]
    assert last.end == "whole"
    assert last.held == 4
    assert last.locked[7:] == (True,) * (last.counts - 7)


@pytest.mark.parametrize("counts", [0, 5])
def test_two_counts_of_silence_end_the_round(counts):
    """Where no stroke is heard for two counts, from count 1 on, the round is over."""
    times_s = steady(counts)
    told = follow(watch_of(), times_s)
    end_s, last = told[-1]
    assert last.end == "silence"
    since_s = times_s[-1] if counts else FIRST_S
    assert end_s == pytest.approx(since_s + 2 * COUNT_S, abs=2 * STEP_S)


def test_a_count_in_is_no_silence():
    """Before count 1 nobody needs to play, and what is played there is not judged."""
    early = FIRST_S - COUNT_S * np.array([3.3, 2.2, 1.4])
    told = follow(watch_of(), np.concatenate((early, steady())))
    assert told[-1][1].end == "whole"
    assert all(each.counts == 0 for now_s, each in told if now_s < FIRST_S)
    assert told[-1][1].locked == (True,) * told[-1][1].counts


@pytest.mark.parametrize("counts", [0, 3])
def test_a_round_that_is_played_out_goes_on_to_its_end(counts):
    """Neither silence nor a lost click ends a round that is played out."""
    lost = times_of(np.arange(4 * counts, 8 * counts), 0.5 * PLACE_S)
    told = follow(watch_of(play_out=True), np.concatenate((steady(counts), lost)))
    end_s, last = told[-1]
    assert last.end == "whole"
    assert end_s == pytest.approx(FIRST_S + COUNTS * COUNT_S, abs=2 * STEP_S)
    assert last.held == counts


def test_a_long_round_is_watched_to_its_end():
    """Of sixty counts those long past stand as they were told, and a late break stands too."""
    planned = PlannedRound("round", "left", 60.0 / COUNT_S, 4, 60 * COUNT_S)
    watch = RoundWatch(planned, first_count_s=FIRST_S, play_out=True)
    places = np.delete(np.arange(4 * 40), [22, 23, 100])
    told = follow(watch, times_of(places), step_s=0.1)
    counts = [each.counts for _, each in told]
    assert counts[-1] >= 59
    slips = {5, 25}
    for _, each in told:
        assert each.locked == tuple(k < 40 and k not in slips for k in range(each.counts))
        assert each.held == (40 if each.counts > 41 else None)


def test_an_alternating_round_holds_while_both_hands_do():
    """Where one of two hands drops out, no count is locked any more."""
    places = np.arange(4 * COUNTS)
    kept = times_of(places[(places < 20) | (places % 2 == 0)])
    told = follow(watch_of(hand="alternating"), kept)
    assert told[-1][1].end == "lost"
    assert told[-1][1].held == 5
    assert told[-1][1].locked[:5] == (True,) * 5


@settings(max_examples=30, deadline=None)
@given(
    steps=st.lists(st.floats(0.001, 0.9), min_size=8, max_size=40),
    held=st.integers(2, COUNTS),
    seed=st.integers(0, 1000),
)
def test_what_is_told_in_the_end_does_not_depend_on_the_steps(steps, held, seed):
    """However the sound was cut, the last word on the same strokes is the same."""
    times_s = steady(held, seed=seed)
    moments = np.minimum(np.cumsum([*steps, 20.0]), FIRST_S + COUNTS * COUNT_S + 1.0)
    watch, whole = watch_of(play_out=True), watch_of(play_out=True)
    since_s = 0.0
    for now_s in moments.tolist():
        some = strokes_of(times_s[(times_s > since_s) & (times_s <= now_s)])
        last = watch.push(some, some, settled_until_s=now_s, now_s=now_s)
        since_s = now_s
    every = strokes_of(times_s)
    once = whole.push(every, every, settled_until_s=moments[-1], now_s=moments[-1])
    assert last == once
    assert once.counts == COUNTS
    assert once.locked == (True,) * held + (False,) * (COUNTS - held)
