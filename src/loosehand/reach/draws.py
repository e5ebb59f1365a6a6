"""Draws from the posterior of a hand: whole curves, with the trend's levels behind and ahead."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.laws import LAWS, shape_by_draw
from loosehand.reach.noises import LawFit, Point
from loosehand.reach.prior import Prior, log_steepness
from loosehand.reach.trend import wander_covariance

__all__ = ["Draws", "draw_posterior", "draw_prior", "level_covariance"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
_SEED = 20261125
_DAYS_A_MONTH = 30.0


@dataclass(frozen=True)
class Draws:
    """Draws, one a row; tempos in sixteenths of one hand.

    Attributes
    ----------
    law : int array, shape (n,), places in ``LAWS``
    level_bpm : float array, shape (n, g), tempo held for a minute on a day of average form, on
        each day of ``grid_day``
    today_bpm : float array, shape (n,), the same on the day told of with that day's form
    grid_day : float array, shape (g,), days from the day told of: before it, it (0), after it
    steepness_bpm, top_s, form_bpm, tempo_noise_bpm, time_noise : float arrays, shape (n,)
    """

    law: IntArray
    level_bpm: FloatArray
    today_bpm: FloatArray
    grid_day: FloatArray
    steepness_bpm: FloatArray
    top_s: FloatArray
    form_bpm: FloatArray
    tempo_noise_bpm: FloatArray
    time_noise: FloatArray

    def level_at(self, day: float) -> FloatArray:
        """Levels on a day from the one told of, in straight lines between the days of the grid."""
        grid = self.grid_day
        day = min(max(day, float(grid[0])), float(grid[-1]))
        right = max(int(np.searchsorted(grid, day)), 1)
        share = (day - grid[right - 1]) / (grid[right] - grid[right - 1])
        left, right_level = self.level_bpm[:, right - 1], self.level_bpm[:, right]
        return np.asarray(left * (1.0 - share) + right_level * share)

    def tempo_at(self, time_s: FloatArray) -> FloatArray:
        """Tempo held for times (t,) on the day told of, form apart: shape (n, t)."""
        shape = shape_by_draw(self.law, time_s, top_s=self.top_s)
        return self.level_at(0.0)[:, None] + self.steepness_bpm[:, None] * shape


def level_covariance(day: FloatArray, other_day: FloatArray, *, prior: Prior) -> FloatArray:
    """Prior covariance of the trend's level between days since the first.

    Parameters
    ----------
    day, other_day : float arrays, shapes (n,), (m,), days since the first of the chart, >= 0
    """
    slope = (prior.gain_sd_bpm / _DAYS_A_MONTH) ** 2 * np.outer(day, other_day)
    wander = wander_covariance(day, other_day, slope_sd_per_day=prior.slope_step_sd_bpm)
    return np.asarray(prior.minute_sd_bpm**2 + slope + wander)


def draw_posterior(
    fits: Sequence[tuple[LawFit, float]],
    *,
    prior: Prior,
    grid_day: FloatArray,
    as_of_day: float,
    draws: int,
) -> Draws:
    """Draw from the fits of several laws, each as often as its weight says.

    Parameters
    ----------
    fits : laws' fits with their weights, which sum to 1
    grid_day : float array, shape (g,), from the day told of
    as_of_day : the day told of, since the first of the chart
    draws : how many, about
    """
    rng = np.random.default_rng(_SEED)
    days = fits[0][0].task.data.days
    at = as_of_day + grid_day
    is_last_day = bool(as_of_day == days[-1])
    across = level_covariance(at, days, prior=prior)
    own = level_covariance(at, at, prior=prior)
    shares = [(fit, point, weight * point.weight) for fit, weight in fits for point in fit.points]
    edges = np.round(np.cumsum([share for _, _, share in shares]) * draws).astype(int)
    parts = []
    for (fit, point, _), low, high in zip(shares, [0, *edges[:-1]], edges, strict=True):
        normals = rng.standard_normal((draws, len(at) + 3))[low:high]
        if high > low:
            parts.append(_draw(fit, point, across, own, grid_day, normals, is_last_day))
    return _joined(parts)


def _draw(
    fit: LawFit,
    point: Point,
    across: FloatArray,
    own: FloatArray,
    grid_day: FloatArray,
    normals: FloatArray,
    is_last_day: bool,
) -> Draws:
    """Draw from one point of one law, a draw for each row of normals."""
    mode = point.mode
    spread = np.linalg.inv(mode.precision + np.diag(mode.weight))
    moved_by = spread @ mode.cross
    shape_spread = np.linalg.inv(mode.shape_precision - mode.cross.T @ moved_by)
    root = np.linalg.cholesky((shape_spread + shape_spread.T) / 2.0)
    off = normals[:, : len(root)] @ root.T
    day = mode.day_bpm - off @ moved_by.T
    gain = across @ mode.precision
    inner = mode.precision - mode.precision @ spread @ mode.precision
    left = own - across @ inner @ across.T
    left = (left + left.T) / 2.0 + 1e-8 * np.trace(own) / len(own) * np.eye(len(own))
    wander = normals[:, 3:] @ _root_of(left).T
    count = len(normals)
    log_shape = mode.log_shape + off
    level = fit.task.minute_bpm + (day - fit.task.minute_bpm) @ gain.T + wander
    if is_last_day:
        today = day[:, -1] + np.sqrt(spread[-1, -1]) * normals[:, 2]
    else:
        today = level[:, np.argmin(np.abs(grid_day))] + point.form_bpm * normals[:, 2]
    return Draws(
        law=np.full(count, LAWS.index(fit.task.law)),
        level_bpm=level,
        today_bpm=today,
        grid_day=grid_day,
        steepness_bpm=np.exp(log_shape[:, 0]),
        top_s=np.exp(log_shape[:, 1]) if len(root) == 2 else np.zeros(count),
        form_bpm=np.full(count, point.form_bpm),
        tempo_noise_bpm=np.full(count, point.noise.tempo_bpm),
        time_noise=np.full(count, point.noise.time_share),
    )


def _root_of(covariance: FloatArray) -> FloatArray:
    """A root of a covariance that rounding may have bent a little."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def _joined(parts: Sequence[Draws]) -> Draws:
    """Put draws one after another."""
    names = ("law", "level_bpm", "today_bpm", "steepness_bpm", "top_s")
    noises = ("form_bpm", "tempo_noise_bpm", "time_noise")
    columns = {
        name: np.concatenate([getattr(part, name) for part in parts]) for name in names + noises
    }
    return Draws(grid_day=parts[0].grid_day, **columns)


