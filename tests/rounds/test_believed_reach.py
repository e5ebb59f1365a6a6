"""What is believed of a hand that was never heard."""

import pytest

from loosehand.reach.seen import HandKind
from loosehand.rounds.believed_reach import believed_reach, is_heard, reach_of_nobody
from tests.rounds.tunes import a_right_hand

KIND = HandKind("right", "push-pull", "hat", "loud", 4)


def test_of_somebody_unknown_the_prior_is_believed():
    """No rounds, and a wide answer."""
    reach = believed_reach(KIND, None)
    minute = reach.tempo_held_bpm(60.0)
    assert not is_heard(reach)
    assert (reach.kind, reach.rounds) == (KIND, 0)
    assert minute.high80 - minute.low80 > 25.0
    assert reach_of_nobody() is reach_of_nobody()


def test_somebody_known_draws_the_belief_near():
    """A hand that holds 120 for a minute makes more be believed than one that holds 80."""
    high, low = (
        believed_reach(KIND, a_right_hand(edge_bpm)).tempo_held_bpm(60.0)
        for edge_bpm in (115.0, 75.0)
    )
    nobody = reach_of_nobody().tempo_held_bpm(60.0)
    assert low.median < nobody.median < high.median
    assert high.high80 - high.low80 < nobody.high80 - nobody.low80


def test_it_is_said_on_what_it_leans():
    """The note names the hand, its technique and its surface."""
    (note,) = believed_reach(KIND, a_right_hand(100.0)).notes
    assert "right hand, whip fours, pad" in note
    assert "drawn towards" in note


def test_only_rounds_are_heard():
    """A reach with rounds is heard, one without or none is not."""
    assert is_heard(a_right_hand(100.0))
    assert not is_heard(None)
    assert not is_heard(believed_reach(KIND, a_right_hand(100.0)))


def test_a_belief_has_a_chance_and_a_hold_time():
    """It can be asked like any other reach."""
    reach = believed_reach(KIND, a_right_hand(100.0))
    assert 0.0 < reach.chance_of_holding(tempo_bpm=100.0, time_s=60.0) < 1.0
    assert reach.hold_time_s(300.0).median == pytest.approx(0.0, abs=5.0)
