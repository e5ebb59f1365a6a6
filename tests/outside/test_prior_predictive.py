"""What is expected of a hand of which nothing was heard, against rules of thumb of the trade."""

from datetime import date

import numpy as np
import pytest

from loosehand.reach.fit import expect_of_nobody
from loosehand.reach.seen import HandKind

NOBODY = expect_of_nobody(HandKind("left", None, "pad", None, 4), as_of=date(2027, 1, 4))
ROUNDS = 40_000


def holds_s(tempo_bpm):
    """Return hold times of simulated rounds of hands of which nothing was heard."""
    return NOBODY.draw_hold_s(tempo_bpm, np.random.default_rng(110), ROUNDS)


@pytest.mark.published(
    source="common practice, no source",
    locator="one-handed sixteenths, a minute at 110: a rare ability",
    kind="common-practice",
)
def test_a_minute_at_110_is_rare():
    """A minute at 110 is held by more than 1 and fewer than 10 of 100 hands not yet heard."""
    assert 0.01 < NOBODY.chance_of_holding(tempo_bpm=110.0, time_s=60.0) < 0.10
    assert 0.01 < (holds_s(110.0) >= 60.0).mean() < 0.10


@pytest.mark.published(
    source="common practice, no source",
    locator="one-handed sixteenths at 140: lost within four counts, 16 counts very rare",
    kind="common-practice",
)
def test_at_140_four_counts_are_usual_and_sixteen_very_rare():
    """At 140 the median hold is 4 counts or fewer, and fewer than 5 of 100 hands hold 16."""
    count_s = 60.0 / 140.0
    assert NOBODY.hold_time_s(140.0).median <= 4.0 * count_s
    assert np.median(holds_s(140.0)) <= 4.0 * count_s
    assert NOBODY.chance_of_holding(tempo_bpm=140.0, time_s=16.0 * count_s) < 0.05
    assert (holds_s(140.0) >= 16.0 * count_s).mean() < 0.05
