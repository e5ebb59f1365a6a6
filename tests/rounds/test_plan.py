"""Checks of the proposal for a day, and of weeks of days."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loosehand.errors import InputError
from loosehand.rounds.day_known import PastRound, PlanAsked
from loosehand.rounds.plan import plan_workout
from loosehand.rounds.plan_steps import strokes_planned
from loosehand.rounds.workout import COMMON_LADDER_BPM
from tests.rounds.plain_hands import HANDS, TODAY, PlainHand, past, player

TESTED = (past(2), past(4, purpose="test"), past(4, purpose="test", hand="right"))
PAIN, TENSE = past(1, feel="pain"), past(2, feel="tense")


def plan_of(*history, minutes=30.0, known=HANDS, today=TODAY, **asked):
    """The plan of a player on a day."""
    known = player(*history, hands=known, today=today)
    return plan_workout(known, PlanAsked(minutes, **asked), rng=np.random.default_rng(2))


def blocks(plan):
    """The blocks in order."""
    return [each.block for each in plan.steps]


@pytest.mark.parametrize("history", [(), TESTED, (TENSE,), (past(1, tempo_bpm=99.0),)])
@pytest.mark.parametrize("minutes", [3.0, 10.0, 60.0, None])
def test_a_warm_up_comes_first_unless_warm_already(history, minutes):
    """It is never left out to save time."""
    plan = plan_of(*history, minutes=minutes)
    assert blocks(plan)[0] == "warm-up"
    assert blocks(plan).count("warm-up") == 1
    assert plan.rounds[0].purpose == "warm-up"
    warm = plan_of(*history, minutes=minutes, warm_already=True)
    assert "warm-up" not in blocks(warm)


def test_the_full_ladder_is_given_in_full():
    """From 60 to 140 by 5: weak, strong, alternating, a minute each."""
    plan = plan_of(*TESTED, minutes=None, full_ladder=True)
    rounds = [(each.tempo_bpm, each.hand, each.round_s) for each in plan.rounds[1:]]
    hands = ("left", "right", "alternating")
    assert rounds == [(tempo, hand, 60.0) for tempo in COMMON_LADDER_BPM for hand in hands]


def test_by_default_a_ladder_starts_where_a_minute_is_sure():
    """And goes up by 1 to 4 to an even chance; nothing is less likely, but two holds a week."""
    plan = plan_of(*TESTED, minutes=60.0)
    for hand in HANDS:
        own = [e for e in plan.steps if e.block == "ladder" and e.planned.hand == hand]
        assert own[0].chance >= 0.85
        steps = np.diff([each.planned.tempo_bpm for each in own])
        assert all(1 <= step <= 4 for step in steps)
        assert all(each.chance >= 0.5 for each in own)
    holds = [each for each in plan.steps if each.chance is not None and each.chance < 0.5]
    assert [each.block for each in holds] == ["hold", "hold"]


@pytest.mark.parametrize(("played", "planned"), [(0, 2), (1, 1), (2, 0), (5, 0)])
def test_holds_to_failure_are_two_a_week(played, planned):
    """Those played in the last seven days are counted with those planned."""
    history = [past(3, order=k, tempo_bpm=99.0) for k in range(played)]
    plan = plan_of(*TESTED, *history, minutes=60.0)
    assert sum(e.chance is not None and e.chance < 0.5 for e in plan.steps) == planned


def test_a_new_player_gets_a_short_placement():
    """Short rounds of each hand at spread tempos, the lowest first; alternating waits."""
    plan = plan_of(known=dict.fromkeys(HANDS))
    own = [each.planned for each in plan.steps if each.block == "placement"]
    assert [(e.hand, e.tempo_bpm) for e in own[:4]] == [
        ("left", 70.0), ("right", 70.0), ("left", 90.0), ("right", 90.0),
    ]  # fmt: skip
    assert {each.round_s for each in own} == {20.0}
    assert len(own) == 8
    assert {each.block for each in plan.steps} == {"warm-up", "placement", "easy"}
    known = {**HANDS, "right": None}
    own = [e for e in plan_of(known=known).steps if e.block == "placement"]
    assert {each.planned.hand for each in own} == {"right"}


def test_a_test_a_week_right_after_the_warm_up():
    """One minute for each hand, at about even chance, kept apart by its purpose."""
    plan = plan_of(past(2))
    tests = plan.steps[1:3]
    assert [each.block for each in plan.steps[:3]] == ["warm-up", "test", "test"]
    assert [each.planned.hand for each in tests] == ["left", "right"]
    assert all(e.planned.purpose == "test" and e.planned.round_s == 60.0 for e in tests)
    assert all(0.5 <= each.chance < 0.6 for each in tests)
    assert all(each.purpose != "test" for each in plan.rounds[3:])
    assert "test" not in blocks(plan_of(*TESTED))


@pytest.mark.parametrize(
    ("before_bpm", "now_bpm"), [(85.0, 85.0), (91.0, 91.0), (75.0, 88.0), (99.0, 88.0)]
)
def test_a_test_keeps_its_tempo_while_it_tells(before_bpm, now_bpm):
    """The tempo of the last test while its chance is 0.25 to 0.75, else of even chance."""
    plan = plan_of(past(8, tempo_bpm=before_bpm, purpose="test"))
    assert plan.rounds[1].tempo_bpm == now_bpm


def test_a_test_over_the_edge_is_a_hold_too():
    """With two holds played this week it is taken at even chance instead."""
    history = [past(8, tempo_bpm=91.0, purpose="test")]
    history += [past(3, order=k, tempo_bpm=99.0) for k in range(2)]
    plan = plan_of(*history)
    assert plan.rounds[1].tempo_bpm == 88.0
    assert all(each.chance is None or each.chance >= 0.5 for each in plan.steps)


@pytest.mark.parametrize("minutes", [10.0, 15.0, 30.0, 45.0, None])
@pytest.mark.parametrize("history", [TESTED, (past(2),), (TENSE,)])
def test_the_weak_hand_strikes_first_and_no_less(minutes, history):
    """Also where the strong one is ten counts faster."""
    plan = plan_of(*history, minutes=minutes)
    left, right = strokes_planned(plan.steps)
    single = [each.hand for each in plan.rounds if each.hand != "alternating"]
    assert single[0] == "left"
    assert left >= right


def test_after_pain_rest_or_on_request_light_alternation():
    """Whatever else is asked."""
    for asked in ({}, {"full_ladder": True}, {"warm_already": True}):
        rest = plan_of(*TESTED, PAIN, **asked)
        assert rest.rounds == ()
        assert rest.rest_proposed
        light = plan_of(*TESTED, PAIN, light_anyway=True, **asked)
        assert light.rest_proposed
        assert {each.hand for each in light.rounds} == {"alternating"}
        assert max(each.tempo_bpm for each in light.rounds) <= 60.0
        assert light.length.expected_s <= 620.0


@pytest.mark.parametrize("full_ladder", [False, True])
def test_after_tension_fewer_and_slower_rounds(full_ladder):
    """No ladder, no test, no hold, also where the full ladder is asked for."""
    usual, light = plan_of(*TESTED), plan_of(*TESTED, TENSE, full_ladder=full_ladder)
    assert set(blocks(light)) == {"warm-up", "easy"}
    assert len(light.steps) < len(usual.steps)
    sure = {e.planned.hand: e.planned.tempo_bpm for e in reversed(usual.steps[1:])}
    assert all(e.tempo_bpm <= sure[e.hand] - 5 for e in light.rounds[1:])


def test_an_easy_day_after_a_hard_one():
    """Only easy rounds, with longer rests; the time is met."""
    plan = plan_of(*TESTED, past(1, tempo_bpm=99.0))
    assert set(blocks(plan)) == {"warm-up", "easy"}
    assert plan.frame.rest_s == 75.0
    assert plan.length.expected_s == pytest.approx(1800.0, abs=90.0)


def test_rest_days_are_part_of_the_plan():
    """After six days in a row rest is the first proposal, easy rounds the second."""
    plan = plan_of(*(past(ago) for ago in range(1, 7)))
    assert plan.rest_proposed
    assert "a day off is part of the work" in plan.why
    assert set(blocks(plan)) == {"warm-up", "easy"}


@settings(max_examples=60, deadline=None)
@given(
    minutes=st.one_of(st.none(), st.floats(3.0, 120.0)),
    round_s=st.sampled_from([2.0, 10.0, 30.0, 60.0, 120.0, 300.0, 1800.0]),
    rest_s=st.sampled_from([0.0, 15.0, 60.0, 120.0, 600.0]),
    minute_bpm=st.sampled_from([None, 5.0, 40.0, 95.0, 180.0, 390.0, 900.0]),
    history=st.sampled_from([(), TESTED, (TENSE,), (PAIN,), (past(1, tempo_bpm=99.0),)]),
    full_ladder=st.booleans(),
    play_out=st.booleans(),
    hands=st.sampled_from([("left",), ("alternating",), ("right", "left"), tuple(HANDS)]),
)
def test_any_wish_gives_a_plan_or_one_sentence(
    minutes, round_s, rest_s, minute_bpm, history, full_ladder, play_out, hands
):
    """Never more than 200 rounds, tempos 20 to 400, a count at least in each round."""
    known = None if minute_bpm is None else PlainHand(minute_bpm)
    asked = {
        "round_s": round_s, "rest_s": rest_s, "full_ladder": full_ladder,
        "play_out": play_out, "hands": hands, "light_anyway": True,
    }  # fmt: skip
    try:
        plan = plan_of(*history, minutes=minutes, known=dict.fromkeys(HANDS, known), **asked)
    except InputError as error:
        said = str(error)
    else:
        said = None
    if said is not None:
        assert said.startswith(("minutes =", "round_s ="))
        assert "want" in said
        return
    assert 1 <= len(plan.rounds) <= 200
    assert all(20.0 <= each.tempo_bpm <= 400.0 and each.counts >= 1 for each in plan.rounds)
    assert any(each.kind == "round" for each in plan.rounds)


def test_every_whole_budget_gives_a_plan():
    """From 3 to 120 minutes, with rounds and rests of a minute, within a tenth or a minute."""
    for minutes in range(3, 121):
        plan = plan_of(*TESTED, minutes=float(minutes))
        off_min = plan.length.expected_s / 60.0 - minutes
        assert abs(off_min) < max(0.1 * minutes, 1.0), minutes


def test_a_time_too_short_says_what_is_wanted():
    """With rests of ten minutes three are too few, and the figure that is named is enough."""
    with pytest.raises(InputError, match=r"too short .* want at least 12") as told:
        plan_of(*TESTED, minutes=3.0, rest_s=600.0)
    want = float(str(told.value).split()[-1])
    assert len(plan_of(*TESTED, minutes=want, rest_s=600.0).rounds) >= 2


def test_the_same_seed_gives_the_same_plan():
    """No clock and no other randomness."""
    assert plan_of(*TESTED) == plan_of(*TESTED)


def _played(plan, day, rng, hands):
    """The rounds of a plan as its hands play them."""
    for order, each in enumerate(plan.rounds):
        hold_s = float(hands[each.hand].draw_hold_s(each.tempo_bpm, rng, 1)[0])
        held_on = hold_s >= each.round_s or each.kind == "warm-up"
        counts = each.counts if held_on else int(hold_s * each.tempo_bpm / 60.0)
        yield PastRound(
            day=day, order=order, hand=each.hand, technique=None, tempo_bpm=each.tempo_bpm,
            places_per_count=4, round_s=each.round_s, count_held=counts, held_on=held_on,
            feel="loose", purpose=each.purpose,
        )  # fmt: skip


@pytest.mark.parametrize("obeys_rest", [False, True])
def test_eight_weeks_day_by_day(obeys_rest):
    """Two holds in any seven days, a test a week, easy days after holds, a day off in seven."""
    rng = np.random.default_rng(8)
    history, days, rested = [], [], 0
    for at in range(56):
        today = TODAY + timedelta(days=at)
        gain = {k: replace(hand, minute_bpm=hand.minute_bpm + at / 14) for k, hand in HANDS.items()}
        plan = plan_of(*history, today=today, known=gain)
        if plan.rest_proposed and obeys_rest:
            rested += 1
            days.append([])
            continue
        days.append(plan.steps)
        history += _played(plan, today, rng, gain)
    holds = [sum(e.chance is not None and e.chance < 0.5 for e in steps) for steps in days]
    assert max(sum(holds[k : k + 7]) for k in range(50)) == 2
    assert all(not holds[k + 1] for k in range(55) if holds[k])
    tests = [k for k, steps in enumerate(days) if any(e.block == "test" for e in steps)]
    gaps = np.diff(tests)
    assert all(7 <= gap <= 10 for gap in gaps)
    assert rested == (8 if obeys_rest else 0)
