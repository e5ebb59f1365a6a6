"""The reserve: how it runs down above the sustainable rate, and comes back under it.

Source
------
Skiba, Chidnok, Vanhatalo and Jones (2012), Modeling the expenditure and reconstitution of work
capacity above critical power, Medicine and Science in Sports and Exercise 44:1526-1532; the
differential form of Froncioni, Skiba and Clarke, solved for a constant rate. Whether a drummer's
hands follow it is not known: the time in which the reserve comes back is a stated prior here.
"""

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["RECOVERY_S", "RECOVERY_SHARES", "recovered", "reserve_after"]

FloatArray = NDArray[np.float64]
RECOVERY_S = (30.0, 11.0, 85.0)
"""Time constants of recovery at rest, in seconds, the usual one first: a prior of ours, not a
finding."""
RECOVERY_SHARES = (0.5, 0.25, 0.25)
"""What each of them is given beforehand."""


def reserve_after(
    reserve: float, *, rate: float, critical_rate: float, capacity: float, duration_s: float
) -> float:
    """Reserve that is left after some time at a constant rate.

    Parameters
    ----------
    reserve : at the beginning, in units of the rate times seconds
    rate : kept up for the whole time
    critical_rate : above it the reserve runs down, under it the reserve comes back
    capacity : the full reserve
    duration_s : how long, seconds

    Returns
    -------
    left : in the unit of ``reserve``; below 0 where more was asked than there was

    Examples
    --------
    >>> reserve_after(20e3, rate=350, critical_rate=250, capacity=20e3, duration_s=60)
    14000.0
    """
    spare = critical_rate - rate
    if spare <= 0.0:
        return float(reserve + spare * duration_s)
    return float(capacity - (capacity - reserve) * math.exp(-spare * duration_s / capacity))


def recovered(share: FloatArray, *, rest_s: FloatArray, recovery_s: float) -> FloatArray:
    """Share of the reserve that is there after a rest.

    Parameters
    ----------
    share : float array, in [0, 1], before it
    rest_s : float array of the same shape, seconds
    recovery_s : time constant of recovery at rest; ``reserve_after`` at rate 0 with
        ``capacity / critical_rate`` of this size
    """
    return np.asarray(1.0 - (1.0 - share) * np.exp(-rest_s / recovery_s))
