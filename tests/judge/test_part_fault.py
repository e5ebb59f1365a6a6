"""What is most worth working at in a take of a part."""

import numpy as np
import pytest

from loosehand.judge.accents import AccentsHeard
from loosehand.judge.main_fault import COMMON_ACCENT_DB, MainFault
from loosehand.judge.part_fault import (
    ACCENT_FAULT_KINDS,
    accents_fault,
    larger_fault,
    spread_of_plain_db,
)
from loosehand.parts.techniques import CURES

NONE = np.zeros(0, dtype=np.int64)
MISSED, UNASKED = ACCENT_FAULT_KINDS


def heard(*, due=30, misses=0, false=0, plain=160, contrast_db=9.0):
    """Accents as heard, their places left out."""
    hits = due - misses
    return AccentsHeard(
        due, hits, misses, false, plain, contrast_db, NONE, NONE, NONE, NONE, note=None
    )


def fault_of(*, spread_db=1.0, **how):
    """Name the fault of accents as heard, above plain strokes of some spread."""
    return accents_fault(heard(**how), spread_db=spread_db)


def late(effect):
    """A place that is late."""
    return MainFault("late", 0, effect, "ms", effect - 1, effect + 1)


def test_each_kind_has_a_cure():
    """So that one can be shown."""
    assert all(CURES[kind] for kind in ACCENT_FAULT_KINDS)


@pytest.mark.parametrize(
    ("misses", "due", "named"), [(5, 30, False), (6, 30, True), (2, 2, False), (3, 3, True)]
)
def test_misses_are_named_from_where_they_are_plain(misses, due, named):
    """Three or more, and the share above 0.05 by three standard errors."""
    fault = fault_of(due=due, misses=misses)
    assert (fault is not None and fault.kind == MISSED) == named


def test_many_misses_of_very_many_may_be_the_ears():
    """Fifty of a thousand are what it may miss; a hundred are not."""
    assert fault_of(due=1000, misses=50) is None
    assert fault_of(due=1000, misses=100).kind == MISSED


def test_unasked_ones_are_named_from_where_they_are_plain():
    """Against the plain strokes, of which 0.02 may be the ear's."""
    assert fault_of(false=7) is None
    assert fault_of(false=12).kind == UNASKED


def test_the_larger_of_both_is_named_in_decibels():
    """Height times the share missed, or times the share of the accents heard."""
    fault = fault_of(misses=10, false=40)
    assert (fault.kind, fault.place, fault.unit) == (UNASKED, None, "dB")
    assert fault.effect == pytest.approx(9.0 * 40 / 60)
    assert 0.0 < fault.low < fault.effect < fault.high < 9.0
    assert fault_of(misses=20, false=10).effect == pytest.approx(6.0)


def test_a_map_that_does_not_stand_out_at_all_is_missed():
    """By the height that accents commonly have."""
    fault = fault_of(misses=30, contrast_db=None)
    assert (fault.kind, fault.effect) == (MISSED, COMMON_ACCENT_DB)


def test_nothing_due_is_no_fault():
    """Nor is a take in which all came."""
    assert fault_of(due=0) is None
    assert fault_of() is None


@pytest.mark.parametrize(
    ("spread_db", "misses", "named"),
    [(1.0, 12, True), (3.0, 12, False), (3.0, 18, True), (4.4, 18, False), (4.4, 30, True)],
)
def test_what_the_overlap_alone_makes_wrong_is_no_fault(spread_db, misses, named):
    """Nine decibels over a spread of 3 put Phi(-1.5) = 0.07 wrong, over 4.4 Phi(-1.02) = 0.15."""
    assert (fault_of(due=100, misses=misses, spread_db=spread_db) is not None) == named


def test_unasked_ones_of_the_overlap_are_no_fault():
    """A fourteenth of 160 plain strokes over a spread of 3, as many of them as are wrong by it."""
    assert fault_of(false=12, spread_db=1.0) is not None
    assert fault_of(false=12, spread_db=3.0) is None
    assert fault_of(false=30, spread_db=3.0).kind == UNASKED


def test_accents_less_than_two_spreads_high_have_no_fault():
    """Which of them came cannot be told; but that none stands out at all can."""
    assert fault_of(misses=25, false=80, contrast_db=4.0, spread_db=2.1) is None
    assert fault_of(misses=25, contrast_db=4.0, spread_db=1.9).kind == MISSED
    assert fault_of(misses=30, contrast_db=None, spread_db=2.6).kind == MISSED


@pytest.mark.parametrize("spread_db", [1.0, 3.0])
def test_the_spread_is_that_of_plain_strokes_alike(spread_db):
    """A class that is louder, a slow bend and accents that nobody asked for add nothing to it."""
    rng = np.random.default_rng(3)
    level_class = np.repeat([0, 1], 1000)
    level_db = rng.normal(0.0, spread_db, 2000) + 10.0 * level_class
    level_db += 3.0 * np.sin(np.arange(2000) / 150.0)
    level_db[rng.random(2000) < 0.1] += 9.0
    found = spread_of_plain_db(level_db, level_class)
    assert found == pytest.approx(spread_db, rel=0.2)
    assert spread_of_plain_db(level_db[:0], level_class[:0]) == 0.0


def test_the_fault_that_is_more_times_what_is_heard_is_the_larger():
    """Three decibels are twice 1.5; 15 ms are two and a half times 6."""
    accents = MainFault(MISSED, None, 3.0, "dB", 2.0, 4.0)
    assert larger_fault(late(15.0), accents, place_ms=150.0).kind == "late"
    assert larger_fault(late(11.0), accents, place_ms=150.0) is accents
    assert larger_fault(late(15.0), accents, place_ms=600.0) is accents
    assert larger_fault(None, accents, place_ms=150.0) is accents
    assert larger_fault(late(12.0), accents, place_ms=150.0).kind == "late"
    assert larger_fault(None, None, place_ms=150.0) is None
