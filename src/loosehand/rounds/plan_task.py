"""What a plan is made from: the day's rule, whose turn it is, rests and easy tempos."""

from dataclasses import dataclass, replace

import numpy as np

from loosehand.rounds.day_known import HandReach, PastRound, PlanAsked, PlayerToday
from loosehand.rounds.day_rules import DayRule, day_rule
from loosehand.rounds.plan_fill import longest_easy_s
from loosehand.rounds.plan_length import expected_played_s
from loosehand.rounds.plan_steps import Block, EasyTempo, Frame, Step
from loosehand.rounds.tempos import hand_tempos
from loosehand.rounds.workout import TEMPO_BPM, Hand, PlannedRound, Purpose

__all__ = ["PlanTask", "last_test", "plan_task", "planned_step"]

_LIGHT_SHARE = 0.6
"""Share of the time that a light workout takes. Ours."""
_MOST_AFTER_PAIN_S = 600.0
"""Light and slow alternation after pain takes no longer. Ours."""
_EASY_REST = 1.25
"""Rests of an easy or light workout are longer by this. Ours."""
_SLOWER_BPM = 10.0
_UNKNOWN_EASY_BPM = 60.0
_FEW_ROUNDS = 4
"""With fewer rounds a hand is as good as unknown. Ours."""


@dataclass(frozen=True)
class PlanTask:
    """What a plan is made from.

    Attributes
    ----------
    player, asked : as told
    rule : what kind of day it is
    hands : that play, the weak one first
    frame : what the rounds share
    target_s : length aimed at, None for as long as it takes
    rng : of the simulated rounds
    """

    player: PlayerToday
    asked: PlanAsked
    rule: DayRule
    hands: tuple[Hand, ...]
    frame: Frame
    target_s: float | None
    rng: np.random.Generator

    def reach(self, hand: Hand) -> HandReach | None:
        """What is known of a hand, None with fewer rounds than a placement has."""
        reach = self.player.hands.get(hand)
        return None if reach is None or reach.rounds < _FEW_ROUNDS else reach


def plan_task(player: PlayerToday, asked: PlanAsked, rng: np.random.Generator) -> PlanTask:
    """What the plan is made from: whose turn it is, at which rests and easy tempos."""
    rule = day_rule(player)
    order: tuple[Hand, ...] = (player.weak, player.strong, "alternating")
    hands = tuple(hand for hand in order if hand in asked.hands)
    if rule.kind == "pain":
        hands = ("alternating",)
    slow = rule.kind in {"pain", "light"}
    calm = slow or (rule.kind == "easy" and not asked.full_ladder)
    rest_s = float(round(asked.rest_s * (_EASY_REST if calm else 1.0)))
    frame = Frame(
        player.weak, rest_s, asked.round_s, asked.count_in_counts, player.places_per_count, ()
    )
    target_s = None if asked.minutes is None else 60.0 * asked.minutes
    if slow and target_s is not None:
        most_s = _MOST_AFTER_PAIN_S if rule.kind == "pain" else target_s
        target_s = min(max(_LIGHT_SHARE * target_s, min(target_s, 180.0)), most_s)
    task = PlanTask(player, asked, rule, hands, frame, target_s, rng)
    easy = tuple(_easy(task, hand) for hand in hands)
    return replace(task, frame=replace(frame, easy=easy))


def _easy(task: PlanTask, hand: Hand) -> EasyTempo:
    """Tempo of a hand's easy rounds today."""
    reach, round_s = task.reach(hand), task.asked.round_s
    tempo_bpm = _UNKNOWN_EASY_BPM
    if reach is not None:
        longest_s = longest_easy_s(round_s)
        tempo_bpm = hand_tempos(reach, round_s=round_s, longest_s=longest_s).easy_bpm
    if task.rule.kind in {"pain", "light"}:
        tempo_bpm = max(tempo_bpm - _SLOWER_BPM, TEMPO_BPM[0])
    if task.rule.kind == "pain":
        tempo_bpm = min(tempo_bpm, _UNKNOWN_EASY_BPM)
    chance = None
    if reach is not None:
        chance = reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=round_s)
    return EasyTempo(hand, tempo_bpm, chance)


def planned_step(
    task: PlanTask,
    hand: Hand,
    tempo_bpm: float,
    *,
    block: Block,
    round_s: float,
    purpose: Purpose = "round",
) -> Step:
    """A round of the plan, with its chance and how long it is expected to be played."""
    planned = PlannedRound("round", hand, tempo_bpm, task.player.places_per_count, round_s, purpose)
    reach = task.reach(hand)
    chance = None
    if reach is not None:
        chance = reach.chance_of_holding(tempo_bpm=tempo_bpm, time_s=round_s)
    played_s = expected_played_s(planned, reach, play_out=task.asked.play_out, rng=task.rng)
    return Step(planned, block, chance, played_s)


def last_test(task: PlanTask, hand: Hand) -> PastRound | None:
    """The last test of a hand in today's technique."""
    own = [
        each
        for each in task.player.history
        if each.purpose == "test" and each.hand == hand and task.player.is_alike(each)
    ]
    return max(own, key=lambda each: (each.day, each.order), default=None)
