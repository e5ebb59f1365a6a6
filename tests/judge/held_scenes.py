"""Strokes of a hand with a drive, made for tests of technique."""

import numpy as np

from loosehand.judge.evenness import HeldStrokes

PLACE_S = 60.0 / 100 / 4


def correlated(rng, strokes, *, lag1=0.6):
    """Return a row of unit spread whose neighbours go together."""
    noise, row = rng.normal(size=strokes + 50) * np.sqrt(1.0 - lag1**2), np.zeros(strokes + 50)
    for stroke in range(1, strokes + 50):
        row[stroke] = lag1 * row[stroke - 1] + noise[stroke]
    return row[50:]


def hand(
    seed=1,
    *,
    strokes=400,
    drive=1,
    phase=0,
    contrast_db=8.0,
    decay_db=0.0,
    places_per_count=4,
    place_s=PLACE_S,
    spread_ms=8.0,
    spread_db=1.0,
):
    """A hand with a drive of some strokes and even places otherwise."""
    rng = np.random.default_rng(seed)
    place = np.arange(strokes)
    within = (place - phase) % drive
    level = np.where(within > 0, -contrast_db - decay_db * (within - 1), 0.0)
    late_s = 1e-3 * spread_ms * correlated(rng, strokes)
    return HeldStrokes(
        place,
        place * place_s + late_s,
        late_s,
        level + rng.normal(0.0, spread_db, strokes),
        places_per_count,
        place_s,
    )


def shifted(held, place, *, late_ms=0.0, level_db=0.0):
    """Shift one place of the count."""
    own = held.place_index % held.places_per_count == place
    late_s = held.asynchrony_s + np.where(own, 1e-3 * late_ms, 0.0)
    return HeldStrokes(
        held.place_index,
        held.place_index * held.place_s + late_s,
        late_s,
        held.level_db + np.where(own, level_db, 0.0),
        held.places_per_count,
        held.place_s,
    )


def some(held, which):
    """Keep some of the strokes."""
    return HeldStrokes(
        held.place_index[which],
        held.time_s[which],
        held.asynchrony_s[which],
        held.level_db[which],
        held.places_per_count,
        held.place_s,
    )
