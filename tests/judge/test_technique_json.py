"""Checks of technique as JSON."""

import json
from dataclasses import replace

import pytest

from loosehand.judge.main_fault import MAIN_FAULT_KINDS, MainFault
from loosehand.judge.technique import HandsTechnique, hear_technique
from loosehand.judge.technique_json import figure_json, rounded, technique_json
from loosehand.judge.variability import UNKNOWN, Figure
from loosehand.parts.techniques import CURES
from tests.judge.held_scenes import hand, shifted


def test_numbers_are_rounded_and_finite():
    """A number is rounded, a negative nought is none, what is not finite is None."""
    assert rounded(1.23456, 2) == 1.23
    assert str(rounded(-0.0001, 2)) == "0.0"
    assert [rounded(number, 2) for number in (None, float("inf"), float("nan"))] == [None] * 3


def test_a_figure_keeps_its_range():
    """A figure prints told, low and high, all null where unknown."""
    assert figure_json(Figure(1.0, 0.5, 1.5), 1) == {"told": 1.0, "low80": 0.5, "high80": 1.5}
    assert set(figure_json(UNKNOWN, 1).values()) == {None}


def test_one_hand_prints_all_its_keys():
    """Drive, figures, faults and main fault of one hand print, the fault the same in both."""
    body = technique_json(hear_technique(shifted(hand(drive=4, spread_ms=5.0), 3, late_ms=10.0)))
    assert body["drive_length"]["strokes"] == 4
    assert body["drive_length"]["chances"]["4"] == body["drive_length"]["confidence"]
    main = dict(body["main_fault"])
    assert (main.pop("cure"), main.pop("unit")) == (CURES["late"], "ms")
    assert main in body["faults"]
    assert body["doubtful_fault"] is None
    assert body["main_fault"]["kind"] == "late"
    assert len(body["taps_db"]) == 3
    assert set(body["taps_db"][0]) == {"told", "low80", "high80"}
    json.dumps(body, allow_nan=False)


def test_a_doubtful_fault_prints_without_a_cure():
    """What may be the main fault prints with its range and kind, no place, and nothing to try."""
    doubt = MainFault("taps swell", None, 2.1234, "dB", 0.951, 3.296)
    heard = replace(hear_technique(hand()), main_fault=None, doubtful_fault=doubt)
    body = technique_json(heard)
    assert body["main_fault"] is None
    assert body["doubtful_fault"] == {
        "place": None,
        "kind": "taps swell",
        "effect": 2.12,
        "unit": "dB",
        "low": 0.95,
        "high": 3.3,
        "heard": True,
    }


def test_two_hands_print_apart():
    """Of an alternating take there are only hands."""
    body = technique_json(
        HandsTechnique(hear_technique(hand()), hear_technique(hand(drive=2, strokes=200)))
    )
    assert set(body) == {"hands"}
    strokes = [body["hands"][side]["drive_length"]["strokes"] for side in ("left", "right")]
    assert strokes == [1, 2]


@pytest.mark.parametrize("kind", MAIN_FAULT_KINDS)
def test_every_kind_of_fault_has_a_cure(kind):
    """The data of techniques says what to try for every kind of fault."""
    assert CURES[kind]


@pytest.mark.parametrize("strokes", [0, 10, 35])
def test_a_short_hold_prints_nulls_and_a_note(strokes):
    """Too few strokes print as nulls with a sentence."""
    body = technique_json(hear_technique(hand(strokes=strokes)))
    assert (body["drive_length"], body["push_pull"], body["main_fault"]) == (None, None, None)
    assert body["contrast_db"]["told"] is None
    assert body["taps_db"] == []
    assert len(body["notes"]) == 1
