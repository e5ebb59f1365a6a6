"""A plan while it is played: what is over for a hand, what comes next, and why.

Pure functions: the stand tells what came of the rounds and how much time is left.
"""

from collections.abc import Sequence
from dataclasses import replace

from loosehand.rounds.conduct import Outcome
from loosehand.rounds.load import strokes_of
from loosehand.rounds.plan_fill import filled
from loosehand.rounds.plan_length import LOST_SOON_COUNTS
from loosehand.rounds.plan_steps import EasyTempo, Frame, Plan, Step, cost_s
from loosehand.rounds.tempos import placement_tempo_bpm
from loosehand.rounds.workout import MOST_ROUNDS, TEMPO_BPM, Hand

__all__ = ["hand_is_done", "next_rounds", "rounds_left"]

_TOLERANCE_S = 15.0
"""So far from the time left nothing is changed."""
_SLOWER_BPM = 10.0
_EASY_OF_HELD = 0.8


def hand_is_done(outcomes: Sequence[Outcome]) -> bool:
    """Whether a hand's ladder is over: two tempos in a row were lost within 16 counts.

    Parameters
    ----------
    outcomes : of the ladder's rounds of one hand, in the order played

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> lost = Outcome(0, 11, 100, "lost the click", None, None)
    >>> hand_is_done([lost]), hand_is_done([lost, lost])
    (False, True)
    """
    last = [each for each in outcomes if each.void is None and each.held is not None][-2:]
    return len(last) == 2 and all(_was_lost_soon(each) for each in last)


def rounds_left(plan: Plan, outcomes: Sequence[Outcome], *, next_index: int) -> tuple[Step, ...]:
    """Rounds still to be played: those from the next on, without the ladders of hands done.

    Parameters
    ----------
    plan : as it stands
    outcomes : of its rounds so far; ``index`` is the place among the plan's steps
    next_index : of the round that comes next
    """
    done = _hands_done(plan, outcomes)
    return tuple(
        each
        for each in plan.steps[next_index:]
        if each.block not in {"ladder", "hold"} or each.planned.hand not in done
    )


def next_rounds(
    plan: Plan, outcomes: Sequence[Outcome], *, next_index: int, time_left_s: float | None
) -> Plan:
    """The plan after a round: what was played stays, what comes fits the time that is left.

    Parameters
    ----------
    plan : as it stands
    outcomes : of its rounds so far; ``index`` is the place among the plan's steps
    next_index : of the round that comes next
    time_left_s : of ``plan.target_s``, counted from the begin of the rest; None where the plan
        takes as long as it takes

    Returns
    -------
    plan : with ``changes`` one sentence longer for each matter that was changed

    Source
    ------
    Ours.
    """
    left = rounds_left(plan, outcomes, next_index=next_index)
    whys = _done_whys(plan, left, outcomes, next_index=next_index)
    frame = _frame_after_placement(plan, outcomes)
    left, why = _with_placement(plan, left, outcomes)
    whys += why
    if _is_tense(outcomes):
        slower, why = _slower(plan, left)
        return _changed(plan, slower, [*whys, *why], next_index=next_index)
    if time_left_s is not None and plan.target_s is not None:
        off_s = cost_s(left, plan.frame) - time_left_s
        if abs(off_s) > _TOLERANCE_S or frame != plan.frame:
            before = left
            left = _refilled(plan, left, outcomes, frame=frame, time_left_s=time_left_s)
            whys += _fit_whys(before, left, off_s=off_s)
    return _changed(replace(plan, frame=frame), left, whys, next_index=next_index)


def _was_lost_soon(outcome: Outcome) -> bool:
    assert outcome.held is not None, "only judged rounds are asked about"
    return outcome.held < min(LOST_SOON_COUNTS, outcome.counts)


def _hands_done(plan: Plan, outcomes: Sequence[Outcome]) -> set[Hand]:
    """Hands whose ladder is over."""
    own: dict[Hand, list[Outcome]] = {}
    for each in outcomes:
        step = plan.steps[each.index]
        if step.block in {"ladder", "hold"}:
            own.setdefault(step.planned.hand, []).append(each)
    return {hand for hand, rounds in own.items() if hand_is_done(rounds)}


def _done_whys(
    plan: Plan, left: Sequence[Step], outcomes: Sequence[Outcome], *, next_index: int
) -> list[str]:
    """Why the ladders of hands that are done are over."""
    if len(left) == len(plan.steps) - next_index:
        return []
    hands = sorted(_hands_done(plan, outcomes))
    return [
        f"{hand.capitalize()}: two tempos in a row were lost within {LOST_SOON_COUNTS} counts, "
        "its ladder is over."
        for hand in hands
        if any(
            each.planned.hand == hand and each.block in {"ladder", "hold"}
            for each in plan.steps[next_index:]
        )
    ]


