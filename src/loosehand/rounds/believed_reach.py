"""What is believed of a hand with a technique that was never heard.

Nothing known of the person: the stated prior of anybody's hand. Something known: the prior drawn
towards the nearest hand that is well known, as for a hand of few rounds.
"""

from dataclasses import replace
from datetime import date
from functools import lru_cache

import numpy as np

from loosehand.reach.draws import draw_prior
from loosehand.reach.fit import expect_of_nobody
from loosehand.reach.pool import leaning_prior
from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind
from loosehand.rounds.tune_reserve import DRAWS

__all__ = ["believed_reach", "is_heard", "reach_of_nobody"]

_GRID_DAY = np.array([-28.0, 0.0, 28.0])


@lru_cache(maxsize=1)
def reach_of_nobody() -> Reach:
    """What is believed of a hand that was never heard, of somebody who was never heard."""
    return expect_of_nobody(HandKind("right", None, None, None, 4), as_of=date.min)


def believed_reach(kind: HandKind, donor: Reach | None) -> Reach:
    """What is believed of a hand that was never heard.

    Parameters
    ----------
    kind : of the hand
    donor : of the same person, the one to lean on; None where none is well known
    """
    if donor is None:
        note = "No hand of this player is well known: this is what is believed of anybody's."
        return replace(reach_of_nobody(), kind=kind, notes=(note,))
    prior = leaning_prior(kind, donor)
    words = ", ".join(word for word in (donor.kind.technique, donor.kind.surface) if word)
    return replace(
        reach_of_nobody(),
        kind=kind,
        draws=draw_prior(prior=prior, grid_day=_GRID_DAY, draws=DRAWS),
        notes=(
            "What is believed is drawn towards what is known of the "
            f"{donor.kind.hand} hand{f', {words}' if words else ''}.",
        ),
    )


def is_heard(reach: Reach | None) -> bool:
    """Whether any round of it was heard."""
    return reach is not None and reach.rounds > 0
