"""Checks of accents against a map."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import BadNotation, TooFewStrokes
from loosehand.judge.accents import LEAST_CONTRAST_DB, accents_heard
from tests.judge.held_scenes import hand, some

MAP = (0, 3, 6, 10)


def played(accented, *, contrast_db=9.0, seed=3):
    """A hand that accents some of its strokes."""
    held = hand(seed, strokes=320)
    return replace(held, level_db=held.level_db + np.where(accented, contrast_db, 0.0))


def asked(places=320):
    """Which strokes ought to be accented."""
    return np.isin(np.arange(places) % 16, MAP)


def test_a_map_played_as_asked_is_all_hits():
    """Every accent asked for is heard, none is false, and the contrast is right."""
    found = accents_heard(played(asked()), MAP, 16)
    assert (found.due, found.hits, found.misses, found.false_accents) == (80, 80, 0, 0)
    assert found.contrast_db == pytest.approx(9.0, abs=0.4)
    assert found.note is None


def test_misses_and_false_accents_are_named():
    """Accents left out and accents on wrong places are counted and named."""
    accented = asked()
    accented[[0, 32, 102]] = False
    accented[[5, 200]] = True
    found = accents_heard(played(accented), MAP, 16)
    assert found.missed_places.tolist() == [0, 32, 102]
    assert found.false_places.tolist() == [5, 200]
    assert (found.hits, found.misses, found.false_accents) == (77, 3, 2)


def test_a_due_place_not_heard_is_missed():
    """A place that ought to be accented and has no stroke is a miss."""
    held = played(asked())
    found = accents_heard(some(held, held.place_index != 19), MAP, 16)
    assert found.missed_places.tolist() == [19]


def test_a_map_that_is_not_played_is_not_forced_on():
    """A hand that accents every fourth stroke is heard doing that, whatever was asked."""
    found = accents_heard(played(np.arange(320) % 4 == 0), (1, 6, 11), 16)
    assert found.hits == 0
    assert found.false_accents == 80


def test_even_strokes_have_no_accents():
    """Without a contrast of 3 dB no accents are told, and all that were due are missed."""
    found = accents_heard(played(asked(), contrast_db=0.0), MAP, 16)
    assert found.contrast_db is None
    assert (found.hits, found.misses) == (0, 80)
    assert f"{LEAST_CONTRAST_DB:g} dB" in found.note


def test_a_hand_that_fades_keeps_its_accents():
    """Levels that fall by 12 dB over the take hide no accent."""
    held = played(asked())
    fading = replace(held, level_db=held.level_db - 12.0 * np.arange(320) / 320)
    assert accents_heard(fading, MAP, 16).hits == 80


@pytest.mark.parametrize(
    ("accent_map", "match"),
    [((16,), "place 16: want 0 to 15"), ((), "0 of 16 places"), (tuple(range(16)), "16 of 16")],
)
def test_bad_maps_are_refused(accent_map, match):
    """A map outside the bar, an empty one and a full one are refused."""
    with pytest.raises(BadNotation, match=match):
        accents_heard(hand(), accent_map, 16)


def test_too_few_strokes_are_refused():
    """Fifteen strokes tell no accents."""
    with pytest.raises(TooFewStrokes, match="16 strokes to be told, got 15"):
        accents_heard(hand(strokes=15), MAP, 16)
