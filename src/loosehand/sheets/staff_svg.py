"""What the engraver draws, made fit for a page: no style sheet, ink as the page has it.

Kept: shapes, words, glyphs. Dropped: style sheets, ids that nobody asks for, empty groups.
Added: a title, ``role="img"``, and on every stroke and bar what it is.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from loosehand.sheets.part_mei import TEMPO_SIGN, EngravedStroke

__all__ = ["StaffPicture", "page_svg"]

_SVG = "{http://www.w3.org/2000/svg}"
_INKED = {"ellipse", "path", "polygon", "polyline", "rect"}
_BOLD = {"ending", "fing", "reh", "tempo"}
_ITALIC = {"dir", "dynam", "mNum"}
_DROPPED = {"style", "desc"}
_DRAWN: Mapping[str, tuple[tuple[str, dict[str, str]], ...]] = {
    "#E614-": (
        (
            "circle",
            {"cx": "100", "cy": "-165", "r": "145", "stroke-width": "30", "fill": "none"},
        ),
        ("path", {"d": "M100 -390V60", "stroke-width": "30"}),
    ),
    "#E0B9-": (("path", {"d": "M20 125H295L157 -140Z", "stroke-width": "20"}),),
}
"""Drawn by us: a half-open hat for the sign of a harmonic, a triangle for a square head."""
_FLAGS = {Fraction(1, 8): 1, Fraction(1, 16): 2, Fraction(3, 16): 1}


@dataclass(frozen=True)
class StaffPicture:
    """What a system is and says.

    Attributes
    ----------
    title : read out in place of the picture
    glyph_prefix : begins the ids of the glyphs of this picture
    bar_prefix : begins the ids of bars, before their number
    beat : the note value that tempos count
    strokes : by the id of their notes
    """

    title: str
    glyph_prefix: str
    bar_prefix: str
    beat: Fraction
    strokes: Mapping[str, EngravedStroke]


def page_svg(svg: str, picture: StaffPicture) -> str:
    """Make one engraved page fit for ours.

    Parameters
    ----------
    svg : as verovio writes it
    picture : what it is

    Returns
    -------
    svg : to be put into HTML as it is
    """
    root = ElementTree.fromstring(svg)
    width, height = root.get("viewBox", "0 0 0 0").split()[2:]
    clean = Element("svg", xmlns="http://www.w3.org/2000/svg", role="img", focusable="false")
    clean.set("class", "staff-system")
    clean.set("viewBox", f"0 0 {width} {height}")
    clean.set("width", width)
    clean.set("height", height)
    clean.set("fill", "currentColor")
    SubElement(clean, "title").text = picture.title
    for child in root:
        kept = _kept(child, picture)
        if kept is not None:
            clean.append(kept)
    return ElementTree.tostring(clean, encoding="unicode")


def _kept(element: Element, picture: StaffPicture) -> Element | None:
    """Copy an element with what we keep of it, or None."""
    tag = element.tag.removeprefix(_SVG)
    classes = element.get("class", "").split()
    if tag in _DROPPED or "placeholder" in classes:
        return None
    if tag == "use" and element.get("href", "")[:6] in _DRAWN:
        return _drawn(element)
    kept = Element(tag, _attributes(element, tag, picture))
    kept.text = (element.text or "").strip("\n") or None
    for child in element:
        copy = _kept(child, picture)
        if copy is not None:
            kept.append(copy)
    if tag == "g" and not len(kept):
        return None
    if "tempo" in classes:
        _draw_beat(kept, picture.beat)
    return kept


def _attributes(element: Element, tag: str, picture: StaffPicture) -> dict[str, str]:
    kept = {
        name: value
        for name, value in element.attrib.items()
        if name not in ("id", "class", "color", "overflow", "type", "version")
    }
    if "href" in kept:
        kept["href"] = f"#{_glyph_id(kept['href'][1:], picture)}"
    if tag in _INKED and "stroke-width" in kept:
        kept["stroke"] = "currentColor"
    if tag != "g":
        return kept
    return kept | _group_attributes(element, picture)


def _drawn(element: Element) -> Element:
    """Draw a sign of ours where a glyph of the engraver stood."""
    sign = Element("g", transform=element.get("transform", ""), stroke="currentColor")
    for tag, attributes in _DRAWN[element.get("href", "")[:6]]:
        SubElement(sign, tag, attributes)
    return sign


def _glyph_id(name: str, picture: StaffPicture) -> str:
    return picture.glyph_prefix + name.split("-")[0]


def _group_attributes(element: Element, picture: StaffPicture) -> dict[str, str]:
    name, classes = element.get("id", ""), set(element.get("class", "").split())
    if not classes and name:
        return {"id": _glyph_id(name, picture)}
    if name in picture.strokes:
        return _stroke_attributes(name, picture.strokes[name])
    if "measure" in classes:
        number = name.removeprefix(picture.bar_prefix)
        return {"id": name, "class": "staff-bar", "data-bar": number}
    if classes & _BOLD:
        return {"class": "staff-words", "font-weight": "bold"}
    if classes & _ITALIC:
        return {"class": "staff-words", "font-style": "italic"}
    return {}


def _stroke_attributes(name: str, engraved: EngravedStroke) -> dict[str, str]:
    stroke = engraved.stroke
    return {
        "id": name,
        "class": "staff-stroke",
        "data-bar": str(engraved.bar),
        "data-place": str(stroke.place),
        "data-limb": stroke.limb,
        "data-instrument": stroke.instrument,
    }


def _draw_beat(group: Element, beat: Fraction) -> None:
    """Draw the note value that a tempo counts where its sign stands in the words."""
    for text in group.iter("text"):
        for span in text.iter("tspan"):
            if span.text and span.text.startswith(TEMPO_SIGN):
                span.text = span.text.removeprefix(TEMPO_SIGN).strip()
                x, y = float(text.get("x", "0")), float(text.get("y", "0"))
                text.set("x", str(x + 270))
                group.insert(0, _beat_drawn(beat, x, y))
                return


def _beat_drawn(beat: Fraction, x: float, y: float) -> Element:
    drawn = Element(
        "g", transform=f"translate({x + 40:g} {y - 45:g}) scale(0.62)", stroke="currentColor"
    )
    is_dotted = beat.numerator == 3
    plain = beat * Fraction(2, 3) if is_dotted else beat
    is_hollow = plain >= Fraction(1, 2)
    head = {"cx": "95", "cy": "0", "rx": "88", "ry": "62", "transform": "rotate(-22 95 0)"}
    head |= {"fill": "none" if is_hollow else "currentColor", "stroke-width": "26"}
    SubElement(drawn, "ellipse", head)
    if plain < 1:
        SubElement(drawn, "path", {"d": "M182 -30V-430", "fill": "none", "stroke-width": "26"})
    for flag in range(_FLAGS.get(beat, _FLAGS.get(plain, 0))):
        top = -430 + 100 * flag
        path = f"M182 {top}c10 90 120 110 75 230"
        SubElement(drawn, "path", {"d": path, "fill": "none", "stroke-width": "30"})
    if is_dotted:
        SubElement(drawn, "circle", {"cx": "270", "cy": "10", "r": "26"})
    return drawn
