"""Checks of the sentences of the stand."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from loosehand.hear.sound_check import ClickPath, SoundCheck
from loosehand.web.live import file_round, said
from loosehand.web.live.said import (
    VOID_REASONS,
    check_sentences,
    level_sentence,
    void_sentence,
)

OFF = {"echoCancellation": False, "noiseSuppression": False, "autoGainControl": False}
CHECK = SoundCheck(
    np.zeros(11, dtype=np.float32),
    -70.0,
    ClickPath(0.0432, 0.00001, 0.0, -31.0, {}, 192),
    4,
    -18.4,
    None,
    0.0,
)


def test_a_good_check_is_three_plain_facts():
    """Where nothing is wrong the strokes, the room and the way of the click are said."""
    assert check_sentences(CHECK, settings=OFF) == [
        "4 strokes heard, at -18 dB.",
        "The room lies at -70 dB.",
        "The click comes back after 43.2 ms, give or take 0.01 ms, at -31 dB.",
    ]


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        (OFF | {"autoGainControl": True}, "The browser keeps gain control on"),
        (
            OFF | {"echoCancellation": True, "noiseSuppression": True},
            "The browser keeps echo cancellation, noise suppression on",
        ),
        ({}, "does not say whether echo cancellation, noise suppression, gain control is off"),
        (OFF | {"noiseSuppression": None}, "does not say whether noise suppression is off"),
    ],
)
def test_what_the_browser_does_to_the_sound_comes_first(settings, says):
    """What is on, and what is not known to be off, is said before all else."""
    sentences = check_sentences(CHECK, settings=settings)
    assert says in sentences[0]
    assert len(sentences) == 4


def test_what_is_on_and_what_is_unknown_are_two_things():
    """Unknown is not off."""
    first, second, *_ = check_sentences(CHECK, settings={"autoGainControl": True})
    assert "keeps gain control on" in first
    assert "whether echo cancellation, noise suppression is off" in second


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"clipped_share": 1 / 16}, "too loud for the microphone"),
        ({"strokes": 0, "own_level_db": None}, "No stroke was heard"),
        ({"noise_floor_db": -40.0}, "at -40 dB. That is loud: soft strokes may be missed."),
        ({"path": None}, "The click is not in the sound. With headphones"),
    ],
)
def test_a_fault_of_the_sound_is_said(changes, says):
    """What is wrong with level, room or click is said, and what to do."""
    sentences = check_sentences(replace(CHECK, **changes), settings=OFF)
    assert sum(says in sentence for sentence in sentences) == 1


@pytest.mark.parametrize(
    ("drift_ppm", "says"),
    [(80.0, ", the clocks +80 millionths apart."), (-33.3, ", the clocks -33 "), (4.9, " dB.")],
)
def test_clocks_that_run_apart_are_said(drift_ppm, says):
    """A drift that matters is said with its sign, and none that does not."""
    path = replace(CHECK.path, drift_ppm=drift_ppm)
    sentence = check_sentences(replace(CHECK, path=path), settings=OFF)[-1]
    assert says in sentence
    assert ("clocks" in sentence) is (abs(drift_ppm) > 5)


@pytest.mark.parametrize("why", VOID_REASONS)
def test_why_a_round_is_void_is_a_sentence(why):
    """Every reason is one sentence that says what comes next."""
    assert re.fullmatch(r"[A-Z][^.:]*: the round is void and comes again\.", void_sentence(why))


def test_a_reason_that_is_not_known_is_said_as_it_came():
    """Another reason is not hidden."""
    assert void_sentence("the cat") == "the cat: the round is void and comes again."


def test_reasons_that_the_page_and_the_server_give_are_known():
    """Whatever page or server call a round void for, there is a sentence for it."""
    reasons = {file_round.NOBODY_PLAYED, file_round.WENT_AWAY}
    static = Path(said.__file__).parents[1] / "static" / "js"
    script = "".join(path.read_text(encoding="utf-8") for path in sorted(static.glob("*.js")))
    given = set(re.findall(r'\blose\("([a-z ]+)"\)', script))
    assert given
    assert reasons | given <= set(VOID_REASONS)


@pytest.mark.parametrize(
    ("level_db", "says"),
    [(-30.0, "10 dB softer"), (-12.0, "8 dB louder"), (-25.9, None), (-14.1, None), (None, None)],
)
def test_a_round_that_was_not_as_loud_as_its_tag(level_db, says):
    """Strokes six decibels off those of the check are said; less than that, or few, are not."""
    sentence = level_sentence(level_db, checked_db=-20.0, loudness="loud")
    if says is None:
        assert sentence is None
    else:
        assert says in sentence
        assert sentence.endswith("is this round still loud?")


@pytest.mark.parametrize(("checked_db", "loudness"), [(None, "loud"), (-20.0, None)])
def test_without_a_tag_or_a_check_no_level_is_doubted(checked_db, loudness):
    """Where there is nothing to compare with, nothing is said."""
    assert level_sentence(-50.0, checked_db=checked_db, loudness=loudness) is None
