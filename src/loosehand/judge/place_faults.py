"""Which place of the count is late, early, soft or loud, against what the drive would have there.

A place's fault is a shift of that place alone. It is fitted with what is no fault: in level the
contrast of the drive and an expected decay from tap to tap, in timing an expected lateness of the
stroke after an accent. Faults are taken one by one, the plainest first, so that one late place does
not make its neighbours early. Where a place cannot be told from the drive itself (the one accent of
a drive as long as the count) it is passed over. Of two places of which either may be the one that
is off, the late one or the soft one is named.

A fault is listed if it is more than 2.75 of its standard errors and not small (4 ms, 1 dB: ours).
It is called heard, and may be the main fault, in timing above max(6 ms, 2.5 % of the interval)
(Friberg and Sundberg 1995: the just noticeable displacement of one tone in a row of equal ones), in
level above 1.5 dB (ours, chosen, no source). People's strokes after an accent come late: where such
a stroke always falls on the same place, it is not listed below what can be heard.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.cycle_profile import CycleProfile
from loosehand.judge.variability import NORMAL_80

__all__ = [
    "FAULT_KINDS",
    "HEARD_LEVEL_DB",
    "FaultKind",
    "PlaceFault",
    "heard_displacement_ms",
    "place_faults",
]

FloatArray = NDArray[np.float64]
FaultKind = Literal["late", "early", "soft", "loud"]
FAULT_KINDS: tuple[FaultKind, ...] = ("late", "early", "soft", "loud")

HEARD_LEVEL_DB = 1.5
"""Smallest difference of level that is called heard. Ours, chosen, no source."""

_LISTED_ERRORS = 2.75
_LISTED_TIMING_MS, _LISTED_LEVEL_DB = 4.0, 1.0
_REST_MS, _REST_DB = 0.3, 0.15
_DECAY_DB, _DECAY_SPREAD_DB = -0.7, 0.5
_STRETCH_MS, _STRETCH_SPREAD_MS = 2.0, 2.5
_FREE = 1e2
_TIED = 1.15


@dataclass(frozen=True)
class PlaceFault:
    """One place that is off.

    Attributes
    ----------
    place : place of the count, from 0
    kind : ``late``, ``early``, ``soft`` or ``loud``
    effect : how far off, ms or dB, always positive
    low, high : range that holds four chances in five
    heard : whether it is above what can be heard
    """

    place: int
    kind: FaultKind
    effect: float
    low: float
    high: float
    heard: bool


@dataclass(frozen=True)
class _Series:
    """A profile to look for faults in, with what is no fault there."""

    profile: CycleProfile
    known: FloatArray
    """Shapes that are no fault, shape (n, cycle)."""
    expected: FloatArray
    """How large each is expected to be, shape (n,)."""
    spread: FloatArray
    """And how uncertain that is, shape (n,)."""
    rest: float
    kinds: tuple[FaultKind, FaultKind]
    """Above and below nought."""
    named: int
    """Sign of the kind that is named where either of two places may be off."""
    listed: FloatArray
    """What each place of the count must exceed to be listed."""
    heard: float


def heard_displacement_ms(interval_ms: float) -> float:
    """Smallest displacement of one stroke in a steady row that is heard.

    Parameters
    ----------
    interval_ms : interval between strokes

    Returns
    -------
    displacement_ms : the larger of 6 ms and 2.5 % of the interval

    Source
    ------
    Friberg, Sundberg (1995), Time discrimination in a monotonic, isochronous sequence, J. Acoust.
    Soc. Am. 98(5):2524-2531, abstract: about 6 ms below intervals of 240 ms, 2.5 % above them,
    tried from 100 to 1,000 ms. Below 100 ms the 6 ms are kept by us.

    Examples
    --------
    >>> heard_displacement_ms(150.0), heard_displacement_ms(600.0)
    (6.0, 15.0)
    """
    return max(6.0, 0.025 * interval_ms)


def place_faults(
    level: CycleProfile,
    timing: CycleProfile,
    *,
    places_per_count: int,
    place_ms: float,
    drives: tuple[tuple[int, int], ...],
) -> tuple[PlaceFault, ...]:
    """Find the places that are off, the plainest first; timing before level.

    Where more than one drive may be it, a fault must be one with each of them, and the least of its
    sizes is given.

    Parameters
    ----------
    level, timing : profiles over the cycle, dB and ms
    places_per_count, place_ms : places in a count, and how long each is
    drives : strokes and phase of every drive that it may be, strokes 1 for none; at least one

    Returns
    -------
    faults : found ones
    """
    if places_per_count < 2:
        return ()
    timings = [_find(_timing_series(timing, places_per_count, place_ms, one)) for one in drives]
    levels = [_find(_level_series(level, places_per_count, one)) for one in drives]
    return (*_common(timings), *_common(levels))


def _common(found: list[list[PlaceFault]]) -> list[PlaceFault]:
    """Faults that are found in every list, each at its least."""
    rest = [{(fault.place, fault.kind): fault for fault in one} for one in found[1:]]
    same = [
        min((fault, *(one[fault.place, fault.kind] for one in rest)), key=lambda one: one.effect)
        for fault in found[0]
        if all((fault.place, fault.kind) in one for one in rest)
    ]
    return sorted(same, key=lambda fault: -fault.effect)


def _timing_series(
    timing: CycleProfile, places_per_count: int, place_ms: float, drive: tuple[int, int]
) -> _Series:
    heard = heard_displacement_ms(place_ms)
    listed = np.full(places_per_count, min(_LISTED_TIMING_MS, heard))
    known = np.zeros((0, timing.mean.size))
    if drive[0] > 1:
        after = (np.arange(timing.mean.size) - drive[1]) % drive[0] == 1
        if drive[0] == places_per_count:
            listed[np.flatnonzero(after)[0] % places_per_count] = heard
        else:
            known = after[None].astype(float)
    return _Series(
        profile=timing,
        known=known,
        expected=np.full(len(known), _STRETCH_MS),
        spread=np.full(len(known), _STRETCH_SPREAD_MS),
        rest=_REST_MS,
        kinds=("late", "early"),
        named=1,
        listed=listed,
        heard=heard,
    )


def _level_series(level: CycleProfile, places_per_count: int, drive: tuple[int, int]) -> _Series:
    strokes, phase = drive
    within = (np.arange(level.mean.size) - phase) % strokes
    taps, further = (within > 0).astype(float), np.maximum(within - 1.0, 0.0)
    shapes = {1: [], 2: [taps]}.get(strokes, [taps, further])
    return _Series(
        profile=level,
        known=np.array(shapes).reshape(len(shapes), within.size),
        expected=np.array([0.0, _DECAY_DB])[: len(shapes)],
        spread=np.array([_FREE, _DECAY_SPREAD_DB])[: len(shapes)],
        rest=_REST_DB,
        kinds=("loud", "soft"),
        named=-1,
        listed=np.full(places_per_count, _LISTED_LEVEL_DB),
        heard=HEARD_LEVEL_DB,
    )


def _find(series: _Series) -> list[PlaceFault]:
    """Take faults one by one, each fitted together with those before it."""
    places = series.listed.size
    taken: list[int] = []
    while len(taken) < places - 1:
        place = _plainest(series, taken)
        if place is None:
            break
        taken.append(place)
    effects, errors = _fit(series, taken)
    faults = [
        _fault(series, place, effect, error)
        for place, effect, error in zip(taken, effects, errors, strict=True)
        if abs(effect) > max(_LISTED_ERRORS * error, series.listed[place])
    ]
    return sorted(faults, key=lambda fault: -fault.effect)


def _plainest(series: _Series, taken: list[int]) -> int | None:
    """The place that is off most plainly beside those taken, or None."""
    score, sign = np.zeros(series.listed.size), np.zeros(series.listed.size)
    for place in range(series.listed.size):
        if place in taken:
            continue
        effects, errors = _fit(series, [*taken, place])
        large = abs(effects[-1]) > max(_LISTED_ERRORS * errors[-1], series.listed[place])
        if large and errors[-1] < 0.1 * _FREE:
            score[place], sign[place] = abs(effects[-1]) / errors[-1], np.sign(effects[-1])
    if not score.any():
        return None
    near = score * _TIED >= score.max()
    named = near & (sign == series.named)
    return int(np.argmax(np.where(named if named.any() else near, score, 0.0)))


def _fit(series: _Series, places: list[int]) -> tuple[FloatArray, FloatArray]:
    """Shift of each of some places with its standard error, what is no fault fitted beside."""
    cycle = series.profile.mean.size
    of_place = [np.arange(cycle) % series.listed.size == place for place in places]
    shapes = np.vstack([np.ones((1, cycle)), series.known, *of_place]).astype(float)
    prior = np.concatenate([[_FREE], series.spread, np.full(len(places), _FREE)]) ** -2.0
    expected = np.concatenate([[0.0], series.expected, np.zeros(len(places))])
    noise = series.profile.covariance + series.rest**2 * np.eye(cycle)
    weighted = np.linalg.solve(noise, shapes.T)
    inverse = np.linalg.inv(shapes @ weighted + np.diag(prior))
    fitted = inverse @ (weighted.T @ series.profile.mean + prior * expected)
    first = fitted.size - len(places)
    return fitted[first:], np.sqrt(np.diag(inverse)[first:])


def _fault(series: _Series, place: int, effect: float, error: float) -> PlaceFault:
    size, reach = abs(float(effect)), NORMAL_80 * float(error)
    return PlaceFault(
        place=place,
        kind=series.kinds[0] if effect > 0 else series.kinds[1],
        effect=size,
        low=size - reach,
        high=size + reach,
        heard=size > series.heard,
    )
