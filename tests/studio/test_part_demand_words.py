"""What a part asks in words: levels, rests, re-entries, the strokes of a drive."""

import pytest

from loosehand.parts.demand import LevelDemand, demand_of
from loosehand.parts.text import parse_part
from loosehand.studio.part_demand_words import (
    accents_by_phase,
    level_words,
    phase_names,
    phase_words,
    section_words,
    start_words,
    together_words,
    weak_meetings,
)

HEADING = "tempo: 60\nmeter: 4/4\ngrid: 4\n"
FOURS = HEADING + (
    "[verse] x2\nRH hat   Xxxx Xxxx XxXx xxxx\nLH snare .... x... .... x...\n"
    "RF kick  x... ..x. ..x. ....\n"
)


def asked(text):
    """The part and its demand."""
    part = parse_part(text)
    return part, demand_of(part)


def sections(text):
    """Words of each section."""
    part, demand = asked(text)
    return [section_words(part, section) for section in demand.sections]


def technique(demand, name):
    """Demand of a technique."""
    return next(each for each in demand.techniques if each.technique == name)


@pytest.mark.parametrize(
    ("lowest", "highest", "said"),
    [
        (1, 3, "p to mf, 8 dB"),
        (-2, 7, "softer than pp to louder than ff, 36 dB"),
        (5, 5, "ff throughout"),
    ],
)
def test_levels_are_said_by_dynamics(lowest, highest, said):
    """What lies beyond the last dynamic is said by how far."""
    assert level_words(LevelDemand(lowest, highest, 4.0 * (highest - lowest))) == said


def test_rests_are_told_the_longest_first():
    """Those of a bar that are alike together; each with its length and how often it comes."""
    (words,) = sections(HEADING + "[a] x2\nRH hat x.xx x.xx xxxx xx..\n")
    assert words.rests == (
        "0.75 s: bar 1 after 4 e",
        "0.50 s: bar 1 after 1, 2 (2 times each)",
    )
    assert (words.strokes, words.run, words.run_from) == ("24", "8 in 1.8 s", "bar 1 on 2 &")


def test_more_rests_than_fit_are_counted():
    """Three rows are told; five places of a bar are four and one more."""
    bars = " | ".join(f"{'xxxx ' * count}x.xx {'xxxx ' * (3 - count)}" for count in (0, 1, 2, 3, 0))
    (words,) = sections(HEADING + f"RH hat {bars}\n")
    assert words.rests == (
        "0.50 s: bars 1, 5 after 1",
        "0.50 s: bar 2 after 2",
        "0.50 s: bar 3 after 3",
        "and 1 more",
    )
    (words,) = sections("tempo: 60\nmeter: 6/4\ngrid: 4\nRH hat x.xx x.xx x.xx x.xx x.xx xxxx\n")
    assert words.rests == ("0.50 s: bar 1 after 1, 2, 3, 4 and 1 more",)


def test_bars_that_are_alike_are_told_together():
    """A row of bars by its ends."""
    bars = " | ".join(["x.xx x.xx xxxx xxxx"] * 5)
    (words,) = sections(HEADING + f"[a] x2\nRH hat {bars}\n")
    assert words.rests == ("0.50 s: bars 1 to 5 after 1, 2 (2 times each)",)


def test_a_single_stroke_has_no_length():
    """A run of one stroke is told without seconds."""
    (words,) = sections(HEADING + "RH crash X... .... .... ....\n")
    assert (words.run, words.rests) == ("1", ())


def test_where_a_hand_comes_back_is_told():
    """The place, the surface, what came before, how often."""
    (words,) = sections(
        HEADING + "[a] x3\nRH hat      xxxx xxxx xxxx ....\nRH high tom .... .... .... x.x.\n"
    )
    assert words.re_entries == ("bar 1 on 1: hat, after another surface (2 times)",)


def test_a_section_without_the_hand_is_empty():
    """No stroke, no run, no rest."""
    first, second = sections(HEADING + "[a]\nrest 1\n[b]\nRH hat xxxx xxxx xxxx xxxx\n")
    assert (first.strokes, first.run, first.rests, first.re_entries) == ("", "", (), ())
    assert second.run == "16 in 3.8 s"


def test_strokes_of_a_drive_have_names_of_their_own():
    """Taps are numbered where there are two."""
    _, demand = asked(FOURS)
    assert phase_names(technique(demand, "whip fours").phases) == ("down", "tap 1", "tap 2", "up")
    assert phase_names(technique(demand, "whip threes").phases) == ("down", "tap", "up")


def test_each_stroke_of_a_drive_is_told():
    """Three accents a bar come for nothing, one is fought on the second tap; it meets the kick."""
    part, demand = asked(FOURS)
    fours = technique(demand, "whip fours")
    down, _, tap, up = phase_words(part, fours.phases)
    assert (down.strokes, down.given, down.fought, down.held_back) == ("8", "6", "", "2")
    assert (tap.given, tap.fought, tap.places, tap.kick) == ("", "2", "3 & (2)", "4")
    assert down.places == "1 (2), 2 (2), 3 (2)"
    assert (down.backbeat, down.kick, up.kick) == ("", "", "")
    assert accents_by_phase(fours, is_free=True) == "down: 6"
    assert accents_by_phase(fours, is_free=False) == "tap 2: 2"
    assert weak_meetings(fours, kick=True) == "tap 2: 4"
    assert weak_meetings(fours, kick=False) == ""
    assert start_words(fours) == "Each run starts on stroke 1 of the drive, down."
    wrist = technique(demand, "wrist singles")
    assert start_words(wrist) == "Every stroke is a drive of its own."


def test_hands_and_feet_at_once_are_told_by_side():
    """Only of limbs that play."""
    _, demand = asked(FOURS)
    assert together_words(demand, same_side=True) == "right hand and right foot 6"
    assert together_words(demand, same_side=False) == "left hand and right foot 0"
    _, alone = asked(HEADING + "RH hat xxxx xxxx xxxx xxxx\n")
    assert together_words(alone, same_side=True) == ""
