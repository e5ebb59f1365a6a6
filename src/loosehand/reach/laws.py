"""The laws that may tie a tempo to the time it is held, as curves that can be compared.

A curve gives the tempo that is held for a time with even chance, falling as the time grows. All
three laws share one form, ``tempo = minute + steepness * shape(time)``, in which ``shape`` is 0 at
60 s; so a better day moves the whole curve, and the laws differ in shape alone.

That a stroke rate has a critical value, as power has in cycling, is our own hypothesis: no
published study of tapping or drumming that shows it is known to us.

Source
------
Monod and Scherrer (1965), The work capacity of a synergic muscular group, Ergonomics 8:329-338
(hyperbolic); Morton (1996), A 3-parameter critical power model, Ergonomics 39:611-619 (top rate);
log-linear: an exponential fall of hold time with tempo, ours for comparison.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "LAWS",
    "Curve",
    "Law",
    "log_time_by_draw",
    "log_time_of_excess",
    "shape_by_draw",
    "shape_of_time",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Law = Literal["hyperbolic", "top rate", "log-linear"]
LAWS: tuple[Law, ...] = ("hyperbolic", "top rate", "log-linear")
_MINUTE_S = 60.0
_SHORTEST_S = 1e-3


def shape_of_time(law: Law, time_s: FloatArray, *, top_s: float | FloatArray) -> FloatArray:
    """Shape of a law at times: 0 at 60 s, rising as the time shrinks.

    Parameters
    ----------
    time_s : float array, any shape, seconds, > 0
    top_s : time constant of the top rate law, seconds; not used by the others

    Returns
    -------
    shape : float array, in units of the steepness
    """
    if law == "log-linear":
        return np.asarray(-np.log(time_s / _MINUTE_S))
    top = top_s if law == "top rate" else 0.0
    return np.asarray((_MINUTE_S + top) / (time_s + top) - 1.0)


def log_time_of_excess(law: Law, excess: FloatArray, *, top_s: float | FloatArray) -> FloatArray:
    """Natural logarithm of the hold time (s) where the tempo exceeds the minute's by so much.

    Parameters
    ----------
    excess : float array, (tempo - minute) / steepness
    top_s : as in ``shape_of_time``

    Returns
    -------
    log_time : float array; +inf at or under the sustainable tempo, never under log(1 ms)
    """
    if law == "log-linear":
        return np.asarray(np.log(_MINUTE_S) - excess)
    top = top_s if law == "top rate" else 0.0
    over = 1.0 + excess
    with np.errstate(divide="ignore", invalid="ignore"):
        time_s = (_MINUTE_S + top) / over - top
    log_time = np.log(np.maximum(time_s, _SHORTEST_S))
    return np.where(over > 0.0, log_time, np.inf)


def shape_by_draw(law: IntArray, time_s: FloatArray, *, top_s: FloatArray) -> FloatArray:
    """Shape at times, where each draw has a law of its own.

    Parameters
    ----------
    law : int array, shape (n,), places in ``LAWS``
    time_s : float array, shape (t,), seconds, > 0
    top_s : float array, shape (n,)

    Returns
    -------
    shape : float array, shape (n, t)
    """
    shape = np.empty((len(law), len(time_s)))
    for place, name in enumerate(LAWS):
        mine = law == place
        shape[mine] = shape_of_time(name, time_s[None, :], top_s=top_s[mine, None])
    return shape


def log_time_by_draw(law: IntArray, excess: FloatArray, *, top_s: FloatArray) -> FloatArray:
    """Natural logarithm of the hold time, where each draw has a law of its own.

    Parameters
    ----------
    law : int array, shape (n,), places in ``LAWS``
    excess, top_s : float arrays, shape (n,), as in ``log_time_of_excess``
    """
    log_time = np.empty(len(law))
    for place, name in enumerate(LAWS):
        mine = law == place
        log_time[mine] = log_time_of_excess(name, excess[mine], top_s=top_s[mine])
    return log_time


@dataclass(frozen=True)
class Curve:
    """One law with its figures.

    Attributes
    ----------
    law : which
    minute_bpm : tempo held for 60 s
    steepness_bpm : scale of the shape, > 0
    top_s : time constant of the top rate law, seconds, > 0 there; 0 for the others
    """

    law: Law
    minute_bpm: float
    steepness_bpm: float
    top_s: float = 0.0

    @classmethod
    def from_critical_rate(cls, rate: float, reserve: float, *, top_rate: float | None) -> "Curve":
        """Curve of a critical rate, a finite reserve above it and, if any, a top rate.

        Parameters
        ----------
        rate : critical rate
        reserve : in units of the rate times seconds
        top_rate : rate of which nothing is held, or None for the hyperbola of two parameters

        Examples
        --------
        >>> curve = Curve.from_critical_rate(95.0, 300.0, top_rate=None)
        >>> float(curve.tempo_bpm(60.0)), curve.sustainable_bpm
        (100.0, 95.0)
        >>> round(float(curve.time_s(105.0)), 6)
        30.0
        """
        top_s = 0.0 if top_rate is None else reserve / (top_rate - rate)
        steepness = reserve / (_MINUTE_S + top_s)
        law: Law = "hyperbolic" if top_rate is None else "top rate"
        return cls(law, rate + steepness, steepness, top_s)

    def tempo_bpm(self, time_s: float | FloatArray) -> FloatArray:
        """Tempo held for a time (seconds, > 0) with even chance."""
        shape = shape_of_time(self.law, np.asarray(time_s, dtype=float), top_s=self.top_s)
        return np.asarray(self.minute_bpm + self.steepness_bpm * shape)

    def time_s(self, tempo_bpm: float | FloatArray) -> FloatArray:
        """Time for which a tempo is held with even chance, seconds; inf where for ever."""
        excess = (np.asarray(tempo_bpm, dtype=float) - self.minute_bpm) / self.steepness_bpm
        return np.exp(log_time_of_excess(self.law, excess, top_s=self.top_s))

    @property
    def sustainable_bpm(self) -> float | None:
        """Tempo held without end; None where the law has none."""
        return None if self.law == "log-linear" else self.minute_bpm - self.steepness_bpm

    @property
    def top_bpm(self) -> float | None:
        """Tempo of which nothing is held; None where the law has none."""
        if self.law != "top rate":
            return None
        return self.minute_bpm + self.steepness_bpm * _MINUTE_S / self.top_s
