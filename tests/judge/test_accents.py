"""Checks of accents against a map."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.errors import BadNotation, TooFewStrokes
from loosehand.judge.accents import (
    LEAST_CONTRAST_DB,
    LEAST_OF_A_CLASS,
    accents_heard,
    level_as_asked,
    tells_of_accents,
)
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
    found = accents_heard(played(asked()), MAP, 16, held_places=320)
    assert (found.due, found.hits, found.misses, found.false_accents) == (80, 80, 0, 0)
    assert found.contrast_db == pytest.approx(9.0, abs=0.4)
    assert found.note is None


def test_misses_and_false_accents_are_named():
    """Accents left out and accents on wrong places are counted and named."""
    accented = asked()
    accented[[0, 32, 102]] = False
    accented[[5, 200]] = True
    found = accents_heard(played(accented), MAP, 16, held_places=320)
    assert found.missed_places.tolist() == [0, 32, 102]
    assert found.false_places.tolist() == [5, 200]
    assert (found.hits, found.misses, found.false_accents) == (77, 3, 2)


def test_a_due_place_not_heard_is_missed():
    """A place that ought to be accented and has no stroke is a miss."""
    held = played(asked())
    found = accents_heard(some(held, held.place_index != 19), MAP, 16, held_places=320)
    assert found.missed_places.tolist() == [19]


def test_due_places_before_the_first_stroke_and_after_the_last_are_missed():
    """What is due before the break is missed if silent, wherever the strokes begin and end."""
    held = played(asked())
    kept = (held.place_index > 3) & (held.place_index < 314)
    found = accents_heard(some(held, kept), MAP, 16, held_places=320)
    assert found.missed_places.tolist() == [0, 3, 314]
    assert (found.due, found.hits, found.misses) == (80, 77, 3)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("level_class", "offset_db"),
    [
        (np.where(np.isin(np.arange(16), (0, 4, 8, 12)), 0, 1), (0.0, -12.0)),
        (np.where(np.isin(np.arange(16), (4, 12)), 1, 0), (0.0, 10.0)),
        (np.arange(16) // 8, (-6.0, 6.0)),
    ],
)
def test_levels_asked_for_otherwise_are_no_accents(level_class, offset_db, seed):
    """Ghost notes, a move to a louder drum, a dynamic: no accent more or less than was played."""
    accented = np.isin(np.arange(320) % 16, (0, 8))
    accented[[16, 104]] = False
    accented[[36, 204]] = True
    held = played(accented, contrast_db=7.0, seed=seed)
    own = np.array(offset_db)[level_class[np.arange(320) % 16]]
    held = replace(held, level_db=held.level_db + own)
    found = accents_heard(held, (0, 8), 16, held_places=320, level_class=level_class)
    assert found.missed_places.tolist() == [16, 104]
    assert found.false_places.tolist() == [36, 204]
    assert found.contrast_db == pytest.approx(7.0, abs=0.5)
    blind = accents_heard(held, (0, 8), 16, held_places=320)
    assert blind.false_accents + blind.misses > 20


def test_a_class_with_too_few_plain_strokes_cannot_be_told():
    """Seven loud strokes of their own class: those asked for are not due, the others not false."""
    level_class = np.zeros(320, dtype=np.int64)
    level_class[:56:4] = 1
    held = played(asked())
    loud = replace(held, level_db=held.level_db + 12.0 * level_class)
    map_of_all = tuple(np.flatnonzero(asked() | (level_class == 1) & (np.arange(320) % 8 == 0)))
    assert (
        np.count_nonzero(level_class) - np.isin(np.flatnonzero(level_class), map_of_all).sum() < 8
    )
    found = accents_heard(loud, map_of_all, 320, held_places=320, level_class=level_class)
    untold = [place for place in map_of_all if level_class[place]]
    assert found.untold_places.tolist() == untold
    assert found.due == len(map_of_all) - len(untold)
    assert (found.misses, found.false_accents) == (0, 0)
    silent = some(loud, loud.place_index != untold[0])
    missed = accents_heard(silent, map_of_all, 320, held_places=320, level_class=level_class)
    assert missed.missed_places.tolist() == untold[:1]


def test_strokes_that_all_lack_plain_ones_are_refused():
    """Each class of four strokes: nothing to stand out from."""
    with pytest.raises(TooFewStrokes, match=f"need {LEAST_OF_A_CLASS} strokes without one"):
        accents_heard(hand(strokes=64), (0,), 16, held_places=64, level_class=np.arange(16))


def test_strokes_of_classes_with_plain_ones_tell():
    """Eight plain ones do, seven do not; of no strokes none do."""
    level_class = np.repeat([0, 1], (9, 8))
    one_each = np.isin(np.arange(17), (0, 9))
    assert tells_of_accents(level_class, one_each).tolist() == [True] * 9 + [False] * 8
    assert tells_of_accents(level_class[:0], one_each[:0]).size == 0


def test_what_is_asked_for_is_taken_off_the_level():
    """Classes and accents that came are gone, and the hand's own soft place stays."""
    soft = np.arange(320) % 4 == 2
    level_class = np.where(np.arange(320) % 8 == 4, 1, 0)
    came = asked() & (np.arange(320) > 40)
    held = played(came)
    held = replace(held, level_db=held.level_db + 10.0 * level_class - 3.0 * soft)
    taken = level_as_asked(held, asked=asked(), came=came, level_class=level_class)
    assert taken.mean() == pytest.approx(0.0, abs=1e-9)
    own = held.level_db - taken
    assert np.ptp([own[came].mean() + 0.9, own[~came].mean() + 0.9]) < 0.6
    assert own[level_class == 1].mean() - own[level_class == 0].mean() == pytest.approx(0, abs=0.6)
    assert own[soft].mean() - own[~soft].mean() == pytest.approx(-3.0, abs=0.6)


