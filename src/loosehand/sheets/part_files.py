"""Parts in files: read from whichever format a file's name says, drawn on one page."""

import re
from collections.abc import Sequence
from pathlib import PurePath

from loosehand.errors import BadNotation
from loosehand.parts.part import Part
from loosehand.parts.text import parse_part

__all__ = ["part_of_file", "staff_page"]

_MIDI = (".mid", ".midi", ".smf")
_MUSICXML = (".musicxml", ".xml", ".mxl")
_SIZE = re.compile(r'<svg [^>]*?width="([\d.]+)" height="([\d.]+)"')


def part_of_file(name: str, data: bytes) -> Part:
    """Read a part from a file's bytes.

    Parameters
    ----------
    name : of the file; what it ends with says what it is: MIDI, MusicXML, else our text
    data : its bytes

    Raises
    ------
    BadNotation   in one sentence, if it is not what its name says, or holds no part
    """
    ending = PurePath(name).suffix.lower()
    if ending in _MIDI:
        from loosehand.sheets.part_midi import part_from_midi

        return part_from_midi(data)
    if ending in _MUSICXML:
        from loosehand.sheets.part_musicxml import part_from_musicxml

        return part_from_musicxml(data)
    try:
        return parse_part(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise BadNotation(
            f"{PurePath(name).name} is no UTF-8 text (byte {error.start}): want the text of a "
            "part, or a file that ends with .mid or .musicxml"
        ) from error


def staff_page(systems: Sequence[str]) -> str:
    """Systems of a staff, one under the other, as one SVG file.

    Parameters
    ----------
    systems : as ``loosehand.sheets.part_engraving.part_to_svg`` gives them

    Examples
    --------
    >>> page = staff_page(['<svg class="a" width="800" height="110"></svg>'] * 2)
    >>> 'width="800" height="220"' in page, 'y="110"' in page
    (True, True)
    """
    sizes = [(float(found[1]), float(found[2])) for found in map(_SIZE.match, systems) if found]
    placed: list[str] = []
    top = 0.0
    for system, (_, height) in zip(systems, sizes, strict=True):
        placed.append(system.replace("<svg ", f'<svg y="{top:g}" ', 1))
        top += height
    width = max(size[0] for size in sizes)
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{top:g}">'
    return f"{head}{''.join(placed)}</svg>\n"
