"""Checks of the plots of the places of a count."""

from loosehand.web.plots.take_places import draw_places
from tests.web.plots.take_pictures import SVG, parsed, starts, words_in

PLACES = [
    {"place": 0, "timing_ms": -3.0, "timing_error_ms": 0.5, "level_db": 4.0},
    {"place": 1, "timing_ms": 3.0, "timing_error_ms": None, "level_db": -4.0},
]


def test_places_early_above_and_louder_above():
    """By place, early lies above late and louder above softer; each has its figure."""
    places = [place | {"level_error_db": 1.0} for place in PLACES]
    drawn = draw_places(places, ("1", "&"), kind="timing", name="t", title="Timing")
    timing = parsed(drawn)
    first, second = (
        starts(path)[0] for path in timing.iter(f"{SVG}path") if path.get("class") == "count-dots"
    )
    assert first[1] < second[1]
    assert {"\N{MINUS SIGN}3.0", "+3.0", "1", "&", "early", "late"} <= set(words_in(timing))
    level = parsed(draw_places(places, ("1", "&"), kind="level", name="l", title="Level"))
    loud, soft = (float(bar.get("y")) for bar in level.iter(f"{SVG}rect"))
    assert loud < soft


def test_a_place_that_is_not_known_is_left_out():
    """A place without a figure has no mark, and the others stay where they are."""
    known = PLACES[1] | {"level_error_db": None}
    names = ("1", "&")
    only = parsed(draw_places([known], names, kind="level", name="l", title="Level"))
    both = parsed(
        draw_places(
            [PLACES[0] | {"level_db": None, "level_error_db": None}, known],
            names,
            kind="level",
            name="l",
            title="Level",
        )
    )
    bars = [[bar.get("x") for bar in root.iter(f"{SVG}rect")] for root in (only, both)]
    assert bars[0] == bars[1]
    assert len(bars[0]) == 1
