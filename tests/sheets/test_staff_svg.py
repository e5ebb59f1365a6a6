"""Tests of making an engraved page fit for ours."""

from fractions import Fraction
from xml.etree import ElementTree

import pytest

from loosehand.parts import BEATS, Stroke
from loosehand.sheets.part_mei import TEMPO_SIGN, EngravedStroke
from loosehand.sheets.staff_svg import StaffPicture, page_svg

SVG = "{http://www.w3.org/2000/svg}"
RAW = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 20" id="q"><desc>x</desc>'
    '<defs><g id="E0A4-q"><path d="M0 0"/></g></defs><style>g{{}}</style>'
    '<svg color="black" viewBox="0 0 100 200"><g id="b3" class="measure">'
    '<g id="n" class="note"><use href="#E0A4-q"/><path d="M1 1" stroke-width="3"/></g>'
    '<g id="t" class="tempo"><text x="5" y="9"><tspan>{} = 90</tspan></text></g>'
    '<g class="empty"/></g></svg></svg>'
)


def cleaned(beat=Fraction(1, 4)):
    """Return the root of the cleaned page."""
    strokes = {"n": EngravedStroke(3, Stroke(2, "left hand", "snare"))}
    picture = StaffPicture("A tune", "s1-", "b", beat, strokes)
    return ElementTree.fromstring(page_svg(RAW.format(TEMPO_SIGN), picture))


def test_a_stroke_says_what_it_is():
    """Bar, place, limb and instrument stand on its group."""
    [stroke] = [g for g in cleaned().iter(f"{SVG}g") if g.get("class") == "staff-stroke"]
    told = [stroke.get(f"data-{name}") for name in ("bar", "place", "limb", "instrument")]
    assert told == ["3", "2", "left hand", "snare"]


def test_style_description_colours_and_empty_groups_go():
    """Nothing of the engraver's sheet is left, and glyphs have ids of this picture."""
    text = ElementTree.tostring(cleaned(), encoding="unicode")
    assert all(gone not in text for gone in ("style>", "desc>", "black", "empty", "-q"))
    assert '"#s1-E0A4"' in text
    assert 'id="s1-E0A4"' in text


def test_lines_are_drawn_in_the_ink_of_the_page():
    """A line with a width takes the current colour."""
    [line] = [p for p in cleaned().iter(f"{SVG}path") if p.get("stroke-width") == "3"]
    assert line.get("stroke") == "currentColor"


@pytest.mark.parametrize("beat", BEATS.values(), ids=BEATS)
def test_the_note_value_of_a_tempo_is_drawn(beat):
    """The sign in the words is replaced by a note: stem, flags and dot as the value has."""
    root = cleaned(beat)
    assert TEMPO_SIGN not in ElementTree.tostring(root, encoding="unicode")
    assert [span.text for span in root.iter(f"{SVG}tspan")] == ["= 90"]
    [words] = [g for g in root.iter(f"{SVG}g") if g.get("class") == "staff-words"]
    note = words[0]
    is_dotted = beat.numerator == 3
    plain = beat * Fraction(2, 3) if is_dotted else beat
    lines = {Fraction(1): 0, Fraction(1, 8): 2, Fraction(1, 16): 3}.get(plain, 1)
    assert len(note.findall(f"{SVG}path")) == lines
    assert len(note.findall(f"{SVG}circle")) == int(is_dotted)
