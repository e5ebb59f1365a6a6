"""The smallest displacement of one stroke that is heard, against the published threshold."""

import pytest

from loosehand.judge.place_faults import heard_displacement_ms
from loosehand.judge.technique import hear_technique
from tests.judge.held_scenes import hand, shifted

FRIBERG = (
    "Friberg, A., Sundberg, J. (1995), Time discrimination in a monotonic, isochronous sequence, "
    "J. Acoust. Soc. Am. 98(5):2524-2531"
)


@pytest.mark.published(
    source=FRIBERG,
    locator="abstract: about 6 ms below intervals of about 240 ms, 2.5 % above, 100 to 1000 ms",
    kind="printed",
)
@pytest.mark.parametrize(
    ("interval_ms", "threshold_ms"),
    [
        (100.0, 6.0),
        (150.0, 6.0),
        (200.0, 6.0),
        (240.0, 6.0),
        (300.0, 7.5),
        (400.0, 10.0),
        (600.0, 15.0),
        (1000.0, 25.0),
    ],
)
def test_threshold_by_interval(interval_ms, threshold_ms):
    """Below 240 ms it is 6 ms, above it 2.5 % of the interval."""
    assert heard_displacement_ms(interval_ms) == pytest.approx(threshold_ms)


@pytest.mark.published(
    source=FRIBERG,
    locator="abstract: about 6 ms below intervals of about 240 ms, 2.5 % above, 100 to 1000 ms",
    kind="printed",
)
@pytest.mark.parametrize("interval_ms", [100.0, 150.0, 240.0, 400.0, 1000.0])
def test_a_main_fault_lies_above_the_threshold(interval_ms):
    """A place late by half as much again is the main fault, one late by half of it is none."""
    named = []
    for share in (0.5, 1.5):
        held = hand(spread_ms=2.0, place_s=1e-3 * interval_ms)
        held = shifted(held, 2, late_ms=share * heard_displacement_ms(interval_ms))
        named.append(hear_technique(held).main_fault)
    assert named[0] is None
    assert (named[1].place, named[1].kind) == (2, "late")