def _tried(plan: Plan, outcomes: Sequence[Outcome], hand: Hand) -> list[tuple[float, bool]]:
    """Tempos at which a hand's edge was looked for, and whether each was held."""
    return [
        (plan.steps[each.index].planned.tempo_bpm, each.held >= each.counts)
        for each in outcomes
        if each.void is None
        and each.held is not None
        and plan.steps[each.index].block == "placement"
        and plan.steps[each.index].planned.hand == hand
    ]


def _with_placement(
    plan: Plan, left: Sequence[Step], outcomes: Sequence[Outcome]
) -> tuple[tuple[Step, ...], list[str]]:
    """Rounds that look for a hand's edge, at the tempos that what was played suggests."""
    tried = {
        hand: _tried(plan, outcomes, hand)
        for hand in {each.planned.hand for each in left if each.block == "placement"}
    }
    kept: list[Step] = []
    moved = False
    for each in left:
        hand = each.planned.hand
        if each.block != "placement":
            kept.append(each)
            continue
        tempo_bpm = placement_tempo_bpm(tried[hand])
        moved = moved or tempo_bpm != each.planned.tempo_bpm
        if tempo_bpm is not None:
            tried[hand].append((tempo_bpm, True))
            kept.append(replace(each, planned=replace(each.planned, tempo_bpm=tempo_bpm)))
    why = "The next short rounds are nearer to where the hand gave out." if moved else None
    return tuple(kept), [why] if why else []


def _frame_after_placement(plan: Plan, outcomes: Sequence[Outcome]) -> Frame:
    """Easy rounds of a hand that nothing was known of, at four fifths of the highest held."""
    easy: list[EasyTempo] = []
    for each in plan.frame.easy:
        tried = _tried(plan, outcomes, each.hand)
        held = max((tempo for tempo, held in tried if held), default=None)
        lost = min((tempo for tempo, held in tried if not held), default=None)
        highest = held if held is not None else lost
        if highest is not None:
            easier = max(float(int(_EASY_OF_HELD * highest)), TEMPO_BPM[0])
            easy.append(replace(each, tempo_bpm=easier))
        else:
            easy.append(each)
    return replace(plan.frame, easy=tuple(easy))


def _is_tense(outcomes: Sequence[Outcome]) -> bool:
    """Whether the last two rounds whose feel was said both felt tense."""
    said = [each.feel for each in outcomes if each.void is None and each.feel is not None][-2:]
    return said == ["tense", "tense"]


def _slower(plan: Plan, left: Sequence[Step]) -> tuple[tuple[Step, ...], list[str]]:
    """Only what is easy, and slower: no more of it than was planned."""
    easy = {each.hand: each for each in plan.frame.easy}
    kept: list[Step] = []
    for each in left:
        usual = easy.get(each.planned.hand)
        if each.block == "easy" and usual is not None:
            tempo_bpm = max(usual.tempo_bpm - _SLOWER_BPM, TEMPO_BPM[0])
            kept.append(replace(each, planned=replace(each.planned, tempo_bpm=tempo_bpm)))
    return tuple(kept), ["Two rounds felt tense: what is left is fewer rounds, easy and slower."]


def _refilled(
    plan: Plan,
    left: Sequence[Step],
    outcomes: Sequence[Outcome],
    *,
    frame: Frame,
    time_left_s: float,
) -> tuple[Step, ...]:
    """What is left, with easy rounds to the end of the time."""
    struck = [0.0, 0.0]
    played = {each.index: each for each in outcomes if each.void is None}
    for at, outcome in played.items():
        planned = plan.steps[at].planned
        counts = planned.counts if outcome.held is None else outcome.held
        own = strokes_of(
            hand=planned.hand, counts=counts, places_per_count=planned.places_per_count
        )
        struck = [struck[0] + own[0], struck[1] + own[1]]
    before = max(played, default=-1) + 1
    return filled(
        [each for each in left if each.block != "easy"],
        frame,
        struck=(struck[0], struck[1]),
        time_s=time_left_s,
        most=MOST_ROUNDS - before,
    )


def _fit_whys(before: Sequence[Step], after: Sequence[Step], *, off_s: float) -> list[str]:
    """Why rounds were added, left out, or made longer or shorter."""
    if [each.planned for each in before] == [each.planned for each in after]:
        return []
    early = "Time is left" if off_s < 0 else "Time runs short"
    if len(before) == len(after):
        return [f"{early}: easy rounds are changed to end in time."]
    return [f"{early}: {len(after)} rounds come instead of {len(before)}."]


def _changed(plan: Plan, left: Sequence[Step], whys: Sequence[str], *, next_index: int) -> Plan:
    steps = (*plan.steps[:next_index], *left)
    if steps == plan.steps:
        return plan
    changes = plan.changes
    for why in whys:
        changes = changes if changes[-1:] == (why,) else (*changes, why)
    return replace(plan, steps=steps, changes=changes)
