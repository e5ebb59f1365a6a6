"""A day's plan as the page Today shows it: blocks with their reasons, rounds as short words."""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from loosehand.rounds.plan_steps import BlockWhy, Length, Plan, Step
from loosehand.studio.chart import Kind
from loosehand.studio.plan_today import PlannedDay
from loosehand.web.pages.plan_form import text_of_rounds, words_of_kind
from loosehand.web.pages.reach_words import percent_sign

__all__ = ["BlockShown", "KindLink", "PlanShown", "RoundShown", "kind_label", "plan_shown"]

_NAMES = {
    "warm-up": "Warm-up",
    "test": "Test",
    "placement": "Placement",
    "ladder": "Ladder",
    "hold": "Hold to failure",
    "easy": "Easy",
    "rest": "Rests",
}
_FOUR_PLACES = 4


@dataclass(frozen=True)
class RoundShown:
    """A round in short: whose, at which tempo, for how long, how likely it is held."""

    hand: str
    tempo: str
    seconds: str
    chance: str | None


@dataclass(frozen=True)
class BlockShown:
    """A block: its name, the sentence why, and its rounds in order."""

    name: str
    why: str
    rounds: tuple[RoundShown, ...]


@dataclass(frozen=True)
class KindLink:
    """Another kind that is on the chart, and the address of the plan for it."""

    label: str
    way: str


@dataclass(frozen=True)
class PlanShown:
    """A plan as it is shown.

    Attributes
    ----------
    why, cautions : sentences
    rests : whether rest is proposed first
    hurts : whether a round hurt today or yesterday
    blocks : in order
    length : how long it takes, in words
    text : the rounds as they may be changed
    lines : how many there are
    kind : what is played, in words
    others : the other kinds on the chart
    """

    why: str
    cautions: tuple[str, ...]
    rests: bool
    hurts: bool
    blocks: tuple[BlockShown, ...]
    length: str
    text: str
    lines: int
    kind: str
    others: tuple[KindLink, ...]


def plan_shown(day: PlannedDay, *, player: str) -> PlanShown:
    """Lay a plan out.

    Parameters
    ----------
    day : with its plan
    player : whose
    """
    plan = day.plan
    return PlanShown(
        why=plan.why,
        cautions=plan.cautions,
        rests=plan.rest_proposed,
        hurts=day.day_kind == "pain",
        blocks=_blocks(plan),
        length=_length_words(plan.length),
        text=text_of_rounds(plan.rounds),
        lines=len(plan.steps),
        kind=kind_label(day.kind),
        others=tuple(_link(kind, player) for kind in day.kinds if kind != day.kind),
    )


def kind_label(kind: Kind) -> str:
    """Name what is played, as far as it is said.

    Examples
    --------
    >>> kind_label(Kind("whip fours", "pad", "medium", 4)), kind_label(Kind(None, None, None, 3))
    ('whip fours, pad, medium', '3 places a count')
    """
    places = kind.places_per_count
    grid = None if places == _FOUR_PLACES else f"{places} places a count"
    words = [word for word in (kind.technique, kind.surface, kind.loudness, grid) if word]
    return ", ".join(words) or "no technique, surface or loudness said"


def _link(kind: Kind, player: str) -> KindLink:
    query = urlencode([("player", player), *words_of_kind(kind)])
    return KindLink(kind_label(kind), f"/?{query}")


def _blocks(plan: Plan) -> tuple[BlockShown, ...]:
    return tuple(_block(why, plan.steps) for why in plan.whys)


def _block(why: BlockWhy, steps: Sequence[Step]) -> BlockShown:
    own = [
        each for each in steps if each.block == why.block and why.hand in (None, each.planned.hand)
    ]
    return BlockShown(_NAMES[why.block], why.why, tuple(_round(each) for each in own))


def _round(step: Step) -> RoundShown:
    planned = step.planned
    return RoundShown(
        hand=planned.hand,
        tempo=f"{planned.tempo_bpm:g}",
        seconds=f"{planned.round_s:g} s",
        chance=None if step.chance is None else percent_sign(step.chance),
    )


def _length_words(length: Length) -> str:
    """How long a plan takes, with its range where that says more.

    Examples
    --------
    >>> _length_words(Length(1203.0, 1130.0, 1270.0)), _length_words(Length(600.0, 595.0, 605.0))
    ('About 20 minutes (19 to 21)', 'About 10 minutes')
    """
    middle, low, high = (
        round(each / 60.0) for each in (length.expected_s, length.low80_s, length.high80_s)
    )
    about = f"About {max(middle, 1)} minute{'s' if middle > 1 else ''}"
    return about if low == high else f"{about} ({low} to {high})"
