"""Checks of the interval of a share."""

import pytest

from loosehand.judge.share_interval import NORMAL_95, wilson


def test_the_interval_of_a_share_is_wilsons():
    """Nine of ten gives 59.6 to 98.2 %, none of ten 0 to 27.8 %, and nothing tells nothing."""
    assert wilson(0.9, 10) == pytest.approx((0.5958, 0.9821), abs=1e-4)
    assert wilson(0.0, 10) == pytest.approx((0.0, 0.2775), abs=1e-4)
    assert wilson(0.5, 0) == (0.0, 1.0)


@pytest.mark.parametrize("errors", [1.2816, NORMAL_95, 3.0])
@pytest.mark.parametrize(("share", "of"), [(0.1, 30), (0.9, 10), (0.5, 200)])
def test_each_bound_lies_so_many_of_its_own_errors_off(share, of, errors):
    """Wilson's bounds are the shares from which what was counted is just that far away."""
    for bound in wilson(share, of, errors=errors):
        away = abs(share - bound) / (bound * (1.0 - bound) / of) ** 0.5
        assert away == pytest.approx(errors)
