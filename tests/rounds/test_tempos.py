"""Checks of the tempos that suit a hand."""

import numpy as np
import pytest

from loosehand.rounds.tempos import (
    hand_tempos,
    highest_tempo_bpm,
    placement_tempo_bpm,
    rungs,
)
from tests.rounds.plain_hands import PlainHand


@pytest.mark.parametrize("chance", [0.3, 0.5, 0.85])
def test_the_highest_tempo_of_a_chance(chance):
    """The tempo has at least the chance, the next one has less."""
    hand = PlainHand(93.4)
    tempo_bpm = highest_tempo_bpm(hand, chance=chance, time_s=60.0)
    assert hand.chance_of_holding(tempo_bpm=tempo_bpm, time_s=60.0) >= chance
    assert hand.chance_of_holding(tempo_bpm=tempo_bpm + 1, time_s=60.0) < chance


def test_tempos_stay_within_what_a_click_has():
    """A hand far out of all bounds gets 20 or 400."""
    assert highest_tempo_bpm(PlainHand(5.0), chance=0.5, time_s=60.0) == 20.0
    assert highest_tempo_bpm(PlainHand(900.0), chance=0.5, time_s=60.0) == 400.0
    assert hand_tempos(PlainHand(900.0), round_s=60.0, longest_s=90.0).over_bpm is None


@pytest.mark.parametrize("spread_bpm", [0.5, 1.5, 3.0, 6.0])
@pytest.mark.parametrize("minute_bpm", [64.0, 93.4, 171.0])
def test_the_ladder_goes_from_sure_to_even_in_fine_steps(minute_bpm, spread_bpm):
    """It starts where a minute is sure, rises by 1 to 4, and none of it is less likely than not."""
    hand = PlainHand(minute_bpm, spread_bpm=spread_bpm)
    tempos = hand_tempos(hand, round_s=60.0, longest_s=90.0)
    chances = [hand.chance_of_holding(tempo_bpm=t, time_s=60.0) for t in tempos.ladder_bpm]
    steps = np.diff(tempos.ladder_bpm)
    assert chances[0] >= 0.85
    assert min(chances) >= 0.5
    assert all(1 <= step <= 4 for step in steps)
    assert tempos.easy_bpm <= tempos.ladder_bpm[0]
    assert hand.chance_of_holding(tempo_bpm=tempos.easy_bpm, time_s=90.0) >= 0.92
    if tempos.over_bpm is not None:
        assert 0.2 <= hand.chance_of_holding(tempo_bpm=tempos.over_bpm, time_s=60.0) < 0.5


def test_few_rungs_are_the_sure_one_and_those_at_the_edge():
    """Of a ladder whose edge is known; of a longer one they are evenly chosen."""
    assert rungs([1.0, 2.0, 3.0, 4.0, 5.0], 3) == (1.0, 4.0, 5.0)
    assert rungs([1.0, 2.0, 3.0], 1) == (1.0,)
    assert rungs([1.0, 2.0], 7) == (1.0, 2.0)
    assert rungs([float(k) for k in range(9)], 3) == (0.0, 4.0, 8.0)


@pytest.mark.parametrize("edge_bpm", [52.0, 74.0, 93.0, 121.0])
def test_a_placement_closes_in_on_the_edge(edge_bpm):
    """After six rounds the edge lies between a tempo held and one lost, 10 apart at most."""
    tried = []
    for _ in range(6):
        tempo_bpm = placement_tempo_bpm(tried)
        if tempo_bpm is None:
            break
        tried.append((tempo_bpm, tempo_bpm <= edge_bpm))
    held = max(tempo for tempo, was_held in tried if was_held)
    lost = min(tempo for tempo, was_held in tried if not was_held)
    assert held <= edge_bpm < lost
    assert lost - held <= 10.0


def test_a_placement_ends_when_the_edge_is_found():
    """With six counts a minute between held and lost there is nothing to look for."""
    assert placement_tempo_bpm([(90.0, True), (96.0, False)]) is None
    assert placement_tempo_bpm([(20.0, False)]) is None
