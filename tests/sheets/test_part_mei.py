"""Tests of the MEI that is engraved."""

from xml.etree import ElementTree

from loosehand.parts import Stroke
from loosehand.sheets.part_mei import StaffWords, part_to_mei
from tests.sheets.some_parts import groove

MEI = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"


def engraved(words=StaffWords()):  # noqa: B008
    """Return root and strokes of the groove."""
    mei, strokes = part_to_mei(groove(), words=words, prefix="x")
    return ElementTree.fromstring(mei), strokes


def test_every_stroke_is_a_note_with_its_id():
    """Each stroke has one note, and each note that is no grace note a stroke."""
    root, strokes = engraved()
    ids = {note.get(ID) for note in root.iter(f"{MEI}note") if note.get("grace") is None}
    assert ids == set(strokes)
    bars = [bar for section in groove().sections for bar in section.bars]
    expected = {(n, s) for n, bar in enumerate(bars, start=1) for s in bar.strokes}
    assert {(told.bar, told.stroke) for told in strokes.values()} == expected


def test_hands_stand_up_and_feet_down():
    """Stems of the hands go up, those of the feet down."""
    root, strokes = engraved()
    for layer in root.iter(f"{MEI}layer"):
        for element in layer.iter():
            if element.get("stem.dir"):
                assert element.get("stem.dir") == ("up" if layer.get("n") == "1" else "down")
    assert strokes["xb1-p0-right-foot"].stroke == Stroke(0, "right foot", "kick")


def test_ghost_notes_flams_and_hats_carry_their_signs():
    """Parentheses, small slashed notes, circle and plus are all there."""
    root, strokes = engraved()
    marks = [mark for told in strokes.values() for mark in told.stroke.marks]
    signs = {artic.get("artic") for artic in root.iter(f"{MEI}artic")}
    assert signs == {"acc", "open", "stop"}
    assert sum(note.get("head.mod") == "paren" for note in root.iter(f"{MEI}note")) == (
        marks.count("ghost")
    )
    assert sum(note.get("grace") == "unacc" for note in root.iter(f"{MEI}note")) == (
        marks.count("flam")
    )


def test_words_under_the_staff_are_wanted_or_not():
    """Counts and sticking stand there when asked for, and only then."""
    assert engraved()[0].find(f".//{MEI}verse") is None
    root, _ = engraved(StaffWords(sticking=True, counts=True))
    said = {syl.text for syl in root.iter(f"{MEI}syl")}
    assert {"1", "e", "&", "a", "R", "L"} <= said


def test_the_tempo_stands_above_the_first_bar_unless_it_is_not_wanted():
    """A piece of a part that goes on from another need not say it again."""
    with_tempo, without = (engraved(StaffWords(tempo=told))[0] for told in (True, False))
    first = with_tempo.find(f".//{MEI}measure")
    assert first.find(f"{MEI}tempo") is not None
    assert len(without.findall(f".//{MEI}tempo")) == len(with_tempo.findall(f".//{MEI}tempo")) - 1


def test_the_meter_changes_where_it_does():
    """A new signature stands before the bar in which it holds, its groups shown."""
    root, _ = engraved()
    told = [each.get("meter.count") for each in root.iter(f"{MEI}scoreDef")]
    assert told == ["4", "2+2+3"]
