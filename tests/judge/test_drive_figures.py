"""Checks of the figures of a drive, read from a reading."""

from loosehand.judge.drive_figures import drive_figures
from loosehand.judge.technique import hear_technique
from loosehand.judge.technique_json import technique_json
from tests.judge.held_scenes import hand


def test_all_that_a_reading_tells_of_a_drive_is_there():
    """Every figure of the technique's JSON comes back with its range; none is left out."""
    body = technique_json(hear_technique(hand(drive=4)))
    figures = [*body["taps_db"], *(each for each in body.values() if "told" in (each or ""))]
    found = [
        {"told": each.told, "low80": each.low80, "high80": each.high80}
        for each in drive_figures(body)
    ]
    assert len(found) == 8
    assert sorted(map(str, found)) == sorted(map(str, figures))


def test_what_is_not_known_is_none_and_keeps_its_row():
    """Of fours, twos, no drive and no technique the rows are the same."""
    bodies = [technique_json(hear_technique(hand(drive=drive))) for drive in (4, 2, 1)]
    found = [drive_figures(body) for body in (*bodies, {})]
    assert len({tuple((each.name, each.unit) for each in rows) for rows in found}) == 1
    known = [[each.told is not None for each in rows] for rows in found]
    assert known[0] == [True] * 8
    assert known[1] == [True, False, False, True, False, True, True, True]
    assert known[2] == known[3] == [False] * 8
