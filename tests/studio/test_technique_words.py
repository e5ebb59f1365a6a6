"""Checks of technique in words."""

import numpy as np
import pytest

from loosehand.judge.main_fault import MAIN_FAULT_KINDS
from loosehand.judge.place_faults import FAULT_KINDS
from loosehand.judge.technique import hear_technique
from loosehand.judge.technique_json import technique_json
from loosehand.parts.techniques import CURES
from loosehand.studio.technique_words import (
    DriveSound,
    drive_sounds,
    is_of_older_kind,
    technique_sentences,
)
from tests.judge.held_scenes import hand
from tests.judge.test_read_take import COUNTS, heard_of, reading_of

NONE = {"told": None, "low80": None, "high80": None}
EVEN = {"level_db": 0.1, "timing_ms": 0.4, "level_uneven": False, "timing_uneven": False}


def heard(strokes, *, main_fault=None, push_pull=EVEN, contrast_db=None, with_the_count=False):
    """Technique of one hand as JSON."""
    drive = {"strokes": strokes, "confidence": 0.964, "with_the_count": with_the_count}
    return {
        "drive_length": drive,
        "contrast_db": NONE | {"told": contrast_db},
        "push_pull": push_pull,
        "faults": [] if main_fault is None else [main_fault],
        "main_fault": main_fault,
    }


def said(technique, places=4):
    """Return what is said of a take of one hand."""
    return technique_sentences(
        {"technique": technique, "places_per_count": places, "hand": "left", "strokes": []}
    )


def said_of_hands(left, right, *, places=4, leads="right"):
    """Return what is said of an alternating take."""
    strokes = [{"place": None, "hand": "left"}, {"place": 2, "hand": leads}]
    return technique_sentences(
        {
            "technique": {"hands": {"left": left, "right": right}},
            "places_per_count": places,
            "hand": "alternating",
            "strokes": strokes if leads else [],
        }
    )


def test_a_drive_says_its_length_chance_and_contrast():
    """A drive of four is said with its chance, contrast, and what would sound the same."""
    (sentence,) = said(heard(4, contrast_db=5.61, with_the_count=True))
    assert sentence == (
        "An accent comes on every fourth stroke (96 in 100), 5.6 dB above the others; "
        "an accented count would sound the same."
    )


@pytest.mark.parametrize(
    ("strokes", "begins"),
    [
        (1, "No drive of several strokes is heard"),
        (None, "How many strokes come on a drive cannot"),
    ],
)
def test_no_drive_and_cannot_tell(strokes, begins):
    """Single strokes and an open question are said as what they are."""
    assert said(heard(strokes))[0].startswith(begins)


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ({"place": 3, "kind": "late", "effect": 8.12}, "The a is 8.1 ms late."),
        ({"place": 1, "kind": "soft", "effect": 2.3}, "The e is 2.3 dB soft."),
    ],
)
def test_the_main_fault_is_said(fault, words):
    """The main fault names its place as players do, with its unit."""
    assert said(heard(1, main_fault=fault))[0].endswith(words)


def test_the_cure_follows_its_fault():
    """Where there is something to try it is said after the fault."""
    fault = {"place": 0, "kind": "loud", "effect": 2.0, "cure": "Play softer."}
    assert said(heard(1, main_fault=fault))[0].endswith("2.0 dB loud. To try: Play softer.")


@pytest.mark.parametrize(
    ("kind", "unit", "words"),
    [
        ("push and pull uneven", "ms", "every second stroke differs by 8.1 ms."),
        ("taps swell", "dB", "The taps grow by 8.1 dB against their accent during the take."),
        ("taps fade", "dB", "The taps fade by 8.1 dB against their accent during the take."),
        ("taps crushed", "ms", "move together during the take, the last by 8.1 ms."),
        ("taps spread", "ms", "move apart during the take, the last by 8.1 ms."),
        ("decay too steep", "dB", "falls by 8.1 dB more than is common."),
        ("accents weak", "dB", "they lie 8.1 dB below what is common."),
    ],
)
def test_a_fault_of_no_single_place_is_said(kind, unit, words):
    """What is off over the take or the drive is said with its size, and what to try."""
    fault = {"place": None, "kind": kind, "effect": 8.12, "unit": unit}
    assert said(heard(4, main_fault=fault))[0].endswith(words)
    cured = fault | {"cure": CURES[kind]}
    assert said(heard(4, main_fault=cured))[0].endswith(f"{words} To try: {CURES[kind]}")


def test_every_kind_of_main_fault_has_words():
    """No kind that the judge may name is without words."""
    for kind in MAIN_FAULT_KINDS:
        place = 1 if kind in FAULT_KINDS else None
        fault = {"place": place, "kind": kind, "effect": 3.0, "unit": "dB"}
        assert "3.0 dB" in said(heard(4, main_fault=fault))[0]


