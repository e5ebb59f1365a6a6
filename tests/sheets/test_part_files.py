"""Parts in files: each ending is read as what it says, systems are stacked on a page."""

import pytest

from loosehand.errors import BadNotation
from loosehand.parts.text import parse_part, write_part
from loosehand.sheets.part_engraving import part_to_svg
from loosehand.sheets.part_files import part_of_file, staff_page
from loosehand.sheets.part_midi import part_to_midi
from loosehand.sheets.part_musicxml import part_to_musicxml

TEXT = "tempo: 104\nmeter: 4/4\ngrid: 4\n[verse] x2\nRH hat xxxx xxxx xxxx xxxx\n"
PART = parse_part(TEXT)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("groove.txt", TEXT.encode()),
        ("groove", write_part(PART).encode("utf-8-sig")),
        ("groove.MID", part_to_midi(PART)),
        ("groove.musicxml", part_to_musicxml(PART)),
    ],
)
def test_every_format_is_read(name, data):
    """The ending says what it is, whatever its capitals; all else is our text."""
    assert part_of_file(name, data) == PART


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("groove.txt", b"\xff\xfe\x00", "no UTF-8 text"),
        ("groove.txt", b"tempo: 0\n", "line 1, column"),
        ("groove.mid", b"RH hat xxxx", "MIDI file"),
        ("groove.musicxml", b"RH hat xxxx", "MusicXML"),
    ],
)
def test_what_is_no_part_is_refused(name, data, says):
    """One sentence that says what is wrong."""
    with pytest.raises(BadNotation, match=says):
        part_of_file(name, data)


def test_systems_are_stacked():
    """The page is as high as all systems together, and holds each once."""
    long = parse_part(TEXT + "\nRH hat " + " | ".join(["xxxx xxxx xxxx xxxx"] * 8))
    systems = part_to_svg(long, width_px=600)
    assert len(systems) > 1
    page = staff_page(systems)
    assert page.count('role="img"') == len(systems)
    heights = [float(each.split('height="')[1].split('"')[0]) for each in systems]
    assert f'height="{sum(heights):g}"' in page.split(">")[0]
    assert f'y="{heights[0]:g}"' in page
