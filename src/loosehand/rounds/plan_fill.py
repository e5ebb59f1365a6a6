"""Rounds made to fit a time: what has a place of its own first, then easy rounds to the end."""

import math
from collections.abc import Sequence

from loosehand.rounds.plan_steps import (
    AFTER_ROUND_S,
    EasyTempo,
    Frame,
    Step,
    cost_s,
    strokes_planned,
)
from loosehand.rounds.workout import Hand, PlannedRound

__all__ = ["easy_rounds", "easy_step", "filled", "longest_easy_s", "shortest_easy_s"]

_SHORTEST_SHARE, _LONGEST_SHARE = 1.0 / 3.0, 1.5
"""Length of the last easy rounds, as a share of a round: they make the time fit. Ours."""
_LEAST_S = 4.0
_LOST_SHARE = 0.4
"""Share of a round that is not played, where an easy round is lost. Ours."""
_ALTERNATING_EVERY = 3


def shortest_easy_s(round_s: float) -> float:
    """Shortest easy round that fills up a time.

    Examples
    --------
    >>> shortest_easy_s(60.0), longest_easy_s(60.0)
    (20.0, 90.0)
    """
    return max(round_s * _SHORTEST_SHARE, _LEAST_S)


def longest_easy_s(round_s: float) -> float:
    """Longest easy round that fills up a time."""
    return max(round_s * _LONGEST_SHARE, shortest_easy_s(round_s))


def easy_step(easy: EasyTempo, frame: Frame, *, round_s: float) -> Step:
    """An easy round of a hand."""
    planned = PlannedRound("round", easy.hand, easy.tempo_bpm, frame.places_per_count, round_s)
    lost = 0.0 if easy.chance is None else 1.0 - easy.chance
    return Step(planned, "easy", easy.chance, round_s * (1.0 - _LOST_SHARE * lost))


def easy_rounds(frame: Frame, *, count: int, struck: tuple[float, float]) -> tuple[Step, ...]:
    """So many easy rounds of the usual length, the weak hand's first.

    Parameters
    ----------
    frame : what the rounds share
    count : how many
    struck : strokes of the left and right hand so far
    """
    order = _easy_order(frame, count=count, struck=struck)
    easy = [easy_step(each, frame, round_s=frame.round_s) for each in order]
    return _weak_first(easy, frame, struck=struck)


def filled(
    steps: Sequence[Step],
    frame: Frame,
    *,
    struck: tuple[float, float],
    time_s: float,
    most: int,
) -> tuple[Step, ...]:
    """Rounds that fit a time: of the given ones all but the last, and easy ones after them.

    Parameters
    ----------
    steps : rounds that have a place of their own; a warm-up is never left out
    frame : what the rounds share
    struck : strokes of the left and right hand so far
    time_s : for all of them, each with the rest before it
    most : rounds that there may be

    Returns
    -------
    steps : those that fit, then easy rounds, the last two (with long rests more) longer or
        shorter than a round, so that the time is met; the weak hand has the next one until it
        has struck as much
    """
    kept = _fitting(steps, frame, time_s=time_s)[:most]
    if not frame.easy:
        return tuple(kept)
    left, right = strokes_planned(kept)
    struck = (struck[0] + left, struck[1] + right)
    room_s = time_s - cost_s(kept, frame)
    order = _order_in(frame, room_s=room_s, struck=struck, most=most - len(kept))
    lengths = _lengths(order, frame, room_s=room_s)
    easy = [easy_step(each, frame, round_s=s) for each, s in zip(order, lengths, strict=True)]
    return (*kept, *_weak_first(easy, frame, struck=struck))


def _fitting(steps: Sequence[Step], frame: Frame, *, time_s: float) -> list[Step]:
    """Leave out rounds until all fit, with one easy one after them.

    First the last of the ladder, then the tests together; a warm-up never.
    """
    kept = list(steps)
    shortest_s = shortest_easy_s(frame.round_s)
    last_s = cost_s([easy_step(each, frame, round_s=shortest_s) for each in frame.easy[:1]], frame)
    while cost_s(kept, frame) + last_s > time_s:
        training = [k for k, each in enumerate(kept) if each.block not in {"warm-up", "test"}]
        if training:
            del kept[training[-1]]
        elif any(each.block == "test" for each in kept):
            kept = [each for each in kept if each.block != "test"]
        else:
            break
    return kept


