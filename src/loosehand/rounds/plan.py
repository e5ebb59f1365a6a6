"""A proposal for today's workout: which rounds, in which order, and why.

What is asked and known comes in, a plain list of rounds comes out, which the player may change.
No figure is a target: rounds are chosen by what is likely held.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np

from loosehand.errors import InputError
from loosehand.rounds.day_known import HandReach, PlanAsked, PlayerToday, check_asked
from loosehand.rounds.day_rules import holds_left, is_test_due
from loosehand.rounds.plan_fill import (
    easy_rounds,
    easy_step,
    filled,
    longest_easy_s,
    shortest_easy_s,
)
from loosehand.rounds.plan_length import length_of
from loosehand.rounds.plan_steps import BEFORE_FIRST_S, Plan, Step, cost_s, strokes_planned
from loosehand.rounds.plan_task import PlanTask, last_test, plan_task, planned_step
from loosehand.rounds.plan_words import block_whys, plan_cautions, plan_why
from loosehand.rounds.tempos import (
    PLACEMENT_ROUNDS,
    PLACEMENT_S,
    HandTempos,
    hand_tempos,
    highest_tempo_bpm,
    placement_tempo_bpm,
    rungs,
)
from loosehand.rounds.workout import COMMON_LADDER_BPM, MOST_ROUNDS, Hand, warm_up_round

__all__ = ["plan_workout"]

_WARM_UP_S = 60.0
_SHORT_WARM_UP_S = 30.0
_SHORT_MINUTES = 6.0
"""In so short a workout the warm-up takes half a minute. Ours."""
_TEST_S = 60.0
_TEST_CHANCE = (0.25, 0.75)
"""A test is at the tempo of the last one while its chance lies between. Ours."""
_LADDER_SHARE = 0.6
"""Share of the rounds that a ladder around the edge may have; the others are easy. Ours."""
_EASY_ROUNDS = 2
"""Easy rounds a hand where no time was given. Ours."""


def plan_workout(player: PlayerToday, asked: PlanAsked, *, rng: np.random.Generator) -> Plan:
    """Propose today's workout.

    Parameters
    ----------
    player : with the rounds played so far and what is known of the hands
    asked : what the player wants
    rng : of the simulated rounds from which lengths are told

    Returns
    -------
    plan : rounds with their reasons; no rounds where a round hurt today or yesterday, unless
        light and slow alternation is asked for

    Raises
    ------
    InputError   if a figure cannot be, or the time is too short for any round

    Source
    ------
    Ours, after common practice (no source); ``docs/rounds.md`` lists every rule.
    """
    check_asked(asked)
    task = plan_task(player, asked, rng)
    if task.rule.kind == "pain" and not asked.light_anyway:
        return _finished(task, ())
    makers: dict[str, Callable[[PlanTask], list[Step]]] = {
        "pain": _no_steps,
        "light": _no_steps,
        "easy": _ladder if asked.full_ladder else _no_steps,
        "ordinary": _ladder if asked.full_ladder else _ordinary,
    }
    own = makers[task.rule.kind](task)
    steps = _in_time(task, [*_warm_up(task, own), *own])
    return _finished(task, _checked(task, _balanced(task, steps)))


def _no_steps(task: PlanTask) -> list[Step]:
    """Only easy rounds, which fill up the time."""
    return []


def _warm_up(task: PlanTask, steps: Sequence[Step]) -> list[Step]:
    """The warm-up; only who says to be warm goes without."""
    if task.asked.warm_already:
        return []
    tempos = [each.planned.tempo_bpm for each in steps]
    tempos += [each.tempo_bpm for each in task.frame.easy]
    short = task.target_s is not None and task.target_s <= 60.0 * _SHORT_MINUTES
    planned = warm_up_round(
        lowest_bpm=min(tempos),
        round_s=_SHORT_WARM_UP_S if short else _WARM_UP_S,
        places_per_count=task.frame.places_per_count,
    )
    return [Step(planned, "warm-up", None, planned.round_s)]


def _ladder(task: PlanTask) -> list[Step]:
    """The common ladder in full, hand after hand at each tempo."""
    return [
        planned_step(task, hand, tempo_bpm, block="ladder", round_s=task.asked.round_s)
        for tempo_bpm in COMMON_LADDER_BPM
        for hand in task.hands
    ]


def _ordinary(task: PlanTask) -> list[Step]:
    """Tests where due, a placement of unknown hands, a ladder around the edge of the others."""
    single = {hand for hand in task.hands if hand != "alternating"}
    unknown = [hand for hand in task.hands if task.reach(hand) is None]
    if single & set(unknown):
        # Alternating is looked at once the hands are known each by itself.
        unknown = [hand for hand in unknown if hand != "alternating"]
    known = {
        hand: hand_tempos(
            reach, round_s=task.asked.round_s, longest_s=longest_easy_s(task.asked.round_s)
        )
        for hand in task.hands
        if (reach := task.reach(hand)) is not None
    }
    tests = _tests(task)
    placement = _placement(task, unknown)
    ladder = _edge_ladder(task, known, before=[*tests, *placement])
    return [*tests, *placement, *ladder, *_holds(task, known, tests=tests)]


def _tests(task: PlanTask) -> list[Step]:
    """A test for each hand, where a week has passed since its last."""
    left = holds_left(task.player)
    tests: list[Step] = []
    for hand in task.hands:
        reach = task.reach(hand)
        if hand == "alternating" or reach is None or not is_test_due(task.player, hand=hand):
            continue
        tempo_bpm = _test_tempo_bpm(task, hand, reach, may_hold=left > 0)
        test = planned_step(task, hand, tempo_bpm, block="test", round_s=_TEST_S, purpose="test")
        left -= test.chance is not None and test.chance < 0.5
        tests.append(test)
    return tests


def _test_tempo_bpm(task: PlanTask, hand: Hand, reach: HandReach, *, may_hold: bool) -> float:
    """Tempo of a test: that of the last one while it still tells, else of about even chance."""
    last = last_test(task, hand)
    if last is not None:
        chance = reach.chance_of_holding(tempo_bpm=last.tempo_bpm, time_s=_TEST_S)
        low, high = _TEST_CHANCE
        if (low if may_hold else 0.5) <= chance <= high:
            return last.tempo_bpm
    return highest_tempo_bpm(reach, chance=0.5, time_s=_TEST_S)


def _placement(task: PlanTask, hands: Sequence[Hand]) -> list[Step]:
    """Short rounds that look for the edge of hands of which little is known."""
    tempos: list[float] = []
    while len(tempos) < PLACEMENT_ROUNDS:
        tempo_bpm = placement_tempo_bpm([(tempo, True) for tempo in tempos])
        assert tempo_bpm is not None, "while all is held there is a next tempo"
        tempos.append(tempo_bpm)
    round_s = min(PLACEMENT_S, task.asked.round_s)
    return [
        planned_step(task, hand, tempo_bpm, block="placement", round_s=round_s)
        for tempo_bpm in tempos
        for hand in hands
    ]


def _edge_ladder(
    task: PlanTask, known: dict[Hand, HandTempos], *, before: Sequence[Step]
) -> list[Step]:
    """From where a round is sure to where its chance is even, as far as the time allows."""
    if not known:
        return []
    longest = max(len(each.ladder_bpm) for each in known.values())
    if task.target_s is not None:
        own_s = cost_s([easy_step(task.frame.easy[0], task.frame, round_s=_TEST_S)], task.frame)
        left_s = task.target_s - BEFORE_FIRST_S - own_s - cost_s(before, task.frame)
        round_cost_s = own_s - _TEST_S + task.asked.round_s
        rounds = int(_LADDER_SHARE * max(left_s, 0.0) / round_cost_s)
        longest = min(longest, max(rounds // len(known), 1))
    own = {hand: rungs(tempos.ladder_bpm, longest) for hand, tempos in known.items()}
    return [
        planned_step(task, hand, own[hand][k], block="ladder", round_s=task.asked.round_s)
        for k in range(longest)
        for hand in known
        if k < len(own[hand])
    ]


def _holds(task: PlanTask, known: dict[Hand, HandTempos], *, tests: Sequence[Step]) -> list[Step]:
    """One step over the edge for each hand, two a week; none on the day of a test."""
    if tests:
        return []
    over = [
        (hand, tempos.over_bpm)
        for hand, tempos in known.items()
        if tempos.over_bpm is not None and hand != "alternating"
    ]
    left = holds_left(task.player)
    return [
        planned_step(task, hand, tempo_bpm, block="hold", round_s=task.asked.round_s)
        for hand, tempo_bpm in over[:left]
    ]


def _in_time(task: PlanTask, steps: list[Step]) -> tuple[Step, ...]:
    """The rounds, with easy ones that fill up the time."""
    frame = task.frame
    if task.target_s is None:
        in_full = task.asked.full_ladder and any(each.block == "ladder" for each in steps)
        count = 0 if in_full else _EASY_ROUNDS * len(frame.easy)
        return (*steps, *easy_rounds(frame, count=count, struck=strokes_planned(steps)))
    # The first round has no rest before it.
    time_s = task.target_s - BEFORE_FIRST_S + frame.rest_s
    kept = filled(steps, frame, struck=(0.0, 0.0), time_s=time_s, most=MOST_ROUNDS)
    warm_up = [each for each in steps if each.block == "warm-up"]
    shortest = easy_step(frame.easy[0], frame, round_s=shortest_easy_s(frame.round_s))
    least_s = cost_s([*warm_up, shortest], frame)
    if len(kept) == len(warm_up) or least_s > time_s + 30.0:
        assert task.asked.minutes is not None, "a time was given"
        share = 60.0 * task.asked.minutes / task.target_s
        want = math.ceil((least_s + BEFORE_FIRST_S - frame.rest_s) * share / 60.0)
        raise InputError(
            f"minutes = {task.asked.minutes:g} is too short for "
            f"{'a warm-up and ' if warm_up else ''}one round with rests of "
            f"{frame.rest_s:g} s; want at least {want}"
        )
    return kept


def _balanced(task: PlanTask, steps: Sequence[Step]) -> tuple[Step, ...]:
    """Slow the strong hand's last rounds until it strikes no more than the weak hand.

    They get the tempo of the weak hand's easy rounds; tests and placement stay as they are.
    """
    kept = list(steps)
    weak = {each.hand: each for each in task.frame.easy}.get(task.player.weak)
    if weak is None or task.player.strong not in task.hands or task.asked.full_ladder:
        return tuple(kept)
    mine, other = (0, 1) if task.player.weak == "left" else (1, 0)
    for at in reversed(range(len(kept))):
        strokes = strokes_planned(kept)
        own = kept[at].planned
        mild = own.hand == task.player.strong and kept[at].block not in {"test", "placement"}
        if strokes[mine] < strokes[other] and mild and own.tempo_bpm > weak.tempo_bpm:
            kept[at] = planned_step(
                task, own.hand, weak.tempo_bpm, block="easy", round_s=own.round_s
            )
    return tuple(kept)


def _checked(task: PlanTask, steps: Sequence[Step]) -> tuple[Step, ...]:
    """Refuse rounds in which not one count fits."""
    for each in steps:
        if each.planned.counts < 1:
            raise InputError(
                f"round_s = {task.asked.round_s:g} is too short for one count at "
                f"{each.planned.tempo_bpm:g}; want longer rounds"
            )
    return tuple(steps)


def _finished(task: PlanTask, steps: tuple[Step, ...]) -> Plan:
    """The plan with its reasons and its length."""
    hands = {hand: task.reach(hand) for hand in task.hands}
    length = length_of(
        steps,
        hands,
        rest_s=task.frame.rest_s,
        count_in_counts=task.frame.count_in_counts,
        play_out=task.asked.play_out,
        rng=task.rng,
    )
    return Plan(
        steps=steps,
        why=plan_why(task, steps),
        whys=block_whys(task, steps),
        cautions=plan_cautions(task, steps, expected_s=length.expected_s),
        rest_proposed=task.rule.rest_proposed,
        frame=task.frame,
        target_s=task.target_s if steps else None,
        length=length,
    )
