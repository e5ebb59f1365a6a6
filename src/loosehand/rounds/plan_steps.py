"""A plan as it is handed over: rounds in order, why each is there, and how long it will take."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from loosehand.rounds.load import strokes_of
from loosehand.rounds.workout import Hand, PlannedRound

__all__ = [
    "AFTER_ROUND_S",
    "BEFORE_FIRST_S",
    "Block",
    "BlockWhy",
    "EasyTempo",
    "Frame",
    "Length",
    "Plan",
    "Step",
    "cost_s",
    "plan_from_json",
    "strokes_planned",
]

Block = Literal["warm-up", "test", "placement", "ladder", "hold", "easy"]

BEFORE_FIRST_S = 15.0
"""The sound check (ten seconds) and four strokes that wake the first round. Ours."""
AFTER_ROUND_S = 6.0
"""The reading of a round and the question how it was. Ours."""


@dataclass(frozen=True)
class Step:
    """A round of a plan.

    Attributes
    ----------
    planned : the round
    block : what it is part of
    chance : of being held to its end, None where nothing is known of the hand
    played_s : how long it is expected to be played; a lost round ends early
    """

    planned: PlannedRound
    block: Block
    chance: float | None
    played_s: float

    @property
    def strokes(self) -> tuple[float, float]:
        """Strokes of the left and the right hand, if it is played to its end."""
        each = self.planned
        return strokes_of(
            hand=each.hand, counts=each.counts, places_per_count=each.places_per_count
        )


@dataclass(frozen=True)
class BlockWhy:
    """One sentence why rounds of a block are there; of one hand, or of all for None."""

    block: Block | Literal["rest"]
    hand: Hand | None
    why: str


@dataclass(frozen=True)
class EasyTempo:
    """Tempo at which a hand's easy rounds are, and their chance (None: not known)."""

    hand: Hand
    tempo_bpm: float
    chance: float | None


@dataclass(frozen=True)
class Length:
    """How long a workout is expected to take, and between what in eight of ten cases."""

    expected_s: float
    low80_s: float
    high80_s: float


@dataclass(frozen=True)
class Frame:
    """What the rounds of a plan share.

    Attributes
    ----------
    weak : the weaker hand
    rest_s, round_s, count_in_counts, places_per_count : of the rounds
    easy : tempos of the easy rounds that fill up
    """

    weak: Literal["left", "right"]
    rest_s: float
    round_s: float
    count_in_counts: int
    places_per_count: int
    easy: tuple[EasyTempo, ...]


@dataclass(frozen=True)
class Plan:
    """A proposal for today.

    Attributes
    ----------
    steps : rounds in order; empty where rest is all that is proposed
    why : one sentence why the plan is as it is
    whys : one for each block
    cautions : short, at most one a matter
    rest_proposed : whether rest is the first proposal and the rounds are the second
    frame : what the rounds share
    target_s : length aimed at, None for as long as it takes
    length : as far as can be told before it is played
    changes : why rounds were changed while playing, in order
    """

    steps: tuple[Step, ...]
    why: str
    whys: tuple[BlockWhy, ...]
    cautions: tuple[str, ...]
    rest_proposed: bool
    frame: Frame
    target_s: float | None
    length: Length
    changes: tuple[str, ...] = ()

    @property
    def rounds(self) -> tuple[PlannedRound, ...]:
        """The rounds as a workout takes them."""
        return tuple(each.planned for each in self.steps)

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return asdict(self)


def plan_from_json(stored: dict[str, Any]) -> Plan:
    """Return a plan from what is stored."""
    steps = (
        Step(**{**each, "planned": PlannedRound(**each["planned"])}) for each in stored["steps"]
    )
    return Plan(
        **{
            **stored,
            "steps": tuple(steps),
            "whys": tuple(BlockWhy(**each) for each in stored["whys"]),
            "cautions": tuple(stored["cautions"]),
            "frame": Frame(
                **{
                    **stored["frame"],
                    "easy": tuple(EasyTempo(**each) for each in stored["frame"]["easy"]),
                }
            ),
            "length": Length(**stored["length"]),
            "changes": tuple(stored["changes"]),
        }
    )


def cost_s(steps: Sequence[Step], frame: Frame) -> float:
    """Expected length of rounds, each with the rest before it, its count-in and its question.

    Parameters
    ----------
    steps : the rounds
    frame : with rest and count-in
    """
    count_ins_s = sum(60.0 * frame.count_in_counts / each.planned.tempo_bpm for each in steps)
    played_s = sum(each.played_s for each in steps)
    return len(steps) * (frame.rest_s + AFTER_ROUND_S) + count_ins_s + played_s


def strokes_planned(steps: Sequence[Step]) -> tuple[float, float]:
    """Strokes of the left and of the right hand, if all rounds are played to their ends."""
    own = [each.strokes for each in steps]
    return sum(left for left, _ in own), sum(right for _, right in own)
