"""Which hands of a person lean on which others, and what is said of it.

A hand of few rounds leans on one of the same person that is well known, as of the same day. Whether
it does is told from the rounds alone, before anything is fitted.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from loosehand.reach.chosen_rounds import choose_rounds
from loosehand.reach.pool import FEW_ROUNDS, donor_of
from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind, RoundSeen

__all__ = ["KnownHand", "donor_reach", "donors_of", "known_hand", "leaning_note"]

_FOUR_PLACES = 4


@dataclass(frozen=True)
class KnownHand:
    """How well a hand is known.

    Attributes
    ----------
    kind : whose hand
    rounds : that tell of it
    told_of : the day that they can tell of
    """

    kind: HandKind
    rounds: int
    told_of: date


def known_hand(rounds: Sequence[RoundSeen], kind: HandKind, *, as_of: date) -> KnownHand:
    """Find how well a hand is known.

    Parameters
    ----------
    rounds : that bear on it

    Raises
    ------
    NotIdentifiable   if there is no round of the kind up to the day
    """
    chosen = choose_rounds(rounds, kind=kind, as_of=as_of)
    return KnownHand(kind, sum(each.kind == kind for each in chosen.rounds), chosen.told_of)


def donors_of(hands: Sequence[KnownHand], *, as_of: date) -> Mapping[HandKind, HandKind]:
    """Return the kinds that lean, each with the one that it leans on.

    Parameters
    ----------
    hands : of one person
    as_of : the day told of; a hand that tells only of an earlier one is not leant on
    """
    well_known = [each for each in hands if each.told_of == as_of]
    found = {
        each.kind: donor_of(each.kind, well_known) for each in hands if each.rounds < FEW_ROUNDS
    }
    return {kind: donor.kind for kind, donor in found.items() if donor is not None}


def donor_reach(reach: Reach, every: Sequence[Reach]) -> Reach | None:
    """Return the reach that one leans on, None where it leans on none.

    Parameters
    ----------
    every : reaches of the person, all asked for the same day
    """
    known = [KnownHand(each.kind, each.rounds, each.as_of) for each in every]
    # A hand that was not played for long tells of an earlier day than the one asked for.
    as_of = max((each.told_of for each in known), default=reach.as_of)
    donor = donors_of(known, as_of=as_of).get(reach.kind)
    return next((each for each in every if each.kind == donor), None)


def leaning_note(hand: KnownHand, donor: HandKind) -> str:
    """Say that a hand leans on another.

    Examples
    --------
    >>> hand = KnownHand(HandKind("left", None, "pad", None, 4), 12, date(2027, 3, 1))
    >>> leaning_note(hand, HandKind("right", "whip fours", "pad", None, 4))[:56]
    'With 12 rounds it leans on the right hand, whip fours, p'
    """
    rounds = "1 round" if hand.rounds == 1 else f"{hand.rounds} rounds"
    return (
        f"With {rounds} it leans on {_kind_words(donor)}: what is believed of it beforehand is "
        "drawn towards what is known there."
    )


def _kind_words(kind: HandKind) -> str:
    """Name a kind within a sentence."""
    hand = "alternating" if kind.hand == "alternating" else f"the {kind.hand} hand"
    places = kind.places_per_count
    grid = None if places == _FOUR_PLACES else f"{places} places a count"
    words = (hand, kind.technique, kind.surface, kind.loudness, grid)
    return ", ".join(word for word in words if word)
