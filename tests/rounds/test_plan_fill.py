"""Checks of rounds made to fit a time."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.rounds.plan_fill import (
    easy_rounds,
    easy_step,
    filled,
    longest_easy_s,
    shortest_easy_s,
)
from loosehand.rounds.plan_steps import EasyTempo, Frame, Step, cost_s, strokes_planned
from loosehand.rounds.workout import PlannedRound, warm_up_round

EASY = (
    EasyTempo("left", 80.0, 0.95),
    EasyTempo("right", 90.0, 0.95),
    EasyTempo("alternating", 140.0, 0.95),
)
WARM_UP = Step(warm_up_round(lowest_bpm=80.0, round_s=60.0), "warm-up", None, 60.0)


def frame(rest_s=60.0, easy=EASY, weak="left"):
    """Rounds of a minute."""
    return Frame(weak, rest_s, 60.0, 4, 4, easy)


def rungs(*hands, block="ladder"):
    """Rounds with a place of their own."""
    planned = (PlannedRound("round", hand, 90.0, 4, 60.0) for hand in hands)
    return [Step(each, block, 0.7, 52.0) for each in planned]


def fill(steps, *, time_s, most=200, of=None):
    """Filled with nothing struck before."""
    return filled(steps, of or frame(), struck=(0.0, 0.0), time_s=time_s, most=most)


@given(time_s=st.floats(400.0, 7000.0), rest_s=st.sampled_from([0.0, 20.0, 45.0, 60.0, 90.0]))
def test_the_time_is_met(time_s, rest_s):
    """With rests up to a minute it is off by ten seconds at most, with longer ones by 25."""
    steps = fill([WARM_UP, *rungs("left", "right")], time_s=time_s, of=frame(rest_s))
    assert cost_s(steps, frame(rest_s)) == pytest.approx(time_s, abs=25.0 if rest_s > 60 else 10.0)


@given(time_s=st.floats(400.0, 7000.0), weak=st.sampled_from(["left", "right"]))
def test_the_weak_hand_strikes_no_less(time_s, weak):
    """However long it takes, and whichever hand is weak; the ladder of both is the same."""
    own = frame(weak=weak)
    strong = "right" if weak == "left" else "left"
    steps = fill([WARM_UP, *rungs(weak, strong)], time_s=time_s, of=own)
    left, right = strokes_planned(steps)
    assert (left >= right) if weak == "left" else (right >= left)


def test_what_does_not_fit_is_left_out_from_the_end():
    """First the ladder's last, then the tests together, the warm-up never."""
    tests = rungs("left", "right", block="test")
    steps = [WARM_UP, *tests, *rungs("left", "right")]
    blocks = [[each.block for each in fill(steps, time_s=time_s)] for time_s in (640, 500, 300, 60)]
    assert blocks[0][:4] == ["warm-up", "test", "test", "ladder"]
    assert blocks[1][:3] == ["warm-up", "test", "test"]
    assert "ladder" not in blocks[1]
    assert set(blocks[2]) == {"warm-up", "easy"}
    assert blocks[3] == ["warm-up"]


def test_easy_rounds_are_a_third_to_half_as_long_again():
    """Only the last two differ from a round."""
    assert (shortest_easy_s(60.0), longest_easy_s(60.0)) == (20.0, 90.0)
    steps = fill([WARM_UP], time_s=1500.0)
    lengths = [each.planned.round_s for each in steps[1:]]
    assert set(lengths[:-2]) == {60.0}
    assert all(20.0 <= each <= 90.0 for each in lengths[-2:])


def test_there_are_never_more_rounds_than_may_be():
    """Also without rests and with the shortest rounds."""
    short = Frame("left", 0.0, 5.0, 1, 4, EASY)
    steps = filled([WARM_UP], short, struck=(0.0, 0.0), time_s=7200.0, most=50)
    assert len(steps) == 50


def test_one_hand_and_no_hand():
    """Only alternating, one hand alone, and a frame without easy rounds."""
    only = fill([WARM_UP], time_s=900.0, of=frame(easy=EASY[2:]))
    assert {each.planned.hand for each in only} == {"alternating"}
    strong = fill([WARM_UP], time_s=900.0, of=frame(easy=EASY[1:2]))
    assert {each.planned.hand for each in strong[1:]} == {"right"}
    assert fill([WARM_UP], time_s=900.0, of=frame(easy=())) == (WARM_UP,)


def test_who_has_struck_less_comes_first():
    """What was struck before counts."""
    own = frame(easy=EASY[:2])
    hands = [each.planned.hand for each in easy_rounds(own, count=3, struck=(0.0, 700.0))]
    assert hands == ["left", "left", "left"]
    hands = [each.planned.hand for each in easy_rounds(own, count=2, struck=(800.0, 0.0))]
    assert hands == ["right", "right"]


def test_an_easy_round_that_may_be_lost_is_expected_to_be_shorter():
    """By its chance; of an unknown hand it is taken as held."""
    unknown = easy_step(EasyTempo("left", 60.0, None), frame(), round_s=60.0)
    assert unknown.played_s == 60.0
    assert easy_step(EASY[0], frame(), round_s=60.0).played_s < 60.0
