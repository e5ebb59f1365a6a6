"""Integrate over what is not known of the noises: a law's fit at a few well-placed points.

The log evidence of a law, as a function of the logs of three spreads (form of the day, tempo and
time noise from round to round), is climbed to its top; then its top and the eight
corners of a box about it stand for the whole.

Source
------
Rue, Martino and Chopin (2009), Approximate Bayesian inference for latent Gaussian models by using
integrated nested Laplace approximations, Journal of the Royal Statistical Society B 71:319-392,
section 6.5 (from memory).
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.laplace import Mode, Task, find_mode
from loosehand.reach.margin import Noise
from loosehand.reach.prior import Prior

__all__ = ["LawFit", "Point", "Start", "fit_law", "fit_law_at"]

FloatArray = NDArray[np.float64]
_REACHES = 1.3
_CLIMBS = 8
_DIFFERENCE = 0.1
_ENOUGH = 0.1
_HOPELESS = 12.0
"""A law so far under another, in log chance, is kept by its top point alone."""
_LONGEST = 0.8
_SPREAD = (0.03, 1.2)


@dataclass(frozen=True)
class Start:
    """Where a climb begins: the days, the shape, the logs of the three spreads."""

    day_bpm: FloatArray
    log_shape: FloatArray
    log_spreads: FloatArray


@dataclass(frozen=True)
class Point:
    """A point of the design.

    Attributes
    ----------
    form_bpm : spread of the day's form
    noise : from round to round
    weight : its share in the law's posterior
    mode : what is most probable there
    """

    form_bpm: float
    noise: Noise
    weight: float
    mode: Mode


@dataclass(frozen=True)
class LawFit:
    """A law's posterior.

    Attributes
    ----------
    task : what was fitted
    points : of the noises, the top one first
    log_evidence : log of the chance of the data under the law, up to one constant for all laws
    places : float array, shape (p, 3), logs of form, tempo noise and time noise, the top first
    log_widths : log of the volume of the design's axes
    bend : float array, shape (3, 3), minus the second derivatives of the height there
    top_height : log evidence times prior there
    """

    task: Task
    points: tuple[Point, ...]
    log_evidence: float
    places: FloatArray
    log_widths: float
    bend: FloatArray
    top_height: float

    @property
    def log_spreads(self) -> FloatArray:
        """Logs of the three spreads at the top."""
        return np.asarray(self.places[0])


class _Surface:
    """Log evidence by the logs of the spreads; each climb begins at the last mode."""

    def __init__(self, task: Task, prior: Prior, start: Start) -> None:
        self.task = task
        self.mean = np.array([prior.log_form_bpm, prior.log_tempo_noise_bpm, prior.log_time_noise])
        self.sd = np.array([prior.log_form_sd, prior.log_tempo_noise_sd, prior.log_time_noise_sd])
        self.day_bpm, self.log_shape = start.day_bpm, start.log_shape

    def mode(self, log_spreads: FloatArray) -> Mode:
        """Mode at these spreads."""
        form_bpm, tempo_bpm, time_share = np.exp(log_spreads)
        mode = find_mode(
            self.task,
            noise=Noise(float(tempo_bpm), float(time_share)),
            form_bpm=float(form_bpm),
            day_bpm=self.day_bpm,
            log_shape=self.log_shape,
        )
        self.day_bpm, self.log_shape = mode.day_bpm, mode.log_shape
        return mode

    def height(self, log_spreads: FloatArray, mode: Mode) -> float:
        """Log evidence times prior."""
        stretched = (log_spreads - self.mean) / self.sd
        return mode.log_evidence - 0.5 * float(stretched @ stretched)

    def at(self, log_spreads: FloatArray) -> float:
        """Find the height at these spreads."""
        return self.height(log_spreads, self.mode(log_spreads))


def fit_law(task: Task, *, prior: Prior, start: Start, known: LawFit | None) -> LawFit:
    """Fit a law with its noises.

    Parameters
    ----------
    task : what is fitted
    prior : of the spreads
    start : where to begin
    known : fit of another law to the same rounds, whose noises are a good first guess, or None
    """
    surface = _Surface(task, prior, start)
    top, bend = _climb(surface, start.log_spreads) if known is None else _adjust(surface, known)
    values, vectors = np.linalg.eigh(bend)
    widths = np.clip(1.0 / np.sqrt(np.maximum(values, 1e-6)), *_SPREAD)
    axes = vectors * widths
    places = np.array([top, *(top + axes @ corner for corner in _design(len(top)))])
    least = -np.inf if known is None else known.top_height - _HOPELESS
    log_widths = float(np.log(widths).sum())
    return _weighed_points(surface, places, log_widths, bend=bend, least=least)


def fit_law_at(
    task: Task,
    *,
    prior: Prior,
    start: Start,
    places: FloatArray,
    log_widths: float,
    top_alone: bool,
) -> LawFit:
    """Fit a law with noises at places that are known already.

    Parameters
    ----------
    task, prior, start : as in ``fit_law``
    places : float array, shape (p, 3), logs of the three spreads, the top first
    log_widths : log of the volume of the design's axes
    top_alone : whether its top point will do
    """
    surface = _Surface(task, prior, start)
    bend = np.diag(1.0 / surface.sd**2)
    least = np.inf if top_alone else -np.inf
    return _weighed_points(surface, places, log_widths, bend=bend, least=least)


def _weighed_points(
    surface: _Surface, places: FloatArray, log_widths: float, *, bend: FloatArray, least: float
) -> LawFit:
    """Find the modes at the places, the top alone where it is lower than ``least``."""
    modes = [surface.mode(places[0])]
    top_height = surface.height(places[0], modes[0])
    if top_height > least:
        modes += [surface.mode(place) for place in places[1:]]
    used = places[: len(modes)]
    heights = np.array(
        [surface.height(place, mode) for place, mode in zip(used, modes, strict=True)]
    )
    heights[1:] += _log_volume(places.shape[1])
    best = heights.max()
    weights = np.exp(heights - best)
    points = tuple(
        Point(float(np.exp(place[0])), Noise(*np.exp(place[1:]).tolist()), weight, mode)
        for place, weight, mode in zip(used, (weights / weights.sum()).tolist(), modes, strict=True)
    )
    return LawFit(
        task=surface.task,
        points=points,
        log_evidence=float(best + np.log(weights.sum()) + log_widths),
        places=places,
        log_widths=log_widths,
        bend=bend,
        top_height=top_height,
    )


def _climb(surface: _Surface, start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Climb to the top from afar; return it and the bend there."""
    place, _ = _follow(surface, start, _rough_bend(surface), give_up=-np.inf)
    return place, _bend_at(surface, place)


