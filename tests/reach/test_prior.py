"""What is believed beforehand."""

import math
from dataclasses import replace

import pytest

from loosehand.reach.laws import LAWS, Curve
from loosehand.reach.prior import LAPSE_SHARE, NOBODY_KNOWN, log_steepness


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("drop_bpm", [3.0, 7.0, 12.0])
def test_every_law_is_given_the_same_drop(law, drop_bpm):
    """The steepness of a law makes its curve fall by the prior's drop from 10 s to a minute."""
    prior = replace(NOBODY_KNOWN, log_drop=math.log(drop_bpm))
    top_s = math.exp(prior.log_top_s) if law == "top rate" else 0.0
    curve = Curve(law, prior.minute_bpm, math.exp(log_steepness(law, prior)), top_s)
    drop = float(curve.tempo_bpm(10.0)) - float(curve.tempo_bpm(60.0))
    assert drop == pytest.approx(drop_bpm)


def test_every_spread_is_one():
    """Every spread of the prior is over nought, and slips are a small share of rounds."""
    spreads = [value for name, value in vars(NOBODY_KNOWN).items() if "_sd" in name]
    assert len(spreads) == 8
    assert all(spread > 0.0 for spread in spreads)
    assert 0.0 < LAPSE_SHARE < 0.1
