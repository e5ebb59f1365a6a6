"""Accents heard against the places that ought to be accented.

Levels, a slow bend taken out, are told apart into accents and the rest by a mixture of two normal
spreads, with a chance of an accent of its own for places that ought to have one and for those that
ought not. So a map that is not played at all is not forced upon the strokes. How many accents came
is the sum of their chances, so that doubtful strokes count for as many as they are likely to be;
they are the likeliest ones, taken apart for the places of the map and the others.

Source: ours; the mixture is fitted by expectation maximisation.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation, TooFewStrokes
from loosehand.judge.evenness import HeldStrokes, check_held

__all__ = ["LEAST_CONTRAST_DB", "AccentsHeard", "accents_heard"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEAST_CONTRAST_DB = 3.0
"""Accents less above the rest are not told. Ours, chosen, not validated."""

_LEAST_STROKES = 16
_ROUNDS = 60
_STROKES_A_BEND = 48


@dataclass(frozen=True)
class AccentsHeard:
    """Accents against a map.

    Attributes
    ----------
    due : places that ought to be accented, from the first stroke to the last
    hits : of those, accented ones
    misses : of those, not accented or not heard at all
    false_accents : accents on places that ought to have none
    contrast_db : mean level of accents - mean level of the rest; None where no accents are told
    missed_places, false_places : int arrays, places of the take, from 0
    note : a sentence where accents cannot be told, else None; all due places then count as missed
    """

    due: int
    hits: int
    misses: int
    false_accents: int
    contrast_db: float | None
    missed_places: IntArray
    false_places: IntArray
    note: str | None


def accents_heard(
    strokes: HeldStrokes, accent_map: tuple[int, ...], places_per_bar: int
) -> AccentsHeard:
    """Compare the accents heard with those asked for.

    Parameters
    ----------
    strokes : strokes matched before the break; place 0 of the take is place 0 of a bar
    accent_map : places of the bar, from 0, that ought to be accented
    places_per_bar : places in a bar

    Returns
    -------
    accents : AccentsHeard

    Raises
    ------
    BadNotation
        If the map is empty, holds every place, or a place outside the bar.
    TooFewStrokes
        If there are fewer than 16 strokes.
    """
    check_held(strokes)
    _check_map(accent_map, places_per_bar)
    if strokes.place_index.size < _LEAST_STROKES:
        raise TooFewStrokes(
            f"accents need {_LEAST_STROKES} strokes to be told, got {strokes.place_index.size}"
        )
    place = strokes.place_index
    asked = np.isin(place % places_per_bar, accent_map)
    whole = np.arange(place[0], place[-1] + 1)
    due = whole[np.isin(whole % places_per_bar, accent_map)]
    chance, contrast_db = _chance_of_accent(_flat(place, strokes.level_db, asked), asked)
    accented = _likeliest(chance, asked) | _likeliest(chance, ~asked)
    note = None
    if contrast_db is None:
        note = f"No accents stand {LEAST_CONTRAST_DB:g} dB or more above the other strokes."
    missed = np.setdiff1d(due, place[accented & asked])
    return AccentsHeard(
        due=int(due.size),
        hits=int(due.size - missed.size),
        misses=int(missed.size),
        false_accents=int(np.count_nonzero(accented & ~asked)),
        contrast_db=contrast_db,
        missed_places=missed,
        false_places=place[accented & ~asked],
        note=note,
    )


def _check_map(accent_map: tuple[int, ...], places_per_bar: int) -> None:
    outside = [place for place in accent_map if not 0 <= place < places_per_bar]
    if outside:
        raise BadNotation(
            f"accent_map holds place {outside[0]}: want 0 to {places_per_bar - 1} "
            f"in a bar of {places_per_bar} places"
        )
    if not 0 < len(set(accent_map)) < places_per_bar:
        raise BadNotation(
            f"accent_map holds {len(set(accent_map))} of {places_per_bar} places: "
            "want some, not all of them"
        )


def _flat(place: IntArray, level_db: FloatArray, asked: NDArray[np.bool_]) -> FloatArray:
    """Levels with a slow bend of the whole take out, accents and the rest each around their own."""
    at = (place - place[0] + 0.5) / (place[-1] - place[0] + 1)
    bends = np.cos(np.pi * np.outer(at, np.arange(1, place.size // _STROKES_A_BEND + 1)))
    shapes = np.column_stack([asked, ~asked, bends]).astype(float)
    weights = np.linalg.lstsq(shapes, level_db, rcond=None)[0]
    flat: FloatArray = level_db - bends @ weights[2:]
    return flat


def _likeliest(chance: FloatArray, among: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """As many of some strokes as are accents by the sum of their chances, the likeliest ones."""
    index = np.flatnonzero(among)
    number = round(float(chance[index].sum()))
    taken = np.zeros(chance.size, dtype=np.bool_)
    taken[index[np.argsort(-chance[index], kind="stable")[:number]]] = True
    return taken


def _chance_of_accent(
    level_db: FloatArray, asked: NDArray[np.bool_]
) -> tuple[FloatArray, float | None]:
    """Chance of each stroke to be an accent, and how far these stand above the rest, or None."""
    low, high = np.quantile(level_db, [0.2, 0.95])
    spread = max(0.25 * float(high - low), 0.1)
    share = np.where(asked, 0.7, 0.1)
    chance = np.zeros(level_db.size)
    for _ in range(_ROUNDS):
        ratio = ((level_db - low) ** 2 - (level_db - high) ** 2) / (2.0 * spread**2)
        odds = np.log(share) - np.log1p(-share) + ratio
        chance = 1.0 / (1.0 + np.exp(-np.clip(odds, -50.0, 50.0)))
        weight, rest = chance.sum() + 1e-9, (1.0 - chance).sum() + 1e-9
        high = float(np.dot(chance, level_db) / weight)
        low = float(np.dot(1.0 - chance, level_db) / rest)
        variance = np.dot(chance, (level_db - high) ** 2)
        variance += np.dot(1.0 - chance, (level_db - low) ** 2)
        spread = max(float(np.sqrt(variance / level_db.size)), 0.1)
        share = np.where(asked, _share(chance[asked]), _share(chance[~asked]))
    contrast_db = float(high - low)
    if contrast_db < LEAST_CONTRAST_DB:
        return np.zeros(level_db.size), None
    return chance, contrast_db


def _share(chance: FloatArray) -> float:
    """Share of accents, kept off nought and one by one stroke each way."""
    return float((chance.sum() + 1.0) / (chance.size + 2.0))
