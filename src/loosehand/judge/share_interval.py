"""How sure a share is that was counted."""

from math import sqrt

__all__ = ["NORMAL_95", "wilson"]

NORMAL_95 = 1.959964
"""Errors of a normal to each side of which 19 chances in 20 lie."""


def wilson(share: float, of: int, *, errors: float = NORMAL_95) -> tuple[float, float]:
    """Wilson's interval of a share of so many; from nought to one where it is of none.

    Parameters
    ----------
    share : that was counted, 0 to 1
    of : how many it is a share of
    errors : standard errors to each side; those of 95 % if left out

    Returns
    -------
    low, high : within 0 and 1

    Source
    ------
    E. B. Wilson (1927), Probable inference, the law of succession, and statistical inference,
    Journal of the American Statistical Association 22:209-212; formula from memory.

    Examples
    --------
    >>> [round(bound, 3) for bound in wilson(0.5, 10)]
    [0.237, 0.763]
    """
    if of == 0:
        return 0.0, 1.0
    per = errors**2 / of
    middle = (share + per / 2.0) / (1.0 + per)
    half = errors * sqrt(share * (1.0 - share) / of + per / (4.0 * of)) / (1.0 + per)
    return max(0.0, middle - half), min(1.0, middle + half)
