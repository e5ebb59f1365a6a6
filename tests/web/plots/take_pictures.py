"""A take's plots in tests: an axis, strokes, and how a picture is read."""

import re
from xml.etree import ElementTree

from loosehand.web.plots.take_axis import HoldShown, TimeAxis

SVG = "{http://www.w3.org/2000/svg}"
AXIS = TimeAxis(duration_s=60.0, width=1076.0, first_count_s=3.0, count_s=0.5, counts=100)
HOLD = HoldShown(count_held=40, count_read=None, broke=True, why="fell behind")


def parsed(drawn):
    """A picture as XML: it must be well formed, with its title, words and size."""
    root = ElementTree.fromstring(str(drawn).replace("<svg ", '<svg xmlns="' + SVG[1:-1] + '" ', 1))
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text
    assert root.find(f"{SVG}desc").text
    return root


def path_of(root, style):
    """The path of a style, or None."""
    return next((path for path in root.iter(f"{SVG}path") if path.get("class") == style), None)


def starts(path):
    """Where each of a path's lines begins."""
    return [(float(x), float(y)) for x, y in re.findall(r"M(-?[\d.]+) (-?[\d.]+)", path.get("d"))]


def words_in(root):
    """All words in a picture."""
    return [text.text for text in root.iter(f"{SVG}text")]


def stroke(time_s, *, count=1, place=0, asynchrony_ms=0.0, level_db=-20.0, hand="left"):
    """A stroke as in a reading."""
    return {
        "time_s": time_s,
        "level_db": level_db,
        "count": count,
        "place": place,
        "asynchrony_ms": asynchrony_ms,
        "hand": hand,
    }
