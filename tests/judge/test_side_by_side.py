"""Checks of two readings side by side."""

import pytest

from loosehand.errors import InputError
from loosehand.judge.side_by_side import side_by_side
from loosehand.judge.technique import hear_technique
from loosehand.judge.technique_json import technique_json
from tests.judge.held_scenes import hand
from tests.judge.test_main_fault import trending


def body(held, **changed):
    """Return the parts of a reading that are compared."""
    slope = {"told": 0.0, "low80": -0.5, "high80": 0.5}
    return {
        "hand": "left",
        "tempo_bpm": 100.0,
        "places_per_count": 4,
        "counts_offered": 100,
        "count_held": 100,
        "clean_counts": 98,
        "evenness": {
            "asynchrony_sd_ms": 8.0,
            "interval_sd_ms": 9.0,
            "level_spread_db": 1.0,
            "level_slope_db_per_minute": slope,
        },
        "technique": technique_json(hear_technique(held)),
    } | changed


def rows(comparison):
    """Rows by their names."""
    return {row.name: row for row in comparison.rows}


def test_two_techniques_side_by_side():
    """Fours and twos stand beside each other with their contrast and its plain difference."""
    fours, twos = body(hand(drive=4, contrast_db=9.0)), body(hand(drive=2, contrast_db=6.0))
    comparison = side_by_side(fours, twos)
    assert comparison.drives == (4, 2)
    contrast = rows(comparison)["accent above the taps"]
    assert contrast.difference == pytest.approx(-3.0, abs=0.6)
    assert contrast.plain is True
    assert rows(comparison)["slope of the level"].plain is False


def test_the_strokes_of_a_drive_and_their_gaps_are_compared():
    """Each further stroke of fours beside the one of twos, and how far the gaps were crushed."""
    fours, twos = body(hand(drive=4, contrast_db=9.0)), body(hand(drive=2, contrast_db=6.0))
    found = rows(side_by_side(fours, twos))
    second = found["2nd stroke below the accent"]
    assert (second.first, second.second) == pytest.approx((9.0, 6.0), abs=0.6)
    assert second.plain is True
    assert found["4th stroke below the accent"].first == pytest.approx(9.0, abs=0.6)
    assert found["4th stroke below the accent"].second is None
    crushed = body(trending(hand(drive=4), 4, gap_ms=-12.0))
    gaps = rows(side_by_side(fours, crushed))["growth of the gaps in a drive"]
    assert gaps.difference == pytest.approx(-12.0, abs=3.0)
    assert gaps.plain is True


def test_the_hold_is_compared_in_counts_and_seconds():
    """A hold of 100 and one of 40 counts at 100 a minute differ by 36 seconds."""
    found = rows(side_by_side(body(hand()), body(hand(), count_held=40)))
    assert found["counts held"].difference == -60
    assert found["held for"].difference == pytest.approx(-36.0)
    assert found["held for"].plain is None


def test_what_one_does_not_know_has_no_difference():
    """A reading without technique, or not judged, leaves its side open."""
    empty = body(hand(), technique={}, evenness={}, count_held=None, clean_counts=None)
    comparison = side_by_side(empty, body(hand(drive=3)))
    assert comparison.drives == (None, 3)
    assert {row.difference for row in comparison.rows} == {None}


def test_a_different_task_is_said():
    """Another tempo and another hand are said; a clock that is a little off is not."""
    one = body(hand())
    notes = side_by_side(one, body(hand(), tempo_bpm=110.0, hand="right")).notes
    assert "The two takes are of different tempos: 100.0 and 110.0." in notes
    assert "The two takes are of different hands: left and right." in notes
    assert len(side_by_side(one, body(hand(), tempo_bpm=100.004)).notes) == 1


def test_two_hands_are_refused():
    """An alternating reading is refused, and which one is said."""
    with pytest.raises(InputError, match="the second reading is of two hands"):
        side_by_side(body(hand()), body(hand(), hand="alternating"))
