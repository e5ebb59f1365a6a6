"""Why a plan is as it is, in a sentence each; what is said once as a caution."""

from collections.abc import Sequence

from loosehand.rounds.load import load_caution
from loosehand.rounds.plan_steps import Block, BlockWhy, Step, strokes_planned
from loosehand.rounds.plan_task import PlanTask, last_test
from loosehand.rounds.workout import Hand

__all__ = ["block_whys", "plan_cautions", "plan_why"]


def plan_why(task: PlanTask, steps: Sequence[Step]) -> str:
    """One line why the plan is as it is."""
    asked, rule = task.asked, task.rule
    if rule.why is not None and rule.kind in {"pain", "light"}:
        instead = " The full ladder waits." if asked.full_ladder else ""
        light = " What follows is light and slow, as you asked." if rule.kind == "pain" else ""
        return f"{rule.why}{instead}{light if steps else ''}"
    technique = f"{asked.technique_why} " if asked.technique_why else ""
    if asked.full_ladder:
        return f"{technique}The common ladder in full, as you asked."
    if rule.why is not None:
        return f"{technique}{rule.why}"
    blocks = {each.block for each in steps}
    names = {
        "test": "the week's test",
        "placement": "a short search for the edge",
        "ladder": "a ladder around each hand's edge",
        "hold": "a step over it",
        "easy": "easy rounds",
    }
    parts = [name for block, name in names.items() if block in blocks]
    told = " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
    time = "" if asked.minutes is None else f", to end after {asked.minutes:g} minutes"
    return f"{technique}{told[:1].upper()}{told[1:]}{time}."


def block_whys(task: PlanTask, steps: Sequence[Step]) -> tuple[BlockWhy, ...]:
    """One sentence for each block of the plan, in its order."""
    if not steps:
        return ()
    first = "A warm-up comes first, alternating and slow; it does not count."
    if task.asked.warm_already:
        first = "No warm-up: you said you are warm already."
    whys = [BlockWhy("warm-up", None, first)]
    seen: list[tuple[Block, Hand]] = []
    for each in steps:
        key = (each.block, each.planned.hand)
        if each.block not in {"warm-up", "easy"} and key not in seen:
            seen.append(key)
            whys.append(BlockWhy(*key, _block_why(task, each, steps)))
    if any(each.block == "easy" for each in steps):
        whys.append(BlockWhy("easy", None, _easy_why(task)))
    longer = task.frame.rest_s > task.asked.rest_s
    told = "longer than usual today" if longer else "as asked"
    whys.append(BlockWhy("rest", None, f"Rests of {task.frame.rest_s:g} s, {told}."))
    return tuple(whys)


def _block_why(task: PlanTask, step: Step, steps: Sequence[Step]) -> str:
    """Why rounds of a block are there for a hand."""
    hand = step.planned.hand
    own = [
        each.planned.tempo_bpm
        for each in steps
        if each.block == step.block and each.planned.hand == hand
    ]
    name = hand.capitalize()
    if step.block == "test":
        last = last_test(task, hand)
        same = last is not None and last.tempo_bpm == own[0]
        told = "the tempo of the last test" if same else "where the chance is about even"
        return f"{name}: the week's test, fresh and kept apart, at {own[0]:g}, {told}."
    if step.block == "placement":
        return f"{name}: little is known, short rounds look for the edge one after the other."
    if step.block == "hold":
        return f"{name}: one round at {own[0]:g}, over the edge; two such a week at most."
    if task.asked.full_ladder:
        return (
            f"{name}: {own[0]:g} to {own[-1]:g} by 5; over after two tempos lost within 16 counts."
        )
    if own[0] == own[-1]:
        return f"{name}: {own[0]:g}, where a round is sure."
    return f"{name}: {own[0]:g}, where a round is sure, towards the edge ({own[-1]:g})."


def _easy_why(task: PlanTask) -> str:
    """Why easy rounds are there."""
    if task.rule.kind in {"pain", "light"}:
        return "Slow rounds, well under what is sure."
    if task.target_s is None:
        return "Easy rounds to end with, held nearly always."
    return "Easy rounds, held nearly always, fill up the time; the weak hand strikes no less."


def plan_cautions(task: PlanTask, steps: Sequence[Step], *, expected_s: float) -> tuple[str, ...]:
    """What is to be said once: a jump of the load, a hard day, a time that is not met."""
    if not steps:
        return ()
    cautions: list[str] = []
    jump = load_caution(
        task.player.history, today=task.player.today, planned_strokes=strokes_planned(steps)
    )
    if jump is not None:
        cautions.append(jump)
    if task.asked.full_ladder and task.rule.kind == "easy" and task.rule.why is not None:
        cautions.append(f"{task.rule.why} The full ladder is more than that.")
    over = sum(each.chance is not None and each.chance < 0.5 for each in steps)
    if task.asked.full_ladder and over > 2:
        cautions.append(f"{over} of its rounds lie over the edge; two a week are usual.")
    asked_s = None if task.asked.minutes is None else 60.0 * task.asked.minutes
    if asked_s is not None and abs(expected_s - asked_s) > max(0.1 * asked_s, 60.0):
        cautions.append(
            f"This takes about {expected_s / 60.0:.0f} minutes instead of {task.asked.minutes:g}."
        )
    return tuple(cautions)
