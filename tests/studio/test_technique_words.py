"""Checks of technique in words."""

import pytest

from loosehand.studio.technique_words import technique_sentences

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