def test_a_doubtful_fault_is_said_with_its_range():
    """What cannot be told is said as such, with the range in which it lies."""
    doubt = {"place": None, "kind": "taps swell", "effect": 2.1, "unit": "dB"}
    doubt |= {"low": 0.9, "high": 3.34}
    (sentence,) = said(heard(4) | {"doubtful_fault": doubt})
    assert sentence.endswith(
        "The main fault cannot be told: perhaps the taps grow by 2.1 dB against their accent "
        "during the take (0.9 to 3.3 dB)."
    )


def test_the_accent_of_twos_is_not_said_again_as_unevenness():
    """Of a drive of two, the softer second stroke is its accent; a late one is still said."""
    uneven = {"level_db": -5.6, "timing_ms": 7.2, "level_uneven": True, "timing_uneven": True}
    (sentence,) = said(heard(2, push_pull=uneven, contrast_db=5.6))
    assert sentence.endswith("Every second stroke differs by 7.2 ms.")


def test_an_uneven_pair_is_said_once():
    """Where push and pull are the main fault in timing, only their level is said beside it."""
    uneven = {"level_db": -1.2, "timing_ms": 7.2, "level_uneven": True, "timing_uneven": True}
    main = {"place": None, "kind": "push and pull uneven", "effect": 7.2, "unit": "ms"}
    (sentence,) = said(heard(1, push_pull=uneven, main_fault=main))
    assert sentence.count("7.2 ms") == 1
    assert "Every second stroke differs by 1.2 dB." in sentence


def test_readings_of_older_versions_are_known_and_still_said():
    """A reading without the newer keys is of the older kind, and its fault is said as before."""
    late = {"place": 3, "kind": "late", "effect": 8.12, "cure": "Stop on it."}
    older = {"count_held": 40, "places_per_count": 4, "technique": heard(1, main_fault=late)}
    older |= {"hand": "left", "evenness": {}}
    assert is_of_older_kind(older)
    assert technique_sentences(older)[0].endswith("The a is 8.1 ms late. To try: Stop on it.")
    assert is_of_older_kind(older | {"technique": {}})
    now = heard(1) | {"doubtful_fault": None}
    assert not is_of_older_kind(older | {"technique": now})
    assert is_of_older_kind(older | {"technique": {"hands": {"left": now, "right": heard(1)}}})
    assert not is_of_older_kind(older | {"technique": {"hands": {"left": now, "right": now}}})
    assert not is_of_older_kind(older | {"count_held": None, "technique": {}})


