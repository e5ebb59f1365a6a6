"""Each hand over the tune: runs, fills and rests fill it, and stand where they are played."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from loosehand.parts.demand_strip import hand_strips
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled
from tests.parts.random_parts import parts

HEADING = "tempo: 60\nmeter: 4/4\ngrid: 4\n"


def strips_of(text):
    """Strips of a tune at 60, whose sixteenths last a quarter of a second, by hand."""
    return {strip.limb: strip for strip in hand_strips(unrolled(parse_part(HEADING + text)))}


def test_a_run_a_fill_and_a_rest_stand_where_they_are_played():
    """A count on the hat, one on a tom, a rest of one, and the hat again to the end."""
    (strip,) = strips_of(
        "RH hat      xxxx .... .... xxxx\nRH high tom .... xxxx .... ...."
    ).values()
    assert strip.start_s.tolist() == [0.0, 1.0, 3.0]
    assert strip.end_s.tolist() == [1.0, 2.0, 4.0]
    assert strip.is_fill.tolist() == [False, True, False]
    assert (strip.run_s, strip.fill_s, strip.rest_s) == (2.0, 1.0, 1.0)


def test_a_single_stroke_lasts_one_step():
    """A backbeat of half notes has steps of a quarter: it plays for half of the time."""
    strip = strips_of("RH hat xxxx xxxx xxxx xxxx\nLH snare .... x... .... x...")["left hand"]
    assert strip.start_s.tolist() == [1.0, 3.0]
    assert strip.end_s.tolist() == [2.0, 4.0]


def test_a_stroke_ends_with_the_tune():
    """The last stroke has no more time than is left."""
    (strip,) = strips_of("RH hat x... x... x... ..x.").values()
    assert strip.end_s[-1] == 4.0


def test_each_section_has_its_own_surface():
    """A ride in the chorus is no fill, though the tune is mostly on the hat."""
    (strip,) = strips_of(
        "[a] x4\nRH hat xxxx xxxx xxxx xxxx\n[b]\nRH ride xxxx xxxx xxxx xxxx"
    ).values()
    assert not strip.is_fill.any()
    assert strip.rest_s == 0.0


def test_feet_have_no_strip():
    """Hands only, and only those that play."""
    assert strips_of("RF kick x... x... x... x...") == {}
    assert set(strips_of("LH hat x... x... x... x...")) == {"left hand"}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(parts)
def test_stretches_follow_each_other_within_the_tune(part):
    """None is empty or overlaps the next; run, fill and rest make up the tune."""
    tune = unrolled(part)
    for strip in hand_strips(tune):
        assert np.all(strip.end_s > strip.start_s)
        assert np.all(strip.end_s[:-1] <= strip.start_s[1:] + 1e-9)
        assert strip.end_s[-1] <= tune.duration_s + 1e-9
        assert strip.rest_s >= -1e-6
        assert strip.run_s + strip.fill_s + strip.rest_s == pytest.approx(tune.duration_s)