def _order_in(
    frame: Frame, *, room_s: float, struck: tuple[float, float], most: int
) -> list[EasyTempo]:
    """Whose the easy rounds are, as many as meet the time best, nearest to a round's length."""
    about = int(max(room_s, 0.0) / (_fixed_s(frame) + frame.round_s))

    def misfit(order: list[EasyTempo]) -> tuple[int, float]:
        if not order:
            return round(abs(room_s)), 0.0
        want_s = _wanted_s(order, frame, room_s=room_s)
        got_s = _clipped_s(want_s, frame)
        missing_s = abs(want_s - got_s) * _adapted(order, frame)
        return round(missing_s), abs(got_s - frame.round_s)

    counts = {min(count, most) for count in range(max(about - 1, 0), about + 3)}
    orders = [_easy_order(frame, count=count, struck=struck) for count in sorted(counts)]
    return min(orders, key=misfit)


def _fixed_s(frame: Frame) -> float:
    """What an easy round takes besides its playing."""
    count_in_s = sum(60.0 * frame.count_in_counts / each.tempo_bpm for each in frame.easy)
    return frame.rest_s + AFTER_ROUND_S + count_in_s / len(frame.easy)


def _adapted(order: Sequence[EasyTempo], frame: Frame) -> int:
    """How many of the last easy rounds must give way to meet any time: two with usual rests."""
    span_s = longest_easy_s(frame.round_s) - shortest_easy_s(frame.round_s)
    step_s = _fixed_s(frame) + frame.round_s
    return min(len(order), max(math.ceil(step_s / span_s), 2) if span_s > 0 else 2)


def _wanted_s(order: Sequence[EasyTempo], frame: Frame, *, room_s: float) -> float:
    """Length of the last easy rounds, if those before them have the usual one."""
    usual = [easy_step(each, frame, round_s=frame.round_s) for each in order]
    return frame.round_s + (room_s - cost_s(usual, frame)) / _adapted(order, frame)


def _clipped_s(length_s: float, frame: Frame) -> float:
    return min(max(length_s, shortest_easy_s(frame.round_s)), longest_easy_s(frame.round_s))


def _lengths(order: Sequence[EasyTempo], frame: Frame, *, room_s: float) -> list[float]:
    """Lengths of easy rounds, in whole seconds, that together fill the room."""
    if not order:
        return []
    adapted = _adapted(order, frame)
    last_s = float(round(_clipped_s(_wanted_s(order, frame, room_s=room_s), frame)))
    return [frame.round_s] * (len(order) - adapted) + [last_s] * adapted


def _easy_order(frame: Frame, *, count: int, struck: tuple[float, float]) -> list[EasyTempo]:
    """Whose the easy rounds are: the hand that has struck less, alternating now and then."""
    easy = {each.hand: each for each in frame.easy}
    strokes = {"left": struck[0], "right": struck[1]}
    strong: Hand = "right" if frame.weak == "left" else "left"
    single: list[Hand] = [hand for hand in (frame.weak, strong) if hand in easy]
    order: list[EasyTempo] = []
    while len(order) < count:
        behind = len(single) == 2 and strokes[frame.weak] < strokes[strong]
        turn = (len(order) + 1) % _ALTERNATING_EVERY == 0
        if "alternating" in easy and (not single or (turn and not behind)):
            order.append(easy["alternating"])
            continue
        hand = min(single, key=lambda each: strokes[each])
        order.append(easy[hand])
        strokes[hand] += easy[hand].tempo_bpm * frame.round_s / 60.0 * frame.places_per_count
    return order


def _weak_first(
    easy: Sequence[Step], frame: Frame, *, struck: tuple[float, float]
) -> tuple[Step, ...]:
    """Give the weak hand easy rounds of the strong one until it has struck no less."""
    weak = {each.hand: each for each in frame.easy}.get(frame.weak)
    mine, other = (0, 1) if frame.weak == "left" else (1, 0)
    kept = list(easy)
    for at in reversed(range(len(kept))):
        planned = strokes_planned(kept)
        behind = struck[mine] + planned[mine] < struck[other] + planned[other]
        hand = kept[at].planned.hand
        if weak is not None and behind and hand not in {"alternating", frame.weak}:
            kept[at] = easy_step(weak, frame, round_s=kept[at].planned.round_s)
    return tuple(kept)
