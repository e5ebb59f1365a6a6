"""Rounds as the model sees them."""

import pytest

from loosehand.reach.seen import HandKind, hand_rate_factor
from tests.reach.ladder_hands import a_round


@pytest.mark.parametrize(
    ("tempo_bpm", "round_s", "counts"),
    [(95.0, 60.0, 95), (100.0, 30.0, 50), (92.5, 60.0, 92), (140.0, 16 * 60 / 140, 16)],
)
def test_counts_of_a_round_are_whole(tempo_bpm, round_s, counts):
    """A round has the whole counts that fit into it, and rounding does not lose the last one."""
    assert a_round(tempo_bpm=tempo_bpm, round_s=round_s).counts == counts


@pytest.mark.parametrize(
    ("hand", "places", "factor"),
    [
        ("left", 4, 1.0),
        ("right", 4, 1.0),
        ("right", 3, 0.75),
        ("left", 6, 1.5),
        ("alternating", 4, 0.5),
        ("alternating", 8, 1.0),
        ("alternating", 3, 0.375),
    ],
)
def test_tempos_are_told_in_sixteenths_of_one_hand(hand, places, factor):
    """Strokes a count in one hand, over four, is the factor of the tempo."""
    assert hand_rate_factor(HandKind(hand, None, "pad", None, places)) == factor
