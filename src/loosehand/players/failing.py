"""The ways in which a hand loses the click.

Each takes the line of one hand as it would have been held and gives the line as it was
played. A failure begins at a place; where the break lies by the rule is found afterwards.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.errors import BadNotation
from loosehand.players.performance import Failure

__all__ = ["HandLine", "Lost", "draw_lost", "lose_click", "slip"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_LEAST_GAP_S = 0.025
"""No hand strikes twice within this."""


@dataclass(frozen=True)
class HandLine:
    """The strokes of one hand, in order.

    Attributes
    ----------
    own_place : int array, shape (n,), places of this hand from 0; -1 for no place
    time_s : float array, shape (n,)
    level_db : float array, shape (n,)
    own_place_s : length of a place of this hand
    places_per_count : places of this hand in a count
    end_s : time at which the round is over
    """

    own_place: IntArray
    time_s: FloatArray
    level_db: FloatArray
    own_place_s: float
    places_per_count: int
    end_s: float

    def kept(self, keep: BoolArray) -> "HandLine":
        """Only the strokes that are kept."""
        return self.with_strokes(self.own_place[keep], self.time_s[keep], self.level_db[keep])

    def with_strokes(
        self, own_place: IntArray, time_s: FloatArray, level_db: FloatArray
    ) -> "HandLine":
        """Give the same hand other strokes."""
        return HandLine(
            own_place=own_place,
            time_s=time_s,
            level_db=level_db,
            own_place_s=self.own_place_s,
            places_per_count=self.places_per_count,
            end_s=self.end_s,
        )


@dataclass(frozen=True)
class Lost:
    """How the click is lost, drawn once for both hands.

    Attributes
    ----------
    failure : the kind
    own_place : place of the hand at which it begins
    rate_share : share by which the intervals grow (slowing), shrink (ahead) or stretch
        (collapse)
    ramp_places : places over which that comes about
    dropped_place : place in the count that is dropped in thinning out
    ragged_share : chance that a stroke is dropped at random in thinning, 0 for a fixed place
    lost_places : strokes lost in a stumble
    groping_places : strokes off the grid before the click is caught again in a stumble
    groping_share : how far off they begin, as a share of a place, either way
    soft_db : how much softer the strokes of a collapse are
    pause_places : places after which a stopped hand starts again, or None
    """

    failure: Failure
    own_place: int
    rate_share: float
    ramp_places: int
    dropped_place: int
    ragged_share: float
    lost_places: int
    groping_places: int
    groping_share: float
    soft_db: float
    pause_places: int | None


def draw_lost(
    failure: Failure, own_place: int, *, places_per_count: int, rng: np.random.Generator
) -> Lost:
    """Draw the particulars of a failure that begins at a place of the hand."""
    count = places_per_count
    lost = int(rng.choice([1, 2, 3, 4, count, count + count // 2]))
    wide = failure == "collapse"
    return Lost(
        failure=failure,
        own_place=own_place,
        rate_share=rng.uniform(0.12, 0.6) if wide else float(np.exp(rng.uniform(-3.5, -1.6))),
        ramp_places=int(rng.integers(0, 8 * count)),
        dropped_place=int(rng.integers(0, count)),
        ragged_share=rng.uniform(0.3, 0.6) if rng.random() < 0.25 else 0.0,
        lost_places=lost,
        groping_places=max(3 - lost, 0) + int(rng.integers(0, 2 * count)),
        groping_share=rng.uniform(0.36, 0.5) * rng.choice([-1.0, 1.0]),
        soft_db=rng.uniform(4.0, 15.0),
        pause_places=int(rng.integers(3 * count, 10 * count)) if rng.random() < 0.25 else None,
    )


def lose_click(line: HandLine, lost: Lost, *, rng: np.random.Generator) -> HandLine:
    """Play a line as a hand that loses the click.

    Parameters
    ----------
    line : the line as it would have been held
    lost : how the click is lost
    rng : source of all chance

    Returns
    -------
    line : the line as played

    Raises
    ------
    BadNotation    if there is no such failure
    """
    if lost.failure in ("slowing", "ahead"):
        return _other_rate(line, lost, rng=rng)
    if lost.failure == "collapse":
        return _collapse(line, lost, rng=rng)
    if lost.failure == "stop":
        return _stop(line, lost)
    if lost.failure == "stumble":
        return _stumble(line, lost)
    if lost.failure in ("thin to three", "thin to two"):
        return _thin_out(line, lost, rng=rng)
    raise BadNotation(f"failure = {lost.failure!r} is no way of losing the click")


def _carry_on(
    line: HandLine, begin: int, step_s: FloatArray, soft_db: float, rng: np.random.Generator
) -> HandLine:
    """Go on from stroke ``begin`` with other steps until the round is over."""
    time_s = line.time_s[begin] + np.cumsum(step_s)
    time_s = time_s[time_s < line.end_s]
    keep = begin + 1
    place = line.own_place[begin] + 1 + np.arange(time_s.size)
    like = line.level_db[np.minimum(place, line.level_db.size - 1)] - soft_db
    level_db = like + rng.normal(0.0, 0.5, time_s.size)
    place = np.where(place > line.own_place[-1], -1, place)
    return line.with_strokes(
        np.concatenate((line.own_place[:keep], place)),
        np.concatenate((line.time_s[:keep], time_s)),
        np.concatenate((line.level_db[:keep], level_db)),
    )


def _begin(line: HandLine, lost: Lost) -> int:
    found = int(np.searchsorted(line.own_place, lost.own_place))
    return min(found, int(line.own_place.size) - 1)


def _other_rate(line: HandLine, lost: Lost, *, rng: np.random.Generator) -> HandLine:
    sign = 1.0 if lost.failure == "slowing" else -1.0
    index = np.arange(2 * line.own_place.size)
    share = lost.rate_share * np.minimum(1.0, (index + 1) / (lost.ramp_places + 1))
    jitter = np.clip(rng.normal(0.0, 0.05, index.size), -0.15, 0.15)
    step_s = line.own_place_s * (1 + sign * share + np.diff(jitter, prepend=0.0))
    return _carry_on(line, _begin(line, lost), step_s, 0.0, rng)


def _collapse(line: HandLine, lost: Lost, *, rng: np.random.Generator) -> HandLine:
    jitter = np.clip(rng.normal(0.0, 0.15, line.own_place.size), -0.4, 0.5)
    step_s = line.own_place_s * (1 + lost.rate_share) * (1 + jitter)
    begin = _begin(line, lost)
    played = _carry_on(line, begin, step_s, lost.soft_db, rng)
    early = np.arange(begin + 1, min(begin + 1 + 2 * line.places_per_count, played.time_s.size))
    usual_s = float(np.median(line.time_s - line.own_place * line.own_place_s))
    time_s = played.time_s.copy()
    time_s[early] = _off_grid(time_s[early], usual_s, line.own_place_s, rng)
    return played.with_strokes(played.own_place, time_s, played.level_db).kept(
        np.diff(time_s, prepend=-np.inf) > _LEAST_GAP_S
    )


def _off_grid(
    time_s: FloatArray, usual_s: float, own_place_s: float, rng: np.random.Generator
) -> FloatArray:
    """Move strokes that chance has put near a place well away from it."""
    position = (time_s - usual_s) / own_place_s
    late = position - np.round(position)
    away = np.where(late < 0, -1.0, 1.0) * rng.uniform(0.36, 0.5, time_s.size)
    moved = np.where(np.abs(late) < 0.36, away, late)
    shifted: FloatArray = usual_s + (np.round(position) + moved) * own_place_s
    return shifted


def _stop(line: HandLine, lost: Lost) -> HandLine:
    keep = line.own_place < lost.own_place
    if lost.pause_places is not None:
        keep |= line.own_place >= lost.own_place + lost.pause_places
    return line.kept(keep)


def _stumble(line: HandLine, lost: Lost) -> HandLine:
    into = line.own_place - lost.own_place
    groping = into - lost.lost_places
    is_groping = (groping >= 0) & (groping < lost.groping_places)
    settle = np.clip(1 - 0.2 * groping / max(lost.groping_places, 1), 0.0, 1.0)
    late_s = np.where(is_groping, lost.groping_share * settle * line.own_place_s, 0.0)
    moved = line.with_strokes(line.own_place, line.time_s + late_s, line.level_db)
    return moved.kept((into < 0) | (groping >= 0))


def _thin_out(line: HandLine, lost: Lost, *, rng: np.random.Generator) -> HandLine:
    count = line.places_per_count
    in_count = line.own_place % count
    if lost.failure == "thin to three":
        dropped = in_count == lost.dropped_place
    elif count % 2:
        dropped = in_count != 0
    else:
        dropped = in_count % 2 == 1
    if lost.ragged_share > 0:
        dropped = rng.random(in_count.size) < lost.ragged_share
        dropped[line.own_place == lost.own_place] = True
    return line.kept(~dropped | (line.own_place < lost.own_place))


def slip(line: HandLine, own_place: int, *, rng: np.random.Generator) -> HandLine:
    """Make one or two places bad from a place on: missing or displaced.

    Parameters
    ----------
    line : the line of one hand
    own_place : first place of the slip
    rng : source of all chance

    Returns
    -------
    line : the line with the slip
    """
    length = int(rng.integers(1, 3))
    hit = (line.own_place >= own_place) & (line.own_place < own_place + length)
    if rng.random() < 0.5:
        return line.kept(~hit)
    late_s = rng.choice([-1.0, 1.0]) * rng.uniform(0.40, 0.48) * line.own_place_s
    return line.with_strokes(
        line.own_place, np.where(hit, line.time_s + late_s, line.time_s), line.level_db
    )
