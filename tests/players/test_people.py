"""Who plays: the closed forms of the timing model and the ranges of the traits."""

import numpy as np
import pytest

from loosehand.players.people import (
    TECHNIQUES,
    correction_lag1,
    correction_variance,
    draw_hand,
    draw_player,
)

CORRECTION_MODEL = "Vorberg and Wing (1996), linear phase correction; closed form derived by us"


@pytest.mark.published(source=CORRECTION_MODEL, locator="Var(A), sT=10, sM=5", kind="analytic")
@pytest.mark.parametrize(
    ("correction", "variance"), [(0.2, 305.5556), (0.5, 166.6667), (0.8, 145.8333)]
)
def test_variance_under_phase_correction(correction, variance):
    """The variance of asynchrony is that of the closed form."""
    got = correction_variance(timer=10.0, motor=5.0, correction=correction)
    assert got == pytest.approx(variance, abs=5e-5)


@pytest.mark.published(source=CORRECTION_MODEL, locator="g(1), sT=10, sM=5", kind="analytic")
@pytest.mark.parametrize(("correction", "lag1"), [(0.2, 219.4444), (0.5, 58.3333), (0.8, 4.1667)])
def test_lag1_under_phase_correction(correction, lag1):
    """The lag-1 autocovariance of asynchrony is that of the closed form."""
    got = correction_lag1(timer=10.0, motor=5.0, correction=correction)
    assert got == pytest.approx(lag1, abs=5e-5)


@pytest.mark.published(
    source="Vorberg and Schulze (2002), stability of linear phase correction, from memory",
    locator="0 < a < 2",
    kind="from-memory",
)
def test_every_hand_corrects_stably():
    """The correction share lies inside the stable range, and in the slow half of it."""
    shares = [draw_hand(np.random.default_rng(seed)).correction for seed in range(60)]
    assert 0.0 < min(shares) < max(shares) < 1.0


@pytest.mark.published(
    source="Fujii, Hirashima, Kudo, Ohtsuki, Nakamura and Oda (2011), Music Perception 28(5)",
    locator="abstract: mean asynchronies of about 2, -10 and +10 ms",
    kind="printed",
)
def test_leads_lie_where_those_of_drummers_lie():
    """The middle half of the leads spans no more than about ten milliseconds either way."""
    leads_s = [draw_player(np.random.default_rng(seed)).right.lead_s for seed in range(300)]
    quarter, middle, three_quarters = np.percentile(leads_s, (25, 50, 75))
    assert -0.015 < quarter < middle < three_quarters < 0.012
    assert np.max(np.abs(leads_s)) <= 0.030


def test_hands_of_a_player_share_their_lead():
    """Two hands of one player do not lie so far apart that their strokes change order."""
    players = [draw_player(np.random.default_rng(seed)) for seed in range(200)]
    apart_s = [abs(player.left.lead_s - player.right.lead_s) for player in players]
    assert max(apart_s) < 0.025


def test_every_technique_is_drawn():
    """All techniques come up, and whips have the deeper taps."""
    players = [draw_player(np.random.default_rng(seed)) for seed in range(200)]
    assert {player.technique for player in players} == set(TECHNIQUES)
    taps_db = [player.accent_db for player in players if player.technique.startswith("whip")]
    assert 6.0 <= min(taps_db) <= max(taps_db) <= 13.0
