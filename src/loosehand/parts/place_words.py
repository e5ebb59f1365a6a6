"""Places and strokes of a part in words, as players say them."""

from loosehand.parts.part import MARKS, Bar, Stroke, count_and_place

__all__ = [
    "PLACE_NAMES",
    "place_in_words",
    "short_place",
    "stroke_in_words",
]

PLACE_NAMES: dict[int, tuple[str, ...]] = {
    1: ("",),
    2: ("", "&"),
    3: ("", "trip", "let"),
    4: ("", "e", "&", "a"),
}
"""Names of the places of a count by how many it has; the first is the count itself."""


def place_in_words(bar: Bar, place: int) -> str:
    """Say where a place is.

    Examples
    --------
    >>> from loosehand.parts.grid import Meter
    >>> place_in_words(Bar(Meter((1, 1), 4), 4, ()), 5)
    'count 2, e'
    >>> place_in_words(Bar(Meter((2, 2, 3), 8), 2, ()), 9)
    'count 3, place 2'
    """
    count, place_of_count = count_and_place(bar, place)
    name = _name_of(bar, count, place_of_count)
    return f"count {count}, {name}" if name else f"count {count}"


def short_place(bar: Bar, count: int, place_of_count: int) -> str:
    """Say a place as it is counted aloud.

    Examples
    --------
    >>> from loosehand.parts.grid import Meter
    >>> bar = Bar(Meter((2, 2, 3), 8), 2, ())
    >>> short_place(bar, 1, 0), short_place(bar, 2, 1), short_place(bar, 3, 1)
    ('1', '2 e', '3 place 2')
    """
    return f"{count} {_name_of(bar, count, place_of_count)}".rstrip()


def _name_of(bar: Bar, count: int, place_of_count: int) -> str:
    """Name of a place within its count; none for the count itself."""
    places = bar.meter.grouping[count - 1] * bar.places_per_unit
    names = PLACE_NAMES.get(places)
    if place_of_count == 0 or names is not None:
        return "" if names is None else names[place_of_count]
    return f"place {place_of_count + 1}"


def stroke_in_words(stroke: Stroke) -> str:
    """Say who strikes what, and how.

    Examples
    --------
    >>> stroke_in_words(Stroke(0, "right hand", "hat", ("accent",)))
    'right hand, hat, accent'
    """
    marks = [mark for mark in MARKS if mark in stroke.marks]
    return ", ".join([stroke.limb, stroke.instrument, *marks])
