"""A take heard against a part: which accents came, in MIDI and in a recording by phone."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.batch.hear_file import hear_file
from loosehand.hear.heard import ListenRequest
from loosehand.judge.part_heard import hear_part, part_json
from loosehand.judge.part_to_hear import part_to_hear
from loosehand.parts.text import parse_part
from tests.judge.part_scenes import ACCENTS, HEAD, TEXT, write_accents, write_recording

PART = parse_part(TEXT)
MISSED = (6, 38, 44, 127)
UNASKED = (9, 146)


def a_take(path, accents, **how):
    """Write a MIDI take with accents at some places, and hear it."""
    write_accents(path, accents, **how)
    return hear_file(path, ListenRequest(100.0, 4, "right", None, None))


def accents_of_take(reading, asked):
    """Tell of a take's accents, as the JSON does."""
    body = reading.to_json()
    return part_json(hear_part(body, asked, count_held=body["count_held"]))


@pytest.fixture
def asked():
    """What is asked of the right hand."""
    return part_to_hear(PART, "right hand")


def test_all_accents_come(asked, tmp_path):
    """A take that plays the map hits every one."""
    told = accents_of_take(a_take(tmp_path / "take.mid", set(asked.accents)), asked)
    accents = told["accents"]
    assert (accents["due"], accents["hits"], accents["misses"]) == (30, 30, 0)
    assert accents["false_accents"] == 0
    assert accents["contrast_db"] > 3.0
    assert told["told"].startswith("Accents of the right hand: 30 of 30 came")


def test_missed_and_unasked_accents_are_named(asked, tmp_path):
    """Two that are left out in bar 3, and one too many in bar 4."""
    played = (set(asked.accents) - {32, 38}) | {50}
    told = accents_of_take(a_take(tmp_path / "take.mid", played), asked)
    accents = told["accents"]
    assert accents["missed_places"] == [32, 38]
    assert accents["missed_bars"] == [3, 3]
    assert accents["false_places"] == [50]
    assert "28 of 30 came, 1 came unasked" in told["told"]
    assert told["told"].endswith("above the rest. Missed in bar 3.")


@pytest.mark.parametrize(
    ("missed", "says"),
    [
        ((0, 6), "Missed in bar 1."),
        ((0, 16, 134), "Missed in bars 1, 2 and 9."),
        ((0, 16, 32, 48, 64, 80, 96), "Missed in 7 of 12 bars."),
        ((0, 16, 32, 48, 64, 80, 96, 102), "Missed in 7 of 12 bars, most in bar 7."),
    ],
)
def test_bars_with_missed_accents_are_named(asked, tmp_path, missed, says):
    """A few by their numbers, more by how many there are."""
    played = set(asked.accents) - set(missed)
    told = accents_of_take(a_take(tmp_path / "take.mid", played), asked)["told"]
    assert told.endswith(f" {says}")


def test_a_take_without_accents_misses_them_all(asked, tmp_path):
    """Nothing stands out, and a sentence says so."""
    told = accents_of_take(a_take(tmp_path / "take.mid", set()), asked)
    assert told["accents"]["hits"] == 0
    assert told["accents"]["contrast_db"] is None
    assert "No accents stand" in told["told"]


def test_a_take_that_goes_on_is_heard_to_the_end_of_the_part(asked, tmp_path):
    """Strokes after the part's end are no false accents."""
    accents = set(asked.accents) | set(range(200, 256, 4))
    told = accents_of_take(a_take(tmp_path / "take.mid", accents, places=256), asked)
    assert told["accents"]["false_accents"] == 0


def test_too_short_a_take_tells_nothing(asked, tmp_path):
    """Null, with a sentence."""
    reading = a_take(tmp_path / "take.mid", {0, 6}, places=32)
    short = replace(reading, count_held=2)
    told = accents_of_take(short, asked)
    assert told["accents"] is None
    assert "cannot be told yet" in told["told"]


def test_places_are_told_as_whole_numbers(asked, tmp_path):
    """What is told can be printed as JSON."""
    told = accents_of_take(a_take(tmp_path / "take.mid", {0}), asked)
    assert all(type(each) is int for each in told["accents"]["missed_places"])
    assert not any(isinstance(each, np.generic) for each in told["accents"].values())


def test_a_part_without_accents_is_heard_for_the_rest(tmp_path):
    """Nothing is compared, and the sentence says why; likewise where each stroke is accented."""
    reading = a_take(tmp_path / "take.mid", {0, 4}, places=64)
    for lines, says in (("xxxx xxxx xxxx xxxx", "no accents"), ("XXXX XXXX XXXX XXXX", "every")):
        asked = part_to_hear(parse_part(f"{HEAD}[a] x4\nRH hat {lines}\n"), "right hand")
        told = accents_of_take(reading, asked)
        assert told["accents"] is None
        assert says in told["told"]


def test_a_number_of_a_person_ends_the_hold(asked, tmp_path):
    """Accents are compared up to the break that stands, not the one that was read."""
    body = a_take(tmp_path / "take.mid", set(asked.accents)).to_json()
    heard = hear_part(body, asked, count_held=24)
    assert heard.held_places == 96
    assert (heard.accents.due, heard.played.tolist()) == (15, list(range(96)))
    assert hear_part(body, asked, count_held=None).accents is None


def test_a_break_before_the_first_accent_is_said(tmp_path):
    """None due, none missed."""
    lines = "RH hat xxxx xxxx xxxx xxxx | xxxx xxxx xxxx xxxX\n"
    asked = part_to_hear(parse_part(f"{HEAD}[a] x2\n{lines}"), "right hand")
    body = a_take(tmp_path / "take.mid", set(asked.accents), places=64).to_json()
    heard = hear_part(body, asked, count_held=6)
    assert heard.accents.due == 0
    assert heard.told == "Accents of the right hand: none was due before the break."


@pytest.mark.parametrize(("counts", "says"), [(1, "1 count later"), (-3, "3 counts earlier")])
def test_another_start_is_asked_about(asked, tmp_path, counts, says):
    """Where the accents fit the part only from another count on, a sentence says from which."""
    moved = {place + 4 * counts for place in asked.accents}
    told = accents_of_take(a_take(tmp_path / "take.mid", moved), asked)["told"]
    assert f"if the part began {says} than was heard" in told


def test_a_start_that_fits_is_not_asked_about(asked, tmp_path):
    """Neither where accents came, nor where there are none at all."""
    for accents in (set(asked.accents), set()):
        told = accents_of_take(a_take(tmp_path / "take.mid", accents), asked)["told"]
        assert "would fit" not in told


@pytest.mark.parametrize("tempo_bpm", [100.0, 80.0])
def test_a_phone_recording_tells_the_bars(asked, tmp_path, tempo_bpm):
    """In AAC, over a click and a room, at the part's tempo and slower: planted ones are found."""
    loud = (set(ACCENTS) - set(MISSED)) | set(UNASKED)
    write_recording(tmp_path / "take.m4a", loud, tempo_bpm=tempo_bpm, seed=1)
    request = ListenRequest(tempo_bpm, 4, "right", asked.counts, None)
    reading = hear_file(tmp_path / "take.m4a", request)
    assert (reading.count_held, reading.to_json()["counts_offered"]) == (48, 48)
    accents = accents_of_take(reading, asked)["accents"]
    assert accents["missed_places"] == list(MISSED)
    assert accents["missed_bars"] == [1, 3, 3, 8]
    assert accents["false_places"] == list(UNASKED)
