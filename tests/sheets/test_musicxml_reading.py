"""Tests of single rules by which a score is read."""

import pytest

from loosehand.errors import BadNotation
from loosehand.sheets.musicxml_reading import part_of_score
from loosehand.sheets.safe_xml import parse_xml
from tests.sheets.strange_scores import EIGHTHS, FOUR, note, score


def read(measures):
    """Return the part of a score with these measures."""
    return part_of_score(parse_xml(score(measures)))


def test_a_metronome_without_a_sound_tells_the_tempo():
    """A printed tempo of dotted quarters counts in quarters."""
    told = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
    )
    assert read(f"<measure>{FOUR}{told}{EIGHTHS}</measure>").tempo_bpm == 90


def test_a_tie_is_no_second_stroke():
    """A note that is tied over is struck once."""
    tied = note("G", 5, 4, '<tie type="start"/>') + note("G", 5, 4, '<tie type="stop"/>')
    [section] = read(f"<measure>{FOUR}{tied}</measure>").sections
    assert len(section.bars[0].strokes) == 1


def test_a_pickup_ends_with_its_bar():
    """A first bar that is cut short stands at the end of a whole one."""
    [section] = read(f'<measure implicit="yes">{FOUR}{note("C", 5, 2)}</measure>').sections
    assert [stroke.place for stroke in section.bars[0].strokes] == [3]


def test_an_open_sign_opens_a_hat():
    """A hat with a circle over it is the open hat."""
    sign = "<notehead>x</notehead><notations><technical><open/></technical></notations>"
    [section] = read(f"<measure>{FOUR}{note('G', 5, 8, sign)}</measure>").sections
    assert section.bars[0].strokes[0].instrument == "open hat"


def test_a_grace_note_makes_a_flam():
    """A grace note on the same drum makes the stroke after it a flam."""
    grace = note("C", 5, 1).replace("<note>", "<note><grace/>")
    grace = grace.replace("<duration>1</duration>", "")
    [section] = read(f"<measure>{FOUR}{grace}{note('C', 5, 8)}</measure>").sections
    assert [stroke.marks for stroke in section.bars[0].strokes] == [("flam",)]


def test_a_meter_that_cannot_be_is_refused_with_its_bar():
    """A signature of 4/5 is no meter."""
    with pytest.raises(BadNotation, match="bar 1: unit = 5"):
        read(f"<measure>{FOUR.replace('<beat-type>4', '<beat-type>5')}{EIGHTHS}</measure>")
