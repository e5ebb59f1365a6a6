"""A reading in words."""

import copy
import re

import pytest

from loosehand.judge.technique import hear_technique
from loosehand.judge.technique_json import technique_json
from loosehand.studio.terminal_reading import line_of, words_of
from tests.judge.held_scenes import hand

BODY = {
    "tempo_bpm": 104.0,
    "places_per_count": 4,
    "hand": "left",
    "first_count_s": 1.2345,
    "grid_source": "click",
    "counts_offered": 104,
    "count_held": 37,
    "last_locked_count": 37,
    "clean_counts": 37,
    "ended": "lost the click",
    "confidence": 0.97,
    "strokes": [
        {
            "time_s": 1.2361,
            "level_db": -18.2,
            "count": 1,
            "place": 0,
            "asynchrony_ms": 1.6,
            "hand": "left",
        },
        {
            "time_s": 1.5,
            "level_db": -18.2,
            "count": None,
            "place": None,
            "asynchrony_ms": None,
            "hand": "left",
        },
    ],
    "evenness": {
        "lead_ms": -7.95,
        "interval_sd_ms": 13.02,
        "places": [
            {"timing_ms": -1.0, "level_db": 2.1},
            {"timing_ms": 0.5, "level_db": -1.0},
            {"timing_ms": 0.0, "level_db": 0.4},
            {"timing_ms": 0.5, "level_db": -1.5},
        ],
    },
    "tiring": {"onset_count": None, "sign": None, "rising": None},
    "quality": {"notes": ["A sentence that is a note."], "assumed": ["One that is assumed."]},
}


def _body(**changed):
    """Return a reading with some keys changed."""
    return copy.deepcopy(BODY) | changed


def test_a_reading_is_a_paragraph_a_table_and_the_strokes():
    """All of it, to the letter."""
    assert words_of(BODY, width=80) == (
        "37 held of 104, lost the click (sure 0.97). Left hand, 104 a minute, 4 places a\n"
        "count; count 1 at 1.23 s, by the click in the recording. The hand lies 8.0 ms\n"
        "before. Intervals spread by 13.0 ms.\n"
        "  place           1      e      &      a\n"
        "  timing ms    -1.0   +0.5   +0.0   +0.5\n"
        "  level dB     +2.1   -1.0   +0.4   -1.5\n"
        "2 strokes from 1.24 to 1.50 s, 1 of them with a place.\n"
        "Note: A sentence that is a note.\n"
        "Assumed: One that is assumed."
    )


def test_a_take_that_was_not_judged_says_why():
    """No number, no guess, the reason in a note."""
    body = _body(
        count_held=None,
        last_locked_count=None,
        clean_counts=None,
        ended="not judged",
        confidence=None,
        tempo_bpm=None,
        evenness={},
        tiring={},
    )
    assert words_of(body, width=80).splitlines()[0] == "Not judged."
    assert line_of("take.m4a", body) == "take.m4a: not judged"


def test_nobody_plays_is_said():
    """A take without strokes holds nothing, and no hand is described."""
    body = _body(
        count_held=0, strokes=[], ended="stopped", evenness={}, tiring={}, first_count_s=None
    )
    assert words_of(body, width=80).startswith("Nobody plays")
    assert "strokes from" not in words_of(body, width=80)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"clean_counts": 35}, "35 of the counts held were clean."),
        ({"last_locked_count": 60}, "The click was caught again: the last good count is 60."),
        (
            {"tiring": {"onset_count": 30, "sign": "level", "rising": False}},
            "From count 30 on it gets softer than it began.",
        ),
        (
            {"tiring": {"onset_count": 30, "sign": "drift", "rising": True}},
            "From count 30 on it gets later than it began.",
        ),
        (
            {"tiring": {"onset_count": 30, "sign": "spread", "rising": True}},
            "From count 30 on it gets less even than it began.",
        ),
        ({"hand": None}, "Hand not told, 104 a minute"),
        ({"hand": "alternating"}, "Both hands, 104 a minute"),
        ({"grid_source": "told"}, "as told"),
    ],
)
def test_what_else_is_known_is_said(changed, says):
    """Each fact has its sentence."""
    assert says in " ".join(words_of(_body(**changed), width=80).split())


def test_early_or_late_is_not_said_where_it_is_relative():
    """By the strokes alone there is no lead to speak of."""
    text = " ".join(words_of(_body(grid_source="strokes"), width=80).split())
    assert "The hand lies" not in text
    assert "relative only" in text


def test_many_places_are_numbered():
    """Eight places of two hands have no names, but numbers."""
    places = [{"timing_ms": 0.0, "level_db": 0.0}] * 8
    body = _body(places_per_count=8, evenness={"places": places})
    assert "1      2      3      4      5      6      7      8" in words_of(body, width=80)


def test_how_the_drive_sounds_is_laid_out():
    """Every figure that is known in a line with its range, of each hand of an alternating take."""
    technique = technique_json(hear_technique(hand(drive=3, contrast_db=7.0)))
    lines = words_of(_body(technique=technique), width=80).splitlines()
    at = lines.index("  How the drive sounds, with the range of four chances in five:")
    assert [line[2:33].rstrip() for line in lines[at + 1 : at + 8]] == [
        "2nd stroke below the accent",
        "3rd stroke below the accent",
        "accent above the taps",
        "decay from tap to tap",
        "lateness after the accent",
        "growth of the taps",
        "growth of the gaps in a drive",
    ]
    assert re.fullmatch(r"  2nd stroke below the accent +7\.\d dB   6\.\d to 7\.\d", lines[at + 1])
    assert max(map(len, lines)) <= 80
    both = {"hands": {"left": technique, "right": technique | {"taps_db": []}}}
    text = words_of(_body(technique=both, hand="alternating"), width=80)
    assert text.count("3rd stroke below") == 1
    for whose in ("left", "right"):
        assert f"  How the drive of the {whose} hand sounds" in text


def test_a_line_for_many():
    """A name, the number, how it ended, how sure."""
    assert line_of("a.m4a", BODY) == "a.m4a: 37 held of 104, lost the click (sure 0.97)"
