"""Playing a round: timing like people's, truth by the rule."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import BadTempo
from loosehand.players.people import correction_lag1, correction_variance, draw_hand, draw_player
from loosehand.players.performance import FAILURES
from loosehand.players.play import TakePlan, asynchrony_series, nobody, play

PLAN = TakePlan(100.0, 4, "left", 100, None, None, 0, 4, 4, 1, 1.0, 0.0)
PEOPLE = (
    "Own measurement: 44 runs of sixteenths to a click, open set (CC BY 4.0) of 1,150 kit takes"
)


def held_round(seed, **changes):
    """Play a round that is held."""
    rng = np.random.default_rng(seed)
    player = draw_player(rng)
    quiet = replace(
        player,
        left=replace(player.left, bounce_share=0.0),
        right=replace(player.right, bounce_share=0.0),
        closing_chance=0.0,
    )
    return play(quiet, replace(PLAN, **changes), rng)


def asynchronies(performance):
    """Asynchrony of the strokes that have a place, in places, lead taken out."""
    late = performance.asynchrony_s() / performance.place_s
    late = late[np.isfinite(late)]
    return late - np.median(late)


def lag1(values):
    """Lag-1 correlation."""
    return np.corrcoef(values[1:], values[:-1])[0, 1]


@pytest.mark.published(source=PEOPLE, locator="lag-1 +0.40 to +0.85", kind="from-memory")
def test_asynchrony_follows_itself_as_in_people():
    """Nine takes in ten have a lag-1 correlation of asynchrony of +0.40 to +0.85."""
    found = [lag1(asynchronies(held_round(seed))) for seed in range(100)]
    inside = np.mean([0.40 <= one <= 0.85 for one in found])
    assert inside >= 0.9
    assert 0.5 < np.median(found) < 0.7


@pytest.mark.published(source=PEOPLE, locator="lag-1 -0.14 to -0.66", kind="from-memory")
def test_intervals_follow_each_other_as_in_people():
    """The lag-1 correlation of intervals lies in the range of people at the median."""
    found = [lag1(np.diff(asynchronies(held_round(seed)))) for seed in range(100)]
    assert -0.66 < np.median(found) < -0.14
    assert np.mean([-0.66 <= one <= -0.10 for one in found]) >= 0.9


@pytest.mark.published(source=PEOPLE, locator="0.05 to 0.11 of a place", kind="from-memory")
def test_spread_is_that_of_people():
    """Nine takes in ten have a spread of 0.05 to 0.115 of a place."""
    found = [np.std(asynchronies(held_round(seed))) for seed in range(100)]
    assert np.mean([0.05 <= one <= 0.115 for one in found]) >= 0.9


@pytest.mark.published(source=PEOPLE, locator="median 15 to 18 ms", kind="from-memory")
def test_spread_in_milliseconds_is_near_that_of_people():
    """At 80 counts a minute the median spread is that of people, give or take 3 ms."""
    found = [
        np.std(asynchronies(round_)) * round_.place_s
        for round_ in (held_round(seed, tempo_bpm=80.0, counts=80) for seed in range(60))
    ]
    assert 0.012 < np.median(found) < 0.021


@pytest.mark.published(
    source="Vorberg and Wing (1996), linear phase correction; closed form derived by us",
    locator="Var(A) and g(1)",
    kind="simulated",
)
def test_long_series_has_the_moments_of_the_closed_form():
    """Without drift, 60,000 places have the variance and the lag-1 of the model to 5 %."""
    hand = replace(
        draw_hand(np.random.default_rng(3)), correction=0.2, motor_ratio=0.5, drift_share=0.0
    )
    rng = np.random.default_rng(4)
    series = asynchrony_series(hand, places=60_000, places_per_count=4, rng=rng)
    variance = correction_variance(timer=10.0, motor=5.0, correction=0.2)
    expected = correction_lag1(timer=10.0, motor=5.0, correction=0.2) / variance
    assert np.var(series) == pytest.approx(1.0, rel=0.05)
    assert lag1(series) == pytest.approx(expected, rel=0.05)


def test_the_same_seed_plays_the_same():
    """Two rounds of one seed are equal, of two seeds are not."""
    first, again, other = held_round(1), held_round(1), held_round(2)
    assert np.array_equal(first.stroke_time_s, again.stroke_time_s)
    assert first.stroke_time_s.size != other.stroke_time_s.size or not np.array_equal(
        first.stroke_time_s, other.stroke_time_s
    )


def test_a_held_round_has_a_stroke_for_each_place():
    """Held to the end: all counts, all clean."""
    performance = held_round(7)
    assert performance.first_bad_place is None
    assert performance.count_held == performance.clean_counts == 100
    assert performance.stroke_time_s.size == 400


@pytest.mark.parametrize("failure", FAILURES)
@pytest.mark.parametrize(("hand", "places"), [("right", 4), ("left", 3), ("alternating", 8)])
def test_a_failure_breaks_the_hold_soon_after_it_begins(failure, hand, places):
    """At the median the break lies within eight counts after the failure's place."""
    after = []
    for seed in range(15):
        performance = held_round(
            seed, failure=failure, failure_count=40, hand=hand, places_per_count=places
        )
        broken = performance.first_bad_place
        if broken is not None:
            after.append((broken - performance.failure_place) / places)
    assert len(after) >= 13
    assert 0.0 <= np.median(after) < 8.0


