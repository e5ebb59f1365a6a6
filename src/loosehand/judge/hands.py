"""Whose stroke each one is, in an alternating take.

Each hand is followed by itself, whatever the grid says: a hand that drifts would else change
sides on the way. Which strokes are whose is found for the whole take at once, by the least
surprise. Where the hands fall together one sound may be the stroke of both.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BOTH",
    "BOUNCE",
    "Alternation",
    "HandNames",
    "alternate",
    "lean_of_sound",
    "name_hands",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BOUNCE = -1
BOTH = 2
_DOUBTFUL = 0.2
_MOST_DOUBTFUL = 0.06
_CANNOT_TELL = "Left and right cannot be told: too many strokes lie midway between the hands."
_SPREAD = 0.12
"""Usual distance of a stroke from where its hand is expected, in intervals of that hand."""
_MOST_SURPRISE = 6.0
_MISSED = 2.0
_STOPPED_AFTER = 4
_MISSED_BY_A_STOPPED_HAND = 0.2
_EXTRA_CLOSE = 3.0
_EXTRA = 6.0
_CLOSE = 0.6
_SAME_HAND_AGAIN = 3.0
_TOGETHER = 1.5
_NEAR_ENOUGH_FOR_BOTH = 0.3
_PHASE_GAIN = 0.6
_RATE_GAIN = 0.06
_MOST_ERROR = 0.4
_WIDEST_RATE = (0.6, 1.7)
_MOST_LEAN = 1.0
_FEWEST_TO_TEACH = 8
_TOWARDS_ROUND = 0.1
_DOUBTFUL_OF = (3, 10)
"""So many doubtful strokes in so many after the break end the naming."""
_STORIES_KEPT = 12
_GRAIN = 8


@dataclass(frozen=True)
class Alternation:
    """Strokes told apart by alternation.

    Attributes
    ----------
    hand : int array, shape (n,), 0 for the hand that leads, 1 for the other, BOTH for one
        sound of both, BOUNCE for a stroke that is neither's
    certainty : float array, shape (n,), in [0, 1]: how much nearer each stroke lay to its
        own hand's expected moment than to the other's
    """

    hand: IntArray
    certainty: FloatArray

    def of(self, side: int) -> IntArray:
        """Indices of the strokes of one hand."""
        return np.flatnonzero((self.hand == side) | (self.hand == BOTH))


class _Follower(NamedTuple):
    """One hand: when its next stroke is due, its interval, and the strokes missed in a row."""

    due_s: float
    interval_s: float
    missed: int

    def after(self, stroke_s: float, own_place_s: float) -> "_Follower":
        """Follow a stroke: phase and interval are drawn towards it."""
        most = _MOST_ERROR * self.interval_s
        error_s = min(max(stroke_s - self.due_s, -most), most)
        low, high = _WIDEST_RATE[0] * own_place_s, _WIDEST_RATE[1] * own_place_s
        interval_s = min(max(self.interval_s + _RATE_GAIN * error_s, low), high)
        return _Follower(self.due_s + self.interval_s + _PHASE_GAIN * error_s, interval_s, 0)


class _Story(NamedTuple):
    """One way to tell the strokes so far: its surprise, both hands, and what was told."""

    surprise: float
    hands: tuple[_Follower, _Follower]
    latest: int
    told: "tuple[int, float, object] | None"


def alternate(
    stroke_s: FloatArray,
    *,
    place_s: float,
    first_place_s: float,
    lean: FloatArray | None,
) -> Alternation:
    """Tell the hands by following each of them.

    Parameters
    ----------
    stroke_s : float array, shape (n,), increasing
    place_s : length of a place of both hands together
    first_place_s : time of place 0, which belongs to the hand that leads
    lean : float array, shape (n,): how far the sound of each stroke speaks for the hand that
        leads, as log odds (``lean_of_sound``); None where the sound says nothing yet

    Returns
    -------
    alternation : hand 0 leads

    Source
    ------
    Ours: each hand is due one interval after its last stroke, its phase and interval drawn
    towards what it plays. A stroke is the one hand's, the other's, both's or a bounce, and
    the story of the whole take with the least surprise is kept (a beam search). Surprise is
    squared distance from the due moment, with stated costs of missed strokes, extra strokes,
    and the same hand twice in a row, and what the sound speaks against.
    """
    own_place_s = 2.0 * place_s
    hand = np.full(stroke_s.size, BOUNCE, dtype=np.int64)
    certainty = np.ones(stroke_s.size)
    start = int(np.searchsorted(stroke_s, first_place_s - 0.5 * place_s))
    lead = _Follower(first_place_s, own_place_s, 0)
    other = _Follower(first_place_s + place_s, own_place_s, 0)
    stories = [_Story(0.0, (lead, other), BOUNCE, None)]
    gap_s = np.diff(stroke_s[start:], prepend=-np.inf, append=np.inf)
    close = np.minimum(gap_s[:-1], gap_s[1:]) < _CLOSE * place_s
    lean = np.zeros(stroke_s.size) if lean is None else lean
    unlike = np.logaddexp(0.0, np.stack((-lean, lean), axis=1)) - np.log(2.0)
    for time_s, is_close, sounds in zip(
        stroke_s[start:].tolist(), close.tolist(), unlike[start:].tolist(), strict=True
    ):
        extra = _EXTRA_CLOSE if is_close else _EXTRA
        told = [
            new
            for story in stories
            for new in _continued(story, time_s, own_place_s, extra, sounds)
        ]
        stories = _least_surprising(told, place_s)
    step: object = stories[0].told
    for index in range(stroke_s.size - 1, start - 1, -1):
        assert isinstance(step, tuple), "every stroke since the start was told"
        hand[index], certainty[index], step = step
    return Alternation(hand, certainty)


def lean_of_sound(
    told: Alternation, *, sound_db: FloatArray, held_strokes: int
) -> FloatArray | None:
    """How far the sound of each stroke speaks for the hand that leads.

    Parameters
    ----------
    told : strokes told apart by their times alone
    sound_db : float array, shape (n, features): level and timbre of each stroke
    held_strokes : strokes before either hand lost the click: those teach

    Returns
    -------
    lean : float array, shape (n,), log odds, never beyond ``_MOST_LEAN``; None where a hand
        has too few strokes to teach its sound

    Source
    ------
    Fisher (1936), The use of multiple measurements in taxonomic problems: the linear
    discriminant, its covariance drawn towards a round one; shrunk by what chance alone
    would tell apart. Constants ours.
    """
    taught = told.hand[:held_strokes]
    hands = [sound_db[:held_strokes][taught == side] for side in (0, 1)]
    if min(len(hand) for hand in hands) < _FEWEST_TO_TEACH:
        return None
    lead, other = (hand.mean(axis=0) for hand in hands)
    beside = np.concatenate((hands[0] - lead, hands[1] - other))
    features = sound_db.shape[1]
    spread = beside.T @ beside / len(beside)
    spread += np.eye(features) * (1.0 + _TOWARDS_ROUND * np.trace(spread) / features)
    weight = np.linalg.solve(spread, lead - other)
    apart = float((lead - other) @ weight)
    by_chance = features * sum(1.0 / len(hand) for hand in hands)
    share = max(apart - by_chance, 0.0) / max(apart, 1e-9)
    lean = share * (sound_db - 0.5 * (lead + other)) @ weight
    return np.asarray(np.clip(lean, -_MOST_LEAN, _MOST_LEAN))


def _continued(
    story: _Story, time_s: float, own_place_s: float, extra: float, unlike: list[float]
) -> "list[_Story]":
    """All ways to tell the next stroke."""
    surprise, latest = story.surprise, story.latest
    hands = []
    for due_s, interval_s, missed in story.hands:
        while time_s - due_s > 0.5 * interval_s:
            due_s, missed, latest = due_s + interval_s, missed + 1, BOUNCE
            surprise += _MISSED if missed <= _STOPPED_AFTER else _MISSED_BY_A_STOPPED_HAND
        hands.append(_Follower(due_s, interval_s, missed))
    lead, other = hands
    off = [(time_s - hand.due_s) / hand.interval_s for hand in hands]
    own = [min(0.5 * (each / _SPREAD) ** 2, _MOST_SURPRISE) for each in off]
    told: list[_Story] = []
    for side in (0, 1):
        if off[side] <= -0.5:
            continue
        after = hands[side].after(time_s, own_place_s)
        told.append(
            _Story(
                surprise + own[side] + unlike[side] + (_SAME_HAND_AGAIN if latest == side else 0.0),
                (after, other) if side == 0 else (lead, after),
                side,
                (side, _nearer(off[side], off[1 - side]), story.told),
            )
        )
    if max(abs(off[0]), abs(off[1])) < _NEAR_ENOUGH_FOR_BOTH:
        both = (lead.after(time_s, own_place_s), other.after(time_s, own_place_s))
        total = surprise + own[0] + own[1] + _TOGETHER
        told.append(_Story(total, both, BOUNCE, (BOTH, 1.0, story.told)))
    neither = (BOUNCE, 1.0, story.told)
    told.append(_Story(surprise + extra, (lead, other), latest, neither))
    return told


def _nearer(own: float, other: float) -> float:
    """How much nearer a stroke lies to the one hand's moment than to the other's, 0 to 1."""
    total = abs(own) + abs(other)
    return max(abs(other) - abs(own), 0.0) / total if total > 0 else 0.0


def _least_surprising(told: list[_Story], place_s: float) -> list[_Story]:
    """The few best of them, alike ones once."""
    kept: dict[tuple[int, int, int], _Story] = {}
    for story in sorted(told, key=lambda each: each.surprise):
        due = [round(hand.due_s / place_s * _GRAIN) for hand in story.hands]
        kept.setdefault((due[0], due[1], story.latest), story)
        if len(kept) == _STORIES_KEPT:
            break
    return list(kept.values())


HandNames = tuple[Literal["left", "right"] | None, ...]


def name_hands(
    alternation: Alternation, *, leads_with: Literal["left", "right"], held_strokes: int
) -> tuple[HandNames, str | None]:
    """Name the hand of each stroke, or say that it cannot be told.

    Parameters
    ----------
    alternation : strokes told apart
    leads_with : the hand that leads
    held_strokes : strokes before either hand lost the click

    Returns
    -------
    names : the hand of each stroke, None for a bounce, for one sound of both, and after the
        break from where several strokes close together are doubtful; all None where the hands
        can't be told
    note : the sentence that says so, or None

    Source
    ------
    Ours: where more than a few strokes of the hold lie midway between the hands, they may be
    confused; once a hand has lost the click they may cross.
    """
    doubtful = alternation.certainty < _DOUBTFUL
    held = doubtful[:held_strokes]
    if not held.size or float(np.mean(held)) > _MOST_DOUBTFUL:
        return (None,) * alternation.hand.size, _CANNOT_TELL
    other: Literal["left", "right"] = "left" if leads_with == "right" else "right"
    words: dict[int, Literal["left", "right"] | None] = {
        0: leads_with,
        1: other,
        BOTH: None,
        BOUNCE: None,
    }
    told = held_strokes + _until_doubt(doubtful[held_strokes:])
    names = [words[int(hand)] for hand in alternation.hand[:told]]
    return (*names, *(None,) * (alternation.hand.size - told)), None


def _until_doubt(doubtful: NDArray[np.bool_]) -> int:
    """How many come before doubtful ones crowd."""
    fewest, within = _DOUBTFUL_OF
    at = np.flatnonzero(doubtful)
    if at.size < fewest:
        return int(doubtful.size)
    crowded = np.flatnonzero(at[fewest - 1 :] - at[: 1 - fewest] < within)
    return int(at[crowded[0]]) if crowded.size else int(doubtful.size)
