"""A part engraved as drum notation: SVG for pages, one picture a system.

The engraver is verovio. What it draws is made fit for a page under a strict content policy:
no style sheet, no script, nothing from outside; ink is ``currentColor``; every note that is a
stroke says which one, in ``data-`` attributes.
"""

import threading
from collections.abc import Mapping
from importlib.resources import files

from loosehand.errors import BadNotation
from loosehand.parts import Part, check_part
from loosehand.sheets.part_mei import StaffWords, part_to_mei
from loosehand.sheets.staff_svg import StaffPicture, page_svg

__all__ = ["StaffWords", "part_to_svg"]

_SCALE_PERCENT = 40
_WIDTH_LIMITS_PX = (280, 4000)
_MOST_BARS = 2000
_ONE_AT_A_TIME = threading.Lock()
_OPTIONS: Mapping[str, object] = {
    "adjustPageHeight": True,
    "barLineWidth": 0.35,
    "breaks": "auto",
    "evenNoteSpacing": False,
    "font": "Leipzig",
    "footer": "none",
    "header": "none",
    "minLastJustification": 0.7,
    "pageHeight": 20_000,
    "pageMarginBottom": 20,
    "pageMarginLeft": 10,
    "pageMarginRight": 10,
    "pageMarginTop": 20,
    "scale": _SCALE_PERCENT,
    "smuflTextFont": "none",
    "spacingLinear": 0.3,
    "spacingNonLinear": 0.58,
    "svgFormatRaw": True,
    "svgRemoveXlink": True,
    "svgViewBox": True,
    "systemMaxPerPage": 1,
    "xmlIdSeed": 1,
}


def part_to_svg(
    part: Part,
    *,
    width_px: int,
    words: StaffWords = StaffWords(),  # noqa: B008 - frozen
    prefix: str = "",
) -> list[str]:
    """Engrave a part.

    Parameters
    ----------
    part : what must be played; repeats stay repeats
    width_px : width of a system at its natural size, where a staff is 29 px high
    words : what stands under the staff: sticking, counts
    prefix : begins every id, so that several parts can stand on one page; letters and digits

    Returns
    -------
    systems : SVG elements, one a system, each with a title; notes carry ``id``, ``data-bar``,
        ``data-place``, ``data-limb``, ``data-instrument``, bars from 1 as they are written

    Raises
    ------
    BadNotation    if the part cannot be played, is wider or longer than can be engraved

    Examples
    --------
    >>> from fractions import Fraction
    >>> from loosehand.parts import Bar, Meter, Section, Stroke
    >>> bar = Bar(Meter((1, 1), 4), 1, (Stroke(0, "right foot", "kick"),))
    >>> section = Section("groove", (bar,), 1, None, None)
    >>> part = Part("", Fraction(90), Fraction(1, 4), 50, (), (section,))
    >>> [svg] = part_to_svg(part, width_px=400)
    >>> 'data-instrument="kick"' in svg
    True
    """
    check_part(part)
    bars = sum(len(section.bars) for section in part.sections)
    low, high = _WIDTH_LIMITS_PX
    if not low <= width_px <= high:
        raise BadNotation(f"width_px = {width_px}: want {low} to {high} pixels for a system")
    if bars > _MOST_BARS:
        raise BadNotation(f"{bars} written bars are too many to engrave: want {_MOST_BARS} at most")
    mei, strokes = part_to_mei(part, words=words, prefix=prefix)
    pages = _engraved(mei, width_px)
    return [
        page_svg(
            page,
            StaffPicture(
                title=_title(part, number, len(pages)),
                glyph_prefix=f"{prefix}s{number}-",
                bar_prefix=f"{prefix}b",
                beat=part.beat,
                strokes=strokes,
            ),
        )
        for number, page in enumerate(pages, start=1)
    ]


def _engraved(mei: str, width_px: int) -> list[str]:
    """Pages as verovio draws them; it keeps some state of its own, so one at a time."""
    import verovio

    with _ONE_AT_A_TIME:
        verovio.enableLog(verovio.LOG_OFF)
        # It knows its glyphs only in the thread that imported it, unless each thread is told.
        verovio.setDefaultResourcePath(str(files("verovio") / "data"))
        toolkit = verovio.toolkit()
        toolkit.setOptions({**_OPTIONS, "pageWidth": width_px * 100 // _SCALE_PERCENT})
        if not toolkit.loadData(mei):
            raise BadNotation("the part could not be engraved: its notation was not understood")
        return [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]


def _title(part: Part, number: int, count: int) -> str:
    name = part.title or "Part"
    return f"{name}, drum notation, system {number} of {count}"
