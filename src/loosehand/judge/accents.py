"""Accents heard against the places that ought to be accented.

Levels, a slow bend taken out, are told apart into accents and the rest by a mixture of two normal
spreads, with a chance of an accent of its own for places that ought to have one and for those that
ought not. So a map that is not played at all is not forced upon the strokes. How many accents came
is the sum of their chances, so that doubtful strokes count for as many as they are likely to be;
they are the likeliest ones, taken apart for the places of the map and the others.

Where a part asks for several levels besides (another instrument, ghost notes, a dynamic), each
class of places has an offset of its own, fitted together with the bend. An accent counts against
the plain strokes of its class, so a class with too few of them tells of no accent, neither asked
nor unasked. A class that is played louder throughout than was meant cannot be told from its
instrument.

Source: ours; the mixture is fitted by expectation maximisation.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation, TooFewStrokes
from loosehand.judge.evenness import HeldStrokes, check_held

__all__ = [
    "LEAST_CONTRAST_DB",
    "LEAST_OF_A_CLASS",
    "AccentsHeard",
    "accents_heard",
    "level_as_asked",
    "tells_of_accents",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

LEAST_CONTRAST_DB = 3.0
"""Accents less above the rest are not told. Ours, chosen, not validated."""

LEAST_OF_A_CLASS = 8
"""Plain strokes that a class needs to tell of accents. Ours, chosen, not validated."""

_LEAST_STROKES = 16
_ROUNDS = 60
_STROKES_A_BEND = 48


@dataclass(frozen=True)
class AccentsHeard:
    """Accents against a map.

    Attributes
    ----------
    due : places before the break that ought to be accented, but for those that cannot be told
    hits : of those, accented ones
    misses : of those, not accented or not heard at all
    false_accents : accents on places that ought to have none
    plain : strokes on places that ought to have none, of which this can be told
    contrast_db : mean level of accents - mean level of the rest; None where no accents are told
    hit_places, missed_places, false_places : int arrays, places of the take, from 0
    untold_places : int array, strokes on places that ought to be accented, of which it cannot be
        told; they are neither due nor missed
    note : a sentence where accents cannot be told, else None; all due places then count as missed
    """

    due: int
    hits: int
    misses: int
    false_accents: int
    plain: int
    contrast_db: float | None
    hit_places: IntArray
    missed_places: IntArray
    false_places: IntArray
    untold_places: IntArray
    note: str | None


def accents_heard(
    strokes: HeldStrokes,
    accent_map: tuple[int, ...],
    places_per_bar: int,
    *,
    held_places: int,
    level_class: IntArray | None = None,
) -> AccentsHeard:
    """Compare the accents heard with those asked for.

    Parameters
    ----------
    strokes : strokes matched before the break; place 0 of the take is place 0 of a bar
    accent_map : places of the bar, from 0, that ought to be accented
    places_per_bar : places in a bar
    held_places : places before the break; one without a stroke is missed if it ought to be accented
    level_class : int array, shape (places_per_bar,), number of the level that each place ought to
        have but for its accent; None where all ought to have the same

    Returns
    -------
    accents : AccentsHeard

    Raises
    ------
    BadNotation
        If the map is empty, holds every place, or a place outside the bar.
    TooFewStrokes
        If there are fewer than 16 strokes, or too few that can tell of accents.
    """
    check_held(strokes)
    _check_map(accent_map, places_per_bar)
    place = strokes.place_index
    if place.size < _LEAST_STROKES:
        raise TooFewStrokes(f"accents need {_LEAST_STROKES} strokes to be told, got {place.size}")
    if level_class is None:
        level_class = np.zeros(places_per_bar, dtype=np.int64)
    asked = np.isin(place % places_per_bar, accent_map)
    own = level_class[place % places_per_bar]
    tells = tells_of_accents(own, asked)
    if not tells.any():
        raise TooFewStrokes(
            f"accents need {LEAST_OF_A_CLASS} strokes without one on the same instrument to stand "
            "out from"
        )
    chance, contrast_db = np.zeros(place.size), None
    chance[tells], contrast_db = _chance_of_accent(
        _flat(place[tells], strokes.level_db[tells], asked[tells], own[tells]), asked[tells]
    )
    accented = _likeliest(chance, asked & tells) | _likeliest(chance, ~asked & tells)
    whole = np.arange(held_places)
    untold = place[asked & ~tells]
    due = np.setdiff1d(whole[np.isin(whole % places_per_bar, accent_map)], untold)
    hits, false = place[accented & asked], place[accented & ~asked]
    note = None
    if contrast_db is None:
        note = f"No accents stand {LEAST_CONTRAST_DB:g} dB or more above the other strokes."
    return AccentsHeard(
        due=int(due.size),
        hits=int(hits.size),
        misses=int(due.size - hits.size),
        false_accents=int(false.size),
        plain=int(np.count_nonzero(~asked & tells)),
        contrast_db=contrast_db,
        hit_places=hits,
        missed_places=np.setdiff1d(due, hits),
        false_places=false,
        untold_places=untold,
        note=note,
    )


def level_as_asked(
    strokes: HeldStrokes, *, asked: BoolArray, came: BoolArray, level_class: IntArray
) -> FloatArray:
    """Level that strokes have from what was asked and from the accents told, around its own mean.

    That is the offset of each class, and the height of the accents that came, unasked ones too, for
    they are told as such; what is left of a level is told of the hand. An accent that cannot be
    told from its class has a class of its own.

    Parameters
    ----------
    strokes : strokes matched before the break
    asked : bool array, which of them ought to be accented
    came : bool array, which of them are accented
    level_class : int array, number of the level that each ought to have but for its accent

    Returns
    -------
    level_db : float array, shape (strokes,)
    """
    apart = asked & ~tells_of_accents(level_class, asked)
    _, group = np.unique(2 * level_class + apart, return_inverse=True)
    groups = np.eye(int(group.max()) + 1)[group]
    known = np.column_stack([groups, came & ~apart]).astype(float)
    weights = _fitted(strokes.place_index, strokes.level_db, known)
    level_db = known @ weights[: known.shape[1]]
    around: FloatArray = level_db - level_db.mean()
    return around


def tells_of_accents(level_class: IntArray, asked: BoolArray) -> BoolArray:
    """Tell of which strokes it can be told whether they are accents.

    Parameters
    ----------
    level_class : int array, number of the level that each ought to have but for its accent
    asked : bool array, which of them ought to be accented

    Returns
    -------
    tells : bool array, those of a class with `LEAST_OF_A_CLASS` plain strokes
    """
    if not level_class.size:
        return asked
    plain = np.bincount(level_class[~asked], minlength=int(level_class.max()) + 1)
    return (plain >= LEAST_OF_A_CLASS)[level_class]


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


def _flat(
    place: IntArray, level_db: FloatArray, asked: BoolArray, level_class: IntArray
) -> FloatArray:
    """Levels with classes and a slow bend of the whole take out, accents around their own."""
    _, number = np.unique(level_class, return_inverse=True)
    classes = np.eye(int(number.max()) + 1)[number]
    weights = _fitted(place, level_db, np.column_stack([classes, asked]).astype(float))
    offsets = weights[: classes.shape[1]]
    bends = _bends(place) @ weights[classes.shape[1] + 1 :]
    flat: FloatArray = level_db - classes @ (offsets - offsets.mean()) - bends
    return flat


def _fitted(place: IntArray, level_db: FloatArray, known: FloatArray) -> FloatArray:
    """Weights of some shapes and of a slow bend beside them."""
    shapes = np.column_stack([known, _bends(place)])
    return np.asarray(np.linalg.lstsq(shapes, level_db, rcond=None)[0], dtype=np.float64)


def _bends(place: IntArray) -> FloatArray:
    """Slow cosines over the take, one for every so many strokes."""
    at = (place - place[0] + 0.5) / (place[-1] - place[0] + 1)
    return np.cos(np.pi * np.outer(at, np.arange(1, place.size // _STROKES_A_BEND + 1)))


def _likeliest(chance: FloatArray, among: BoolArray) -> BoolArray:
    """As many of some strokes as are accents by the sum of their chances, the likeliest ones."""
    index = np.flatnonzero(among)
    number = round(float(chance[index].sum()))
    taken = np.zeros(chance.size, dtype=np.bool_)
    taken[index[np.argsort(-chance[index], kind="stable")[:number]]] = True
    return taken


def _chance_of_accent(level_db: FloatArray, asked: BoolArray) -> tuple[FloatArray, float | None]:
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