def test_an_accent_that_cannot_be_told_from_its_class_is_taken_off_whole():
    """Four loud accents on a drum of their own leave nothing loud behind."""
    level_class = np.zeros(320, dtype=np.int64)
    level_class[[0, 64, 128, 192]] = 1
    held = hand(3, strokes=320)
    loud = replace(held, level_db=held.level_db + 14.0 * level_class)
    taken = level_as_asked(
        loud, asked=level_class == 1, came=np.zeros(320, dtype=bool), level_class=level_class
    )
    assert abs((loud.level_db - taken)[level_class == 1].mean()) < 0.6


def test_a_map_that_is_not_played_is_not_forced_on():
    """A hand that accents every fourth stroke is heard doing that, whatever was asked."""
    found = accents_heard(played(np.arange(320) % 4 == 0), (1, 6, 11), 16, held_places=320)
    assert found.hits == 0
    assert found.false_accents == 80


def test_even_strokes_have_no_accents():
    """Without a contrast of 3 dB no accents are told, and all that were due are missed."""
    found = accents_heard(played(asked(), contrast_db=0.0), MAP, 16, held_places=320)
    assert found.contrast_db is None
    assert (found.hits, found.misses) == (0, 80)
    assert f"{LEAST_CONTRAST_DB:g} dB" in found.note


def test_a_hand_that_fades_keeps_its_accents():
    """Levels that fall by 12 dB over the take hide no accent."""
    held = played(asked())
    fading = replace(held, level_db=held.level_db - 12.0 * np.arange(320) / 320)
    assert accents_heard(fading, MAP, 16, held_places=320).hits == 80


@pytest.mark.parametrize(
    ("accent_map", "match"),
    [((16,), "place 16: want 0 to 15"), ((), "0 of 16 places"), (tuple(range(16)), "16 of 16")],
)
def test_bad_maps_are_refused(accent_map, match):
    """A map outside the bar, an empty one and a full one are refused."""
    with pytest.raises(BadNotation, match=match):
        accents_heard(hand(), accent_map, 16, held_places=320)


def test_too_few_strokes_are_refused():
    """Fifteen strokes tell no accents."""
    with pytest.raises(TooFewStrokes, match="16 strokes to be told, got 15"):
        accents_heard(hand(strokes=15), MAP, 16, held_places=320)
