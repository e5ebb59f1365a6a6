"""Checks of the way from what was heard to a reading."""

import json
from dataclasses import replace
from importlib import resources

import jsonschema
import numpy as np
import pytest

from loosehand.hear.heard import CountGrid, Heard, Quality, Strokes
from loosehand.judge.read_take import read_take
from tests.hear.scenes import jittered, request

SCHEMA_TEXT = (resources.files("loosehand.judge") / "reading.schema.json").read_text("utf-8")
VALIDATOR = jsonschema.Draft202012Validator(json.loads(SCHEMA_TEXT))
QUALITY = Quality(20.0, 48000, -60.0, -20.0, None, 0.0, (), (), None)
COUNTS = 30


def heard_of(stroke_s, *, grid=True, refusal=None, level_db=-20.0):
    """What the ear would say of such strokes at 100."""
    size = len(stroke_s)
    level_db = np.broadcast_to(level_db, size).astype(float)
    strokes = Strokes(np.asarray(stroke_s), level_db, np.full(size, 0.97), np.zeros((size, 3)))
    own = CountGrid(2.0, 0.6, COUNTS, 4, "click", 0.98) if grid else None
    return Heard(strokes, own, replace(QUALITY, refusal=refusal), None)


def reading_of(heard, **told):
    """The reading, checked against the schema on the way."""
    reading = read_take(heard, request(**told), leads_with="right", measurement_sd_s=0.0006)
    VALIDATOR.validate(json.loads(json.dumps(reading.to_json())))
    return reading


EVEN_S = jittered(2.0, 0.15, 4 * COUNTS, sd_s=0.006)


def test_held_to_the_end():
    """A hand that keeps to the click holds every count."""
    reading = reading_of(heard_of(EVEN_S))
    assert reading.count_held == COUNTS
    assert reading.clean_counts == COUNTS
    assert reading.ended == "held to the end"
    assert reading.places.place_index.tolist() == list(range(4 * COUNTS))
    assert set(reading.places.hand) == {"right"}
    assert reading.confidence > 0.5


@pytest.mark.parametrize("count", [1, 7, 18])
def test_a_hand_that_stops(count):
    """A hand that stops has held the counts it played."""
    reading = reading_of(heard_of(EVEN_S[: 4 * count]))
    assert reading.count_held == count
    assert reading.ended in ("stopped", "stopped by choice")


def test_the_recording_ended():
    """Where more counts were planned than recorded, the recording ended first."""
    assert reading_of(heard_of(EVEN_S), planned=50).ended == "recording ended"


def test_nobody_plays():
    """Without strokes nought is held."""
    reading = reading_of(heard_of([], grid=False))
    assert (reading.count_held, reading.ended) == (0, "stopped")


def test_not_judged():
    """A refused take has no count, and says why."""
    reading = reading_of(heard_of(EVEN_S, refusal="The recording is clipped."))
    assert (reading.count_held, reading.ended) == (None, "not judged")
    assert "The recording is clipped." in json.dumps(reading.to_json())


def test_alternating_hands():
    """In an alternating take the leading hand has the even places."""
    reading = reading_of(heard_of(EVEN_S), hand="alternating")
    assert reading.places.hand == ("right", "left") * (2 * COUNTS)
    assert reading.count_held == COUNTS
    assert reading.hands is not None
    assert reading.evenness is not None
    assert reading.evenness.strokes == 4 * COUNTS


def levels_of(drive, *, stride=1):
    """Levels of a drive, its taps 8 dB below the accent, for every hand of ``stride``."""
    own = np.arange(4 * COUNTS) // stride
    return -20.0 - 8.0 * (own % drive > 0) + np.random.default_rng(8).normal(0.0, 0.8, own.size)


@pytest.mark.parametrize("drive", [2, 3, 4])
def test_the_drive_is_in_the_reading(drive):
    """A drive of two, three or four is told with its contrast."""
    technique = reading_of(heard_of(EVEN_S, level_db=levels_of(drive))).to_json()["technique"]
    assert technique["drive_length"]["strokes"] == drive
    assert technique["contrast_db"]["told"] == pytest.approx(8.0, abs=0.6)


def test_the_technique_ends_with_the_hold():
    """What comes after the break changes nothing of the technique."""
    broken_s = np.concatenate([EVEN_S[:80], EVEN_S[80:] + 0.07])
    level_db = levels_of(3)
    level_db[80:] = -40.0
    reading = reading_of(heard_of(broken_s, level_db=level_db))
    assert reading.count_held == 20
    assert reading.technique.drive.strokes == 3
    assert reading.technique.shape.contrast_db.told == pytest.approx(8.0, abs=0.6)


def test_each_hand_has_its_technique():
    """In an alternating take each hand's drive is told from its own strokes."""
    heard = heard_of(EVEN_S, level_db=levels_of(3, stride=2))
    technique = reading_of(heard, hand="alternating").technique
    assert (technique.left.drive.strokes, technique.right.drive.strokes) == (3, 3)
