"""Apply the definition in ``truth.py`` to what was truly played in a take."""

import numpy as np
from bench_take import Truth
from truth import Held, held_by_hands, held_by_one

__all__ = ["true_held"]


def true_held(truth: Truth, *, jitter_s: float = 0.0, seed: int = 0) -> Held:
    """Count held by true strokes; ``jitter_s`` adds noise, to see how far the answer hangs on it.

    Whoever plays the first stroke of the round has the first place.
    """
    rng = np.random.default_rng(seed)
    stroke_s = truth.stroke_s + jitter_s * rng.standard_normal(truth.stroke_s.size)
    if truth.hands == "alternating" and truth.stroke_s.size:
        return held_by_hands(
            stroke_s.tolist(),
            truth.hand.tolist(),
            first_count_s=truth.first_count_s,
            count_period_s=truth.count_period_s,
            counts=truth.counts_offered,
            places_per_count=truth.places_per_count,
            leads_with=_leads_with(truth),
        )
    return held_by_one(
        stroke_s.tolist(),
        first_place_s=truth.first_count_s,
        place_s=truth.place_s,
        counts=truth.counts_offered,
        per_count=truth.places_per_count,
    )


def _leads_with(truth: Truth) -> int:
    """Hand meant to have the even places."""
    meant = truth.place >= 0
    even = truth.hand[meant & (truth.place % 2 == 0)]
    return round(float(even.mean())) if even.size else int(truth.hand[0])
