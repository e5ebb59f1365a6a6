"""Hands told by their alternation."""

import numpy as np
import pytest

from loosehand.judge.hands import (
    BOTH,
    BOUNCE,
    Alternation,
    alternate,
    lean_of_sound,
    name_hands,
)

PLACE_S = 0.12
FIRST_S = 1.0
PLACE = np.arange(96)


def told(place, lean=None):
    """Tell the hands of strokes given in places."""
    return alternate(
        FIRST_S + PLACE_S * np.asarray(place), place_s=PLACE_S, first_place_s=FIRST_S, lean=lean
    )


def test_even_strokes_alternate():
    """Strokes on every place change hands each time, with full certainty."""
    alternation = told(PLACE)
    assert np.array_equal(alternation.hand, PLACE % 2)
    assert alternation.certainty == pytest.approx(1.0)


def test_a_missed_stroke_keeps_the_hand():
    """After a place is left out, the same hand plays again and all keep their own."""
    place = np.delete(PLACE, [30, 61])
    assert np.array_equal(told(place).hand, place % 2)


def test_a_bounce_is_nobodys_stroke():
    """A stroke a tenth of a place after another is a bounce and moves no other."""
    place = np.insert(PLACE.astype(float), 21, 20.1)
    hand = told(place).hand
    assert hand[21] == BOUNCE
    assert np.array_equal(np.delete(hand, 21), PLACE % 2)


def test_of_two_strokes_at_a_place_the_nearer_counts():
    """A stroke just before the true one is the bounce, not the one on the place."""
    place = np.insert(PLACE.astype(float), 20, 19.75)
    hand = told(place).hand
    assert hand[20] == BOUNCE
    assert np.array_equal(np.delete(hand, 20), PLACE % 2)


def test_strokes_before_the_start_are_nobodys():
    """What sounds more than half a place before place 0 belongs to no hand."""
    hand = told([-3.0, -1.0, *PLACE]).hand
    assert hand[:2].tolist() == [BOUNCE, BOUNCE]
    assert np.array_equal(hand[2:], PLACE % 2)


@pytest.mark.parametrize("slower", [-0.15, -0.1, 0.05, 0.1, 0.15])
def test_hands_that_leave_the_click_still_alternate(slower):
    """Hands that slow down or run slide past whole places and are still told."""
    place = PLACE + slower * np.maximum(PLACE - 30, 0)
    assert np.array_equal(told(place).hand, PLACE % 2)


def test_hands_with_leads_of_their_own():
    """One hand always 0.3 of a place late, the other on it: both are told."""
    assert np.array_equal(told(PLACE + 0.3 * (PLACE % 2)).hand, PLACE % 2)


def test_a_late_hand_that_falls_silent():
    """A hand half a place late that falls silent for 25 strokes comes back as itself."""
    place = np.delete(PLACE, np.arange(31, 80, 2))
    assert np.array_equal(told(place + 0.5 * (place % 2)).hand, place % 2)


@pytest.mark.parametrize("seed", range(10))
def test_hands_with_the_noise_of_people(seed):
    """Spread of 0.08 of a place and three missed strokes: all hands told."""
    rng = np.random.default_rng(seed)
    kept = np.sort(rng.choice(PLACE[4:], PLACE.size - 7, replace=False))
    kept = np.concatenate([PLACE[:4], kept])
    assert np.array_equal(told(kept + rng.normal(0.0, 0.08, kept.size)).hand, kept % 2)


@pytest.mark.parametrize(("leads", "other"), [("right", "left"), ("left", "right")])
def test_names_follow_the_hand_that_leads(leads, other):
    """Hand 0 has the name of the hand that leads; a bounce has none."""
    alternation = Alternation(np.array([0, 1, BOUNCE, 0, BOTH]), np.ones(5))
    assert name_hands(alternation, leads_with=leads, held_strokes=5) == (
        (leads, other, None, leads, None),
        None,
    )


