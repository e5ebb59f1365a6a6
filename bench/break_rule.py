"""One plain rule for peers: which count was the last before the hand lost the click.

A peer hears onsets and no more, so it is handed the true grid and its own constant lag is taken
out; each place then takes its nearest onset, a place is good within the leeway, and the same
forgiveness of slips as in ``truth.py`` finds the break.
"""

import numpy as np
from bench_take import Truth
from numpy.typing import NDArray
from truth import LEEWAY, break_place

__all__ = ["count_held_by_nearest"]


def count_held_by_nearest(onset_s: NDArray[np.float64], truth: Truth) -> int:
    """Counts held by the nearest onset to every place of the true grid.

    Alternating hands are taken as one stream: the leeway of a hand's place is twice that of the
    stream's, short of the middle between two places.
    """
    per_count = truth.places_per_count
    places = np.arange(truth.counts_offered * per_count)
    if onset_s.size == 0:
        return 0
    where = np.sort((onset_s - truth.first_count_s) / truth.place_s)
    lead = where - np.round(where)
    where = where - (np.median(lead) if lead.size else 0.0)
    after = np.clip(np.searchsorted(where, places), 1, max(where.size - 1, 1))
    nearest = np.minimum(
        np.abs(where[np.minimum(after, where.size - 1)] - places),
        np.abs(where[after - 1] - places),
    )
    leeway = min(2 * LEEWAY, 0.45) if truth.hands == "alternating" else LEEWAY
    broken = break_place((nearest <= leeway).tolist(), per_count)
    return truth.counts_offered if broken is None else broken // per_count
