"""Checks of technique in words."""

import pytest

from loosehand.judge.main_fault import MAIN_FAULT_KINDS
from loosehand.judge.place_faults import FAULT_KINDS
from loosehand.parts.techniques import CURES
from loosehand.studio.technique_words import is_of_older_kind, technique_sentences

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
    """Return what is said of a take."""
    return technique_sentences({"technique": technique, "places_per_count": places})


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
    assert is_of_older_kind(older)
    assert technique_sentences(older)[0].endswith("The a is 8.1 ms late. To try: Stop on it.")
    assert is_of_older_kind(older | {"technique": {}})
    now = heard(1) | {"doubtful_fault": None}
    assert not is_of_older_kind(older | {"technique": now})
    assert is_of_older_kind(older | {"technique": {"hands": {"left": now, "right": heard(1)}}})
    assert not is_of_older_kind(older | {"technique": {"hands": {"left": now, "right": now}}})
    assert not is_of_older_kind(older | {"count_held": None, "technique": {}})


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


def test_each_hand_is_said_by_itself():
    """Of an alternating take each hand has its sentence, places counted on its own grid."""
    late = {"place": 1, "kind": "late", "effect": 9.0}
    hands = {"hands": {"left": heard(1, main_fault=late), "right": heard(None)}}
    left, right = said(hands)
    assert left.startswith("Left hand: no drive of several")
    assert left.endswith("The & is 9.0 ms late.")
    assert right.startswith("Right hand: how many strokes")


def test_nothing_is_said_where_nothing_was_measured():
    """A reading without technique, or too short for it, has no sentence."""
    assert said({}) == []
    assert said(heard(1) | {"drive_length": None}) == []
