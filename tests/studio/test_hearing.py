"""What passes between the studio and what hears for it."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from loosehand.hear.scheduled import RoundAcoustics
from loosehand.studio.hearing import Told, hear_stored, nobody_plays


@pytest.mark.parametrize("notes", [None, frozenset(), frozenset({38, 42})])
def test_what_was_told_is_kept_as_it_was(told, notes):
    """Whatever the judge was told comes back from the studio equal."""
    full = replace(told, notes=notes, more_notes=("cut off",), more_assumed=("one channel",))
    assert Told.from_json(full.to_json()) == full


def test_what_a_live_ear_was_told_is_kept(told):
    """Room, click and capture of a round of the stand come back equal, through JSON too."""
    known = RoundAcoustics(48_000, np.array([1e-9, 0.1], dtype=np.float32), None).to_json()
    capture = {"listens": "microphone", "frames_lost": 3, "round_trip_s": 0.043, "settings": {}}
    full = replace(told, acoustics=known, capture=capture)
    assert Told.from_json(json.loads(json.dumps(full.to_json()))) == full


def test_what_was_told_before_there_was_a_stand_can_be_read(told):
    """A take stored without room and capture has none."""
    old = told.to_json()
    del old["acoustics"], old["capture"]
    assert Told.from_json(old) == told
    assert (Told.from_json(old).acoustics, Told.from_json(old).capture) == (None, None)


def test_what_the_stored_sound_cannot_show_is_added(told, judged):
    """Sentences about the file that was brought stay with every reading of it."""
    body = {**judged.body, "quality": {"notes": ["a"], "assumed": ["b"], "duration_s": 60.0}}
    more = replace(told, more_notes=("cut off",), more_assumed=("one channel",))
    heard = hear_stored(Path("take.flac"), more, hearing=lambda *_: replace(judged, body=body))
    assert heard.body["quality"] == {
        "notes": ["a", "cut off"],
        "assumed": ["b", "one channel"],
        "duration_s": 60.0,
    }
    assert body["quality"]["notes"] == ["a"]


@pytest.mark.parametrize(
    ("count", "strokes", "nobody"),
    [(0, [], True), (0, [{}], False), (None, [], False), (5, [{}], False)],
)
def test_nobody_plays_where_nothing_was_held_or_struck(count, strokes, nobody):
    """A take that could not be judged is not one in which nobody plays."""
    assert nobody_plays({"count_held": count, "strokes": strokes}) is nobody