def test_slips_alone_do_not_break_the_hold():
    """Three slips far enough apart cost clean counts only."""
    rounds = [held_round(seed, slips=3) for seed in range(20)]
    assert sum(one.first_bad_place is None for one in rounds) >= 19
    assert all(one.clean_counts < 100 for one in rounds)
    assert {len(one.slip_places) for one in rounds} == {3}


def test_alternating_hands_take_turns():
    """Each hand has every other place, and the lead may be with either."""
    rounds = [held_round(seed, hand="alternating", places_per_count=8) for seed in range(40)]
    first_hands = set()
    for one in rounds:
        hands = np.array(one.stroke_hand)
        first_hands.add(one.stroke_hand[int(np.argmin(one.stroke_place))])
        for parity in (0, 1):
            assert len(set(hands[one.stroke_place % 2 == parity])) == 1
    assert first_hands == {"left", "right"}


def test_bounces_have_no_place():
    """A double bounce comes 25 to 60 ms after its stroke, softer, with no place."""
    rng = np.random.default_rng(11)
    player = draw_player(rng)
    bouncing = replace(player, left=replace(player.left, bounce_share=0.2), closing_chance=0.0)
    one = play(bouncing, PLAN, rng)
    extra = np.flatnonzero(one.stroke_place < 0)
    gap_s = one.stroke_time_s[extra] - one.stroke_time_s[extra - 1]
    assert extra.size > 20
    assert np.all((gap_s >= 0.0249) & (gap_s <= 0.0601))
    assert np.all(one.level_db[extra] < one.level_db[extra - 1])


@pytest.mark.parametrize("failure", [None, "stop"])
def test_the_click_goes_on_to_the_end(failure):
    """Clicks cover the count-in and every count, whatever the hand does."""
    one = held_round(3, failure=failure, failure_count=None if failure is None else 10)
    assert one.click_time_s.size == 104
    assert one.click_time_s[4] == pytest.approx(one.first_count_s)
    assert one.click_role[4] == "downbeat"
    assert one.click_role[5] == "count"


def test_the_clock_runs_apart():
    """Fifty parts a million make the count longer by as much."""
    one = held_round(3, clock_ppm=50.0)
    assert one.count_period_s == pytest.approx(0.6 * (1 + 50e-6), rel=1e-12)


def test_nobody_holds_nothing():
    """A round in which nobody plays has clicks and a hold of 0."""
    one = nobody(PLAN)
    assert one.stroke_time_s.size == 0
    assert one.count_held == 0
    assert one.click_time_s.size == 104


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"tempo_bpm": 0.0}, "tempo_bpm = 0.0"),
        ({"counts": 0}, "counts = 0"),
        ({"hand": "alternating", "places_per_count": 3}, "cannot be shared by two hands"),
    ],
)
def test_a_round_that_cannot_be_is_refused(changes, message):
    """The message says what is wrong."""
    with pytest.raises(BadTempo, match=message):
        held_round(1, **changes)
