"""How well a law foretells a day that was kept from it.

For each day the posterior is taken without that day's rounds (the cavity), the day's form is
integrated over, and the log chance of its rounds is the score. The curve's shape and the noises
stay as fitted with the day, which with some days or more makes little difference.

Source
------
Rasmussen and Williams (2006), Gaussian Processes for Machine Learning, section 5.4.2 (from
memory), for the posterior without one site.
"""

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.interval_likelihood import interval_chance
from loosehand.reach.laplace import Task, margins
from loosehand.reach.noises import Point
from loosehand.reach.prior import LAPSE_SHARE

__all__ = ["held_out_scores"]

FloatArray = NDArray[np.float64]
_NODES = 11
_MANY_NODES = 81
_NARROW_BPM = 3.0
"""A cavity wider than this is walked through in many nodes: the peak in it may be narrow."""


def held_out_scores(task: Task, point: Point) -> FloatArray:
    """Log score of each day, told from the other days.

    Parameters
    ----------
    task : what was fitted
    point : of the noises, with its mode

    Returns
    -------
    score : float array, shape (d,), natural logarithm of the chance of the day's rounds
    """
    mode, data = point.mode, task.data
    spread = np.diag(np.linalg.inv(mode.precision + np.diag(mode.weight)))
    precision = np.maximum(1.0 / spread - mode.weight, 1e-6)
    site = mode.weight * mode.day_bpm + mode.pull
    mean = (mode.day_bpm / spread - site) / precision
    is_narrow = float(precision.min()) > _NARROW_BPM**-2
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES if is_narrow else _MANY_NODES)
    by_node = np.empty((len(nodes), len(data.days)))
    for row, node in enumerate(nodes):
        minute = (mean + node / np.sqrt(precision))[data.day_index]
        low, high = margins(task, point.noise, minute_bpm=minute, log_shape=mode.log_shape)
        found = interval_chance(
            low.z, high.z, lapse_share=LAPSE_SHARE, lapse_chance=data.lapse_chance
        )
        by_node[row] = np.bincount(data.day_index, found.log_chance, minlength=len(data.days))
    best = by_node.max(axis=0)
    shares = weights[:, None] / weights.sum() * np.exp(by_node - best)
    return np.asarray(best + np.log(shares.sum(axis=0)))
