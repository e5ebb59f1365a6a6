"""What is most worth working at in a take of a part."""

import numpy as np
import pytest

from loosehand.judge.accents import AccentsHeard
from loosehand.judge.main_fault import COMMON_ACCENT_DB, MainFault
from loosehand.judge.part_fault import ACCENT_FAULT_KINDS, accents_fault, larger_fault
from loosehand.parts.techniques import CURES

NONE = np.zeros(0, dtype=np.int64)
MISSED, UNASKED = ACCENT_FAULT_KINDS


def heard(*, due=30, misses=0, false=0, plain=160, contrast_db=9.0):
    """Accents as heard, their places left out."""
    hits = due - misses
    return AccentsHeard(
        due, hits, misses, false, plain, contrast_db, NONE, NONE, NONE, NONE, note=None
    )


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
    fault = accents_fault(heard(due=due, misses=misses))
    assert (fault is not None and fault.kind == MISSED) == named


def test_many_misses_of_very_many_may_be_the_ears():
    """Fifty of a thousand are what it may miss; a hundred are not."""
    assert accents_fault(heard(due=1000, misses=50)) is None
    assert accents_fault(heard(due=1000, misses=100)).kind == MISSED


def test_unasked_ones_are_named_from_where_they_are_plain():
    """Against the plain strokes, of which 0.02 may be the ear's."""
    assert accents_fault(heard(false=7)) is None
    assert accents_fault(heard(false=12)).kind == UNASKED


def test_the_larger_of_both_is_named_in_decibels():
    """Height times the share missed, or times the share of the accents heard."""
    fault = accents_fault(heard(misses=10, false=40))
    assert (fault.kind, fault.place, fault.unit) == (UNASKED, None, "dB")
    assert fault.effect == pytest.approx(9.0 * 40 / 60)
    assert 0.0 < fault.low < fault.effect < fault.high < 9.0
    assert accents_fault(heard(misses=20, false=10)).effect == pytest.approx(6.0)


def test_a_map_that_does_not_stand_out_at_all_is_missed():
    """By the height that accents commonly have."""
    fault = accents_fault(heard(misses=30, contrast_db=None))
    assert (fault.kind, fault.effect) == (MISSED, COMMON_ACCENT_DB)


def test_nothing_due_is_no_fault():
    """Nor is a take in which all came."""
    assert accents_fault(heard(due=0)) is None
    assert accents_fault(heard()) is None


def test_the_fault_that_is_more_times_what_is_heard_is_the_larger():
    """Three decibels are twice 1.5; 15 ms are two and a half times 6."""
    accents = MainFault(MISSED, None, 3.0, "dB", 2.0, 4.0)
    assert larger_fault(late(15.0), accents, place_ms=150.0).kind == "late"
    assert larger_fault(late(11.0), accents, place_ms=150.0) is accents
    assert larger_fault(late(15.0), accents, place_ms=600.0) is accents
    assert larger_fault(None, accents, place_ms=150.0) is accents
    assert larger_fault(late(12.0), accents, place_ms=150.0).kind == "late"
    assert larger_fault(None, None, place_ms=150.0) is None
