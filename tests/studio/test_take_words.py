"""Checks of a reading in words."""

import pytest

from loosehand.studio.take_words import (
    chance_in_words,
    evenness_figures,
    hand_in_words,
    hand_place_names,
    hold_figures,
    leading_hand,
    place_names,
    recording_figures,
)
from tests.studio.take_scenes import HELD, heard_midi, heard_take


def by_label(figures):
    """Value and note of each figure."""
    return {figure.label: (figure.value, figure.note) for figure in figures}


def test_the_hold_in_words():
    """The hold says its number, how it ended and how sure it is."""
    said = by_label(hold_figures(heard_take()))
    assert said["Count held"] == (f"{HELD} of 24", "fell behind")
    assert said["Clean counts"][0] == f"{HELD} of {HELD}"
    assert "in 100" in said["How sure"][0]


def test_tiring_in_words():
    """Tiring says from which count on, and how."""
    tiring = {"onset_count": 9, "sign": "level", "rising": False}
    said = by_label(hold_figures(heard_take() | {"tiring": tiring}))
    assert said["Tiring"] == ("count 9", "From count 9 on the hand gets softer than it began.")


def test_caught_again_in_words():
    """A hand that caught the click again is said to have."""
    said = by_label(hold_figures(heard_take() | {"last_locked_count": 22}))
    assert said["Last good count"] == ("22", "the click was caught again after the break")


def test_not_judged_has_no_figures():
    """A take that was not judged says that and no more."""
    body = heard_take() | {"count_held": None, "confidence": None, "ended": "not judged"}
    assert [figure.value for figure in hold_figures(body)] == ["not judged"]


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (1.0, "very likely right (100 in 100)"),
        (0.897, "very likely right (90 in 100)"),
        (0.7, "probably right (70 in 100)"),
        (0.55, "more likely right than not (55 in 100)"),
        (0.0, "in doubt (0 in 100)"),
    ],
)
def test_chances_in_words(chance, words):
    """The wording agrees with the number beside it."""
    assert chance_in_words(chance) == words


@pytest.mark.parametrize(
    ("lead_ms", "words"),
    [(-3.21, "3.2 ms before the click"), (16.6, "16.6 ms behind the click"), (0.0, "on the click")],
)
def test_lead_in_words(lead_ms, words):
    """Early is before the click, late behind it."""
    evenness = heard_take()["evenness"] | {"lead_ms": lead_ms}
    assert by_label(evenness_figures(evenness, relative_only=False))["Lead"][0] == words


def test_lead_without_a_click():
    """Where the counts were found by the strokes alone, no lead is claimed."""
    said = by_label(evenness_figures(heard_take()["evenness"], relative_only=True))
    assert said["Lead"][0] == "cannot be told"


def test_a_figure_that_cannot_be_told_shows_its_range():
    """A figure without a number of its own shows how far it is open, and says so."""
    split = {
        "timekeeper_ms": {"told": None, "low80": 1.0, "high80": 2.5},
        "motor_ms": {"told": 4.0, "low80": 3.5, "high80": 4.5},
        "correction": {"told": None, "low80": None, "high80": None},
    }
    said = by_label(
        evenness_figures(heard_take()["evenness"] | {"split": split}, relative_only=False)
    )
    assert said["Timekeeper part"] == ("1.0 to 2.5 ms", "cannot be told more closely")
    assert said["Motor part"] == ("4.0 ms", "four chances in five: 3.5 to 4.5")
    assert "Correction to the click" not in said


@pytest.mark.parametrize("evenness", [{}, {"hands": {"left": None, "right": None, "gap": None}}])
def test_no_evenness_no_figures(evenness):
    """Where nothing was measured there is no figure."""
    assert evenness_figures(evenness, relative_only=False) == []


def test_where_the_counts_came_from():
    """The recording says where its counts were found; a MIDI file has no click to hear."""
    assert by_label(recording_figures(heard_take()))["Count 1"][1].endswith("in the recording")
    said = by_label(recording_figures(heard_midi()[1]))
    assert said["Count 1"][1] == "by the counts of the MIDI file"
    assert "Click" not in said


def test_nothing_known_of_the_recording():
    """A reading without a grid or levels gives no figures of the recording."""
    body = {"grid_source": None, "first_count_s": None, "quality": {"notes": [], "assumed": []}}
    assert recording_figures(body) == []


def test_names():
    """Places are named as players say them, or by number; hands in words."""
    assert place_names(4) == ("1", "e", "&", "a")
    assert place_names(5) == ("1", "2", "3", "4", "5")


@pytest.mark.parametrize(
    ("hand", "place", "leads"),
    [("right", 2, "right"), ("right", 3, "left"), ("left", 0, "left"), ("left", 7, "right")],
)
def test_the_hand_that_leads_has_the_even_places(hand, place, leads):
    """The first stroke with a hand and a place tells it; each hand has every second place."""
    strokes = [{"hand": None, "place": 0}, {"hand": "left", "place": None}]
    strokes.append({"hand": hand, "place": place})
    body = {"hand": "alternating", "places_per_count": 4, "strokes": strokes}
    other = "left" if leads == "right" else "right"
    assert leading_hand(body) == leads
    assert hand_place_names(body, leads) == ("1", "&")
    assert hand_place_names(body, other) == ("e", "a")


def test_who_leads_is_not_told_of_one_hand_or_nameless_strokes():
    """Nothing is guessed: the places are then numbered on the hand's own grid."""
    body = {"hand": "alternating", "places_per_count": 8, "strokes": [{"hand": None, "place": 0}]}
    assert leading_hand(body) is None
    assert hand_place_names(body, "left") == ("1", "2", "3", "4")
    assert leading_hand(body | {"hand": "left", "strokes": [{"hand": "left", "place": 0}]}) is None
    assert hand_in_words("right") == "right hand"
