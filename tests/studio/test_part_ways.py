"""A player's reaches by technique, for the hand and the surface of a part."""

from dataclasses import replace

import pytest

from loosehand.errors import NotFound
from loosehand.reach.seen import HandKind
from loosehand.rounds.believed_reach import is_heard
from loosehand.studio.filing import import_rows
from loosehand.studio.part_ways import heard_by_technique, reaches_for_part
from tests.rounds.tunes import a_right_hand
from tests.studio.reach_scenes import LAST, chart_rows, of_hand

ASKED = HandKind("right", None, "hat", "loud", 4)
NAMES = ("whip fours", "push-pull")


def a_reach_of(edge_bpm=100.0, *, rounds=50, **kind):
    """A reach of a kind with so many rounds."""
    kind = HandKind(**{**vars(ASKED), "technique": "whip fours", **kind})
    return replace(a_right_hand(edge_bpm, kind=kind), rounds=rounds)


def test_a_technique_heard_on_the_surface_is_taken():
    """Whatever the capitals of its name; the others are believed."""
    own = a_reach_of(technique="Whip Fours")
    found = heard_by_technique([own], kind=ASKED, techniques=NAMES)
    assert found["whip fours"] is own
    assert not is_heard(found["push-pull"])
    assert set(found) == set(NAMES)


def test_another_surface_or_hand_is_only_leant_on():
    """The pad is no hat, the left hand not the right one."""
    for other in (a_reach_of(surface="pad"), a_reach_of(hand="left")):
        found = heard_by_technique([other], kind=ASKED, techniques=NAMES)["whip fours"]
        assert not is_heard(found)
        assert "drawn towards" in found.notes[0]


def test_the_same_hand_is_leant_on_before_the_other():
    """Even where the other hand is nearer in kind."""
    left = a_reach_of(80.0, hand="left")
    right = a_reach_of(120.0, surface="pad", loudness="soft")
    found = heard_by_technique([left, right], kind=ASKED, techniques=NAMES)
    assert "right hand" in found["push-pull"].notes[0]


def test_the_loudness_asked_for_is_preferred():
    """Then the sixteenths, then what is known best."""
    medium = a_reach_of(loudness="medium", rounds=90)
    triplets = a_reach_of(places_per_count=3, rounds=80)
    loud = a_reach_of(rounds=10)
    every = [medium, triplets, loud]
    assert heard_by_technique(every, kind=ASKED, techniques=NAMES)["whip fours"] is loud
    assert heard_by_technique(every[:2], kind=ASKED, techniques=NAMES)["whip fours"] is triplets
    assert heard_by_technique(every[:1], kind=ASKED, techniques=NAMES)["whip fours"] is medium


def test_the_studio_is_asked_once_for_both_hands(studio, now):
    """Stored fits of the right hand on the hat, beliefs for what was not played."""
    rows = of_hand(chart_rows(hands=("right",)), "right", technique="whip fours", surface="hat")
    import_rows(studio, rows, now=now)
    kinds = (ASKED, replace(ASKED, hand="left"))
    own, other = reaches_for_part(studio, "Ines", kinds=kinds, techniques=NAMES, today=LAST)
    assert [is_heard(own[name]) for name in NAMES] == [True, False]
    assert own["whip fours"].kind.surface == "hat"
    assert not any(is_heard(other[name]) for name in NAMES)


def test_nobody_is_not_found(studio, now):
    """A player who is not there is named."""
    with pytest.raises(NotFound, match="Otto"):
        reaches_for_part(studio, "Otto", kinds=(ASKED,), techniques=NAMES, today=LAST)