def draw_prior(*, prior: Prior, grid_day: FloatArray, draws: int) -> Draws:
    """Draw from the prior alone: what is believed of a hand of which nothing was heard.

    Parameters
    ----------
    grid_day : float array, shape (g,), from the day told of; the trend begins on the earliest
    draws : how many
    """
    rng = np.random.default_rng(_SEED)
    since = grid_day - grid_day.min()
    root = _root_of(level_covariance(since, since, prior=prior))
    law = np.arange(draws) % len(LAWS)
    level = prior.minute_bpm + rng.standard_normal((draws, len(since))) @ root.T
    form = np.exp(prior.log_form_bpm + prior.log_form_sd * rng.standard_normal(draws))
    today = level[:, np.argmin(np.abs(grid_day))] + form * rng.standard_normal(draws)
    means = np.array([log_steepness(each, prior) for each in LAWS])
    normal = rng.standard_normal((draws, 4))
    top = np.exp(prior.log_top_s + prior.log_top_sd * normal[:, 1])
    return Draws(
        law=law,
        level_bpm=level,
        today_bpm=today,
        grid_day=grid_day,
        steepness_bpm=np.exp(means[law] + prior.log_drop_sd * normal[:, 0]),
        top_s=np.where(law == LAWS.index("top rate"), top, 0.0),
        form_bpm=form,
        tempo_noise_bpm=np.exp(prior.log_tempo_noise_bpm + prior.log_tempo_noise_sd * normal[:, 2]),
        time_noise=np.exp(prior.log_time_noise + prior.log_time_noise_sd * normal[:, 3]),
    )