def test_hands_that_fall_together():
    """One hand slides until each of its strokes sounds with the other's: both are followed."""
    late = np.interp(PLACE, [40, 88], [0.0, 0.95], left=0.0)
    place = PLACE + late * (PLACE % 2 == 0)
    apart = np.diff(place, append=np.inf) > 0.15
    alternation = told(place[apart])
    together = np.diff(place, prepend=-9.0)[apart] <= 0.15
    assert np.mean((alternation.hand == BOTH)[together]) > 0.75
    assert not np.any((alternation.hand == BOTH)[~together])
    for hand in (0, 1):
        assert abs(alternation.of(hand).size - 48) <= 1


def test_hands_that_cannot_be_told():
    """Where many strokes lie midway between the hands, none is named and a note says so."""
    certainty = np.ones(50)
    certainty[:4] = 0.1
    hands = Alternation(PLACE[:50] % 2, certainty)
    names, note = name_hands(hands, leads_with="right", held_strokes=50)
    assert set(names) == {None}
    assert note is not None
    assert "cannot be told" in note


def test_a_few_doubtful_gaps_are_borne():
    """Three doubtful gaps in fifty leave the hands told."""
    certainty = np.ones(50)
    certainty[:3] = 0.1
    hands = Alternation(PLACE[:50] % 2, certainty)
    names, note = name_hands(hands, leads_with="right", held_strokes=50)
    assert names[:2] == ("right", "left")
    assert note is None


def test_after_the_break_names_end_where_doubt_crowds():
    """Once a hand has lost the click, three doubtful strokes in ten end the naming."""
    certainty = np.ones(50)
    certainty[[34, 38, 41, 44]] = 0.1
    hands = Alternation(PLACE[:50] % 2, certainty)
    names, note = name_hands(hands, leads_with="right", held_strokes=30)
    assert note is None
    assert names[:34] == ("right", "left") * 17
    assert set(names[34:]) == {None}


def test_after_the_break_lone_doubts_are_borne():
    """Doubtful strokes far apart end nothing."""
    certainty = np.ones(50)
    certainty[[31, 36, 42, 49]] = 0.1
    hands = Alternation(PLACE[:50] % 2, certainty)
    names, _ = name_hands(hands, leads_with="right", held_strokes=30)
    assert names == ("right", "left") * 25


def sound_of_hands(hand, *, apart_db, seed):
    """Level and two bands of each stroke: the hands so many decibels apart, 2 dB of spread."""
    rng = np.random.default_rng(seed)
    sound = rng.normal(0.0, 2.0, (hand.size, 3))
    sound[:, 0] += apart_db * hand
    return sound


def test_hands_that_change_places_are_told_by_their_sound():
    """Both hands stumble by one place and change sides of the count: their sound gives it away."""
    place, hand = PLACE + (PLACE >= 48), PLACE % 2
    by_time = told(place)
    sound = sound_of_hands(hand, apart_db=8.0, seed=3)
    lean = lean_of_sound(by_time, sound_db=sound, held_strokes=40)
    assert np.mean(by_time.hand[60:] != hand[60:]) > 0.9
    assert np.mean(told(place, lean).hand[60:] == hand[60:]) > 0.9


def test_hands_that_sound_alike_lean_nowhere():
    """Where only chance tells the hands apart, the lean is next to nothing."""
    alternation = told(PLACE)
    sound = sound_of_hands(PLACE % 2, apart_db=0.0, seed=5)
    lean = lean_of_sound(alternation, sound_db=sound, held_strokes=96)
    assert float(np.abs(lean).max()) < 0.35


def test_too_few_strokes_teach_no_sound():
    """A hand with seven strokes before the break teaches nothing."""
    sound = sound_of_hands(PLACE % 2, apart_db=9.0, seed=7)
    assert lean_of_sound(told(PLACE), sound_db=sound, held_strokes=15) is None


def test_no_strokes_no_hands():
    """Without strokes there is nothing to name, and the note says so."""
    names, note = name_hands(told([]), leads_with="right", held_strokes=0)
    assert names == ()
    assert note is not None
