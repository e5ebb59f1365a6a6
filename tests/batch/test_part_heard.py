"""A take heard against a part: which accents came."""

from dataclasses import replace

import mido
import numpy as np
import pytest

from loosehand.batch.hear_file import hear_file
from loosehand.batch.part_heard import accents_of_take, limb_named, part_to_hear
from loosehand.errors import BadNotation, InputError
from loosehand.hear.heard import ListenRequest
from loosehand.parts.text import parse_part

HEAD = "title: Slow train\ntempo: 100\nmeter: 4/4\ngrid: 4\n"
LINES = "RH hat Xxxx xxXx xxxx Xxxx | Xxxx xxxx xxxx xxxX\nLH snare .... x... .... x... | %\n"
PART = parse_part(f"{HEAD}[verse] x6\n{LINES}")


def a_take(path, accents, *, places=192, tempo_bpm=100, loud=110, soft=60):
    """Write a MIDI take of sixteenths with accents at some places, and hear it."""
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=round(60_000_000 / tempo_bpm), time=0))
    for place in range(places):
        velocity = loud if place in accents else soft
        track.append(mido.Message("note_on", note=42, velocity=velocity, time=60 if place else 0))
        track.append(mido.Message("note_off", note=42, velocity=0, time=60))
    track.append(mido.MetaMessage("end_of_track", time=60))
    mido.MidiFile(ticks_per_beat=480, tracks=[track]).save(path)
    return hear_file(path, ListenRequest(float(tempo_bpm), 4, "right", None, None))


@pytest.fixture
def asked():
    """What is asked of the right hand."""
    return part_to_hear(PART, "right hand")


def test_what_is_asked_comes_from_the_part(asked):
    """Tempo, places a count, all accents of the tune, and the bar of each place."""
    assert (asked.tempo_bpm, asked.places_per_count, asked.places) == (100.0, 4, 192)
    assert asked.accents.tolist() == [
        start + each for start in range(0, 192, 32) for each in (0, 6, 12, 16, 31)
    ]
    assert asked.bar_of_place[[0, 15, 16, 191]].tolist() == [1, 1, 2, 12]


def test_all_accents_come(asked, tmp_path):
    """A take that plays the map hits every one."""
    told = accents_of_take(a_take(tmp_path / "take.mid", set(asked.accents.tolist())), asked)
    accents = told["accents"]
    assert (accents["due"], accents["hits"], accents["misses"]) == (30, 30, 0)
    assert accents["false_accents"] == 0
    assert accents["contrast_db"] > 3.0
    assert told["told"].startswith("Accents of the right hand: 30 of 30 came")


def test_missed_and_unasked_accents_are_named(asked, tmp_path):
    """Two that are left out in bar 3, and one too many in bar 4."""
    played = (set(asked.accents.tolist()) - {32, 38}) | {50}
    told = accents_of_take(a_take(tmp_path / "take.mid", played), asked)
    accents = told["accents"]
    assert accents["missed_places"] == [32, 38]
    assert accents["missed_bars"] == [3, 3]
    assert accents["false_places"] == [50]
    assert "28 of 30 came, 1 came unasked" in told["told"]
    assert "Missed most in bar 3 of the tune." in told["told"]


def test_a_take_without_accents_misses_them_all(asked, tmp_path):
    """Nothing stands out, and a sentence says so."""
    told = accents_of_take(a_take(tmp_path / "take.mid", set()), asked)
    assert told["accents"]["hits"] == 0
    assert told["accents"]["contrast_db"] is None
    assert "No accents stand" in told["told"]


def test_a_take_that_goes_on_is_heard_to_the_end_of_the_part(asked, tmp_path):
    """Strokes after the part's end are no false accents."""
    accents = set(asked.accents.tolist()) | set(range(200, 256, 4))
    told = accents_of_take(a_take(tmp_path / "take.mid", accents, places=256), asked)
    assert told["accents"]["false_accents"] == 0


def test_too_short_a_take_tells_nothing(asked, tmp_path):
    """Null, with a sentence."""
    reading = a_take(tmp_path / "take.mid", {0, 6}, places=32)
    short = replace(reading, count_held=2)
    told = accents_of_take(short, asked)
    assert told["accents"] is None
    assert "cannot be told yet" in told["told"]


def test_a_part_is_heard_up_to_the_first_gap():
    """Eight bars of all places, then a rest."""
    gap = "[stop]\nRH hat xxxx .xxx xxxx xxxx\n"
    asked = part_to_hear(parse_part(f"{HEAD}[verse] x4\n{LINES}{gap}"), "right hand")
    assert asked.places == 128 + 4


def test_other_meters_count_the_beat_of_the_tempo():
    """Sixteenths of 7/8 to a click in quarters are four a count; triplets in 4/4 are three."""
    seven = "tempo: 100\nmeter: 7/8 as 2+2+3\ngrid: 2\nRH ride Xxxx xxxx xxxxxx | %\n"
    asked = part_to_hear(parse_part(seven), "right hand")
    assert (asked.places_per_count, asked.accents.tolist()) == (4, [0, 14])
    triplets = "tempo: 100\nmeter: 4/4\ngrid: 3\nRH ride Xxx xxx xxx xxx | %\n"
    assert part_to_hear(parse_part(triplets), "right hand").places_per_count == 3


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"{HEAD}[a]\nRH hat Xxxx xxxx xxxx xxxx\n[b] tempo 90\nrest 1\n", "changes its tempo"),
        (f"{HEAD}swing: 60\nRH hat Xxxx xxxx xxxx xxxx\n", "swung"),
        (f"{HEAD}RH hat Xxxx xxxx xxxx xxxx\ngrid: 3\nRH hat xxx xxx xxx xxx\n", "3, 4 places"),
        (f"{HEAD}RH hat Xxxx x.xx xxxx xxxx\n", "leaves out a place after 5"),
        (f"{HEAD}LH hat Xxxx xxxx xxxx xxxx\n", "leaves out a place after 0"),
        (f"{HEAD}RH hat xxxx xxxx xxxx xxxx\n", "asks for 0 accents"),
        (f"{HEAD}RH hat XXXX XXXX XXXX XXXX\n", "asks for 16 accents"),
    ],
)
def test_a_part_that_cannot_be_heard_is_refused(text, says):
    """In a sentence that says why."""
    with pytest.raises(BadNotation, match=says):
        part_to_hear(parse_part(text), "right hand")


def test_limbs_are_named():
    """In small letters or capitals; anything else is refused with the four that there are."""
    assert limb_named(" Left Hand") == "left hand"
    with pytest.raises(InputError, match="right hand, left hand, right foot, left foot"):
        limb_named("third hand")


def test_places_are_told_as_whole_numbers(asked, tmp_path):
    """What is told can be printed as JSON."""
    told = accents_of_take(a_take(tmp_path / "take.mid", {0}), asked)
    assert all(type(each) is int for each in told["accents"]["missed_places"])
    assert not any(isinstance(each, np.generic) for each in told["accents"].values())
