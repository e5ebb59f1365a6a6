"""Checks of when a take is refused, and with what words."""

import re
from dataclasses import replace

import numpy as np
import pytest

from loosehand.hear.heard import CountGrid, Strokes
from loosehand.hear.refusal import Impression, clipped_share, reason_not_to_judge
from loosehand.hear.tempo import StrokeRate


def strokes(confidence=0.95, count=100):
    """Strokes of one confidence."""
    return Strokes(
        2.0 + 0.15 * np.arange(count),
        np.full(count, -20.0),
        np.full(count, confidence),
        np.zeros((count, 3)),
    )


FINE = Impression(
    strokes=strokes(),
    grid=CountGrid(2.0, 0.6, 25, 4, "click", 0.9),
    plays=True,
    click_heard=True,
    click_share=0.1,
    clipped_share=0.0,
    high_share=0.0,
    range_db=30.0,
    quiet_db=-70.0,
    duration_s=20.0,
    rate=StrokeRate(0.15, 100, 0.05, 1.0),
    early_rate=StrokeRate(0.15, 24, 0.05, 1.0),
    tempo_told_bpm=100.0,
    places_per_count=4,
)
OTHER_TEMPO = replace(FINE, click_heard=False, tempo_told_bpm=112.0)
NOT_EARLY = replace(OTHER_TEMPO, early_rate=None)
GUESSED = replace(
    FINE,
    strokes=strokes(count=4),
    grid=CountGrid(1.0, 0.6, 3, 4, "strokes", 0.3),
    duration_s=2.9,
)


def test_a_fine_take_is_judged():
    """Nothing wrong, nothing said."""
    assert reason_not_to_judge(FINE) is None


@pytest.mark.parametrize(
    ("heard", "words"),
    [
        (replace(FINE, clipped_share=0.4), "is clipped [(]40 % of it"),
        (replace(FINE, duration_s=3.0), "cut off: less than two counts"),
        (replace(FINE, grid=None, range_db=2.0, quiet_db=-30.0), "too quiet against its noise"),
        (replace(FINE, strokes=strokes(0.3)), "cannot be told from the click"),
        (replace(FINE, click_share=0.95), "cannot be told from the click"),
        (replace(FINE, plays=False), "cannot be told from the click"),
        (GUESSED, "cut off: less than two counts"),
        (OTHER_TEMPO, "tempo given [(]112[)] does not fit.* at 100[.]0"),
    ],
    ids=[
        "clipped",
        "cut off",
        "buried",
        "inseparable",
        "drowned",
        "scattered",
        "hardly begun",
        "wrong tempo",
    ],
)
def test_each_reason(heard, words):
    """Each thing that is wrong has its own sentence, with a full stop and no line break."""
    reason = reason_not_to_judge(heard)
    assert reason is not None
    assert re.search(words, reason)
    assert reason.endswith(".")
    assert "\n" not in reason


def test_silence_is_no_reason():
    """A quiet recording in which nobody plays is judged: nought was held."""
    assert reason_not_to_judge(replace(FINE, grid=None, range_db=2.0, quiet_db=-80.0)) is None


@pytest.mark.parametrize(
    "heard",
    [
        replace(OTHER_TEMPO, click_heard=True),
        replace(NOT_EARLY, rate=None),
        replace(NOT_EARLY, rate=StrokeRate(0.15, 10, 0.05, 1.0)),
        replace(NOT_EARLY, rate=StrokeRate(0.15, 100, 0.3, 1.0)),
        replace(NOT_EARLY, rate=StrokeRate(0.15, 100, 0.05, 0.3)),
        replace(NOT_EARLY, rate=None, early_rate=StrokeRate(0.15, 10, 0.05, 1.0)),
        replace(NOT_EARLY, rate=None, early_rate=StrokeRate(0.16, 24, 0.05, 1.0)),
        replace(OTHER_TEMPO, tempo_told_bpm=101.0),
    ],
    ids=["click heard", "no rate", "few", "uneven", "part only", "few early", "odd start", "near"],
)
def test_doubt_about_the_tempo_is_no_reason(heard):
    """Only steady strokes at quite another tempo, and no click, make a tempo wrong."""
    assert reason_not_to_judge(heard) is None


def test_clipped_share():
    """The share of samples at the rails; none in silence, hardly any in a decay."""
    sound = np.zeros(1000, np.float32)
    assert clipped_share(sound) == 0.0
    assert clipped_share(sound[:0]) == 0.0
    sound[:150], sound[150:200] = 0.99, -1.0
    assert clipped_share(sound) == pytest.approx(0.2)


def test_wrong_tempo_of_a_hand_that_wanders():
    """Where no long stretch is steady, the start alone shows that another tempo was told."""
    wanders = replace(OTHER_TEMPO, rate=StrokeRate(0.16, 30, 0.1, 0.2))
    reason = reason_not_to_judge(wanders)
    assert reason is not None
    assert "steadily at 100.0" in reason


def test_a_hand_that_leaves_the_tempo_at_once_is_judged():
    """Started at the tempo told, then steady at another: that is losing the click."""
    assert reason_not_to_judge(replace(FINE, click_heard=False, tempo_told_bpm=101.0)) is None


def test_hardly_longer_than_a_count_in():
    """A few strokes in a recording of seven seconds: the round was cut off."""
    short = replace(GUESSED, plays=False, duration_s=7.0)
    assert "cut off" in (reason_not_to_judge(short) or "")


def test_a_few_knocks_are_no_reason():
    """Where nobody plays and hardly anything is heard, the take is read, not refused."""
    assert reason_not_to_judge(replace(FINE, plays=False, strokes=strokes(count=9))) is None


def test_few_strokes_long_ago_are_not_cut_off():
    """A few knocks at the start of a long take are no round that was cut off."""
    assert reason_not_to_judge(replace(GUESSED, duration_s=30.0)) is None