def test_hands_that_cannot_be_told_have_no_technique_by_any_version():
    """What this version reads of an alternating take is never of an older kind."""
    stroke = np.arange(4 * COUNTS)
    noise_s = np.random.default_rng(0).normal(0.0, 0.006, stroke.size)
    sways_s = np.where(stroke % 2 == 1, np.where(stroke // 2 % 4 < 2, 0.05, -0.05), 0.0)
    swaying = heard_of(np.sort(2.0 + 0.15 * stroke + noise_s + sways_s))
    body = reading_of(swaying, hand="alternating").to_json()
    assert (body["count_held"], body["technique"]) == (COUNTS, {})
    assert not is_of_older_kind(body)
    told = reading_of(heard_of(2.0 + 0.15 * stroke + noise_s), hand="alternating").to_json()
    assert not is_of_older_kind(told)
    assert is_of_older_kind(told | {"technique": {}})
    assert is_of_older_kind(body | {"hand": "right"})


def test_push_and_pull_are_said_where_they_differ():
    """A difference of odd and even strokes is said, but not of a drive of four that makes it so."""
    uneven = {"level_db": -1.8, "timing_ms": 7.2, "level_uneven": True, "timing_uneven": True}
    assert (
        "Every second stroke differs by 1.8 dB and 7.2 ms." in said(heard(1, push_pull=uneven))[0]
    )
    assert "Every second" not in said(heard(4, push_pull=uneven))[0]


def test_one_place_off_is_not_said_twice():
    """Where one late place makes odd strokes late, only the place is said; the level still is."""
    uneven = {"level_db": -1.8, "timing_ms": 4.2, "level_uneven": True, "timing_uneven": True}
    late = {"place": 3, "kind": "late", "effect": 8.4}
    (sentence,) = said(heard(1, push_pull=uneven, main_fault=late))
    assert "Every second stroke differs by 1.8 dB." in sentence
    assert sentence.endswith("The a is 8.4 ms late.")


def test_no_chance_is_said_to_be_certain():
    """A confidence that rounds to one is said as 99 in 100."""
    sure = heard(3)
    sure["drive_length"]["confidence"] = 0.9999
    assert "(99 in 100)" in said(sure)[0]


LATE = {"place": 1, "kind": "late", "effect": 9.0}


def test_each_hand_is_said_by_itself():
    """Of an alternating take each hand has its sentence."""
    left, right = said_of_hands(heard(1, main_fault=LATE), heard(None))
    assert left.startswith("Left hand: no drive of several")
    assert left.endswith("The a is 9.0 ms late.")
    assert right.startswith("Right hand: how many strokes")


@pytest.mark.parametrize(
    ("places", "leads", "of_left", "of_right"),
    [
        (4, "right", "The a", "The &"),
        (4, "left", "The &", "The a"),
        (8, "right", "Place 4", "Place 3"),
        (8, "left", "Place 3", "Place 4"),
        (4, None, "Place 2", "Place 2"),
    ],
)
def test_the_places_of_a_hand_are_those_of_the_count(places, leads, of_left, of_right):
    """Own place p is place 2p of the count for the hand that leads, 2p + 1 for the other."""
    both = heard(1, main_fault=LATE)
    found = said_of_hands(both, both, places=places, leads=leads)
    for sentence, place in zip(found, (of_left, of_right), strict=True):
        assert sentence.endswith(f" {place} is 9.0 ms late.")


@pytest.mark.parametrize(("place", "whose", "name"), [(1, "Left", "e"), (2, "Right", "&")])
def test_a_late_place_of_a_hand_is_said_as_it_was_planted(place, whose, name):
    """Every stroke of one place of the count made late is named by that place, heard anew."""
    stroke = np.arange(4 * COUNTS)
    noise_s = np.random.default_rng(3).normal(0.0, 0.004, stroke.size)
    late_s = np.where(stroke % 4 == place, 0.025, 0.0)
    body = reading_of(heard_of(2.0 + 0.15 * stroke + noise_s + late_s), hand="alternating")
    (found,) = [each for each in technique_sentences(body.to_json()) if " late." in each]
    assert found.startswith(f"{whose} hand: ")
    assert f"The {name} is " in found


def drive_of(strokes):
    """Technique of one hand with a drive, its figures as they stand in a reading."""
    body = technique_json(hear_technique(hand(drive=strokes, contrast_db=7.0, decay_db=1.2)))
    assert body["drive_length"]["strokes"] == strokes
    return body


def test_how_the_drive_sounds_is_told_figure_by_figure():
    """Each further stroke below the accent, decay, lateness and both trends, with their ranges."""
    (sound,) = drive_sounds({"technique": drive_of(4)})
    assert sound.hand is None
    assert [name for name, _, _ in sound.rows] == [
        "2nd stroke below the accent",
        "3rd stroke below the accent",
        "4th stroke below the accent",
        "accent above the taps",
        "decay from tap to tap",
        "lateness after the accent",
        "growth of the taps",
        "growth of the gaps in a drive",
    ]
    told = [float(value.removesuffix(" dB")) for _, value, _ in sound.rows[:3]]
    assert told == pytest.approx([7.0, 8.2, 9.4], abs=0.5)
    for _, value, span in sound.rows:
        low, high = (float(end.replace("\N{MINUS SIGN}", "-")) for end in span.split(" to "))
        assert low <= float(value.split()[0].replace("\N{MINUS SIGN}", "-")) <= high


def test_of_a_drive_of_two_the_contrast_stands_once():
    """Its one tap lies below the accent by the contrast, and there is no decay."""
    (sound,) = drive_sounds({"technique": drive_of(2)})
    names = [name for name, _, _ in sound.rows]
    assert names[0] == "accent above the taps"
    assert not [name for name in names if "stroke below" in name or "decay" in name]


def test_each_hand_has_its_drive_and_what_is_not_known_has_none():
    """Single strokes, readings without technique, and older ones have what they know."""
    both = {"hands": {"left": drive_of(3), "right": drive_of(1)}}
    (left,) = drive_sounds({"technique": both})
    assert (left.hand, len(left.rows)) == ("left", 7)
    assert drive_sounds({"technique": {}}) == []
    figure = {"told": 5.0, "low80": None, "high80": None}
    older = drive_sounds({"technique": {"contrast_db": figure}})
    assert older == [DriveSound(None, (("accent above the taps", "5.0 dB", ""),))]


def test_nothing_is_said_where_nothing_was_measured():
    """A reading without technique, or too short for it, has no sentence."""
    assert said({}) == []
    assert said(heard(1) | {"drive_length": None}) == []