def _adjust(surface: _Surface, known: LawFit) -> tuple[FloatArray, FloatArray]:
    """Climb from the top of another law, with its bend to begin with."""
    low = known.top_height - 2.0 * _HOPELESS
    return _follow(surface, known.log_spreads, known.bend, give_up=low)


def _rough_bend(surface: _Surface) -> FloatArray:
    """A first guess of the bend: what so many days and lost rounds usually tell."""
    data = surface.task.data
    lost = float(np.isfinite(data.high_s).sum())
    return np.diag(1.0 / surface.sd**2 + np.array([len(data.days), 0.7 * lost, 0.7 * lost]))


def _follow(
    surface: _Surface, place: FloatArray, bend: FloatArray, *, give_up: float
) -> tuple[FloatArray, FloatArray]:
    """Climb by slopes, and learn the bend from how they change (BFGS)."""
    height = surface.at(place)
    slope = _slope(surface, place, height, bend)
    for _ in range(_CLIMBS):
        new_place, new_height = _stepped(surface, place, height, slope, bend)
        gained, step = new_height - height, new_place - place
        place, height = new_place, new_height
        if gained < _ENOUGH or height < give_up:
            break
        new_slope = _slope(surface, place, height, bend)
        bend = _learnt(bend, step, slope - new_slope)
        slope = new_slope
    return place, bend


def _slope(surface: _Surface, place: FloatArray, height: float, bend: FloatArray) -> FloatArray:
    """Slope of the height, by differences that the bend corrects."""
    steps = _DIFFERENCE * np.eye(len(place))
    up = np.array([surface.at(place + step) for step in steps])
    return np.asarray((up - height) / _DIFFERENCE + 0.5 * _DIFFERENCE * np.diag(bend))


def _learnt(bend: FloatArray, step: FloatArray, change: FloatArray) -> FloatArray:
    """The bend after a step over which the slope fell by so much; kept where that is too little."""
    bent = bend @ step
    told = float(step @ change)
    if told < 0.1 * float(step @ bent):
        return bend
    return np.asarray(
        bend + np.outer(change, change) / told - np.outer(bent, bent) / float(step @ bent)
    )


def _stepped(
    surface: _Surface, place: FloatArray, height: float, slope: FloatArray, bend: FloatArray
) -> tuple[FloatArray, float]:
    """Take Newton's step, or a third of it, or none: whichever is not lower."""
    values, vectors = np.linalg.eigh(bend)
    values = np.maximum(values, 0.5 / surface.sd.max() ** 2)
    step = vectors @ ((vectors.T @ slope) / values)
    step *= min(1.0, _LONGEST / max(float(np.abs(step).max()), 1e-9))
    for length in (1.0, 0.3):
        new_height = surface.at(place + length * step)
        if new_height >= height:
            return place + length * step, new_height
    return place, height


def _bend_at(surface: _Surface, place: FloatArray) -> FloatArray:
    """Minus the second derivatives of the height, by differences."""
    size = len(place)
    height = surface.at(place)
    steps = _DIFFERENCE * np.eye(size)
    up = np.array([surface.at(place + step) for step in steps])
    down = np.array([surface.at(place - step) for step in steps])
    bend = np.diag((2.0 * height - up - down) / _DIFFERENCE**2)
    for one in range(size):
        for two in range(one):
            both = surface.at(place + steps[one] + steps[two])
            mixed = (both - up[one] - up[two] + height) / _DIFFERENCE**2
            bend[one, two] = bend[two, one] = -mixed
    return bend


def _design(size: int) -> list[FloatArray]:
    """Corners of the design, all at one distance from its middle."""
    return [np.array(signs) * _REACHES for signs in product((-1.0, 1.0), repeat=size)]


def _log_volume(size: int) -> float:
    """Log of the weight of an outer point, so that a normal law keeps its variance."""
    outer = 2**size
    return float(size * _REACHES**2 / 2.0 - np.log(outer * (_REACHES**2 - 1.0)))
