"""The three laws as curves: shape, inverse, and where they end."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.reach.laws import (
    LAWS,
    Curve,
    log_time_by_draw,
    log_time_of_excess,
    shape_by_draw,
    shape_of_time,
)

TIME_S = np.geomspace(0.5, 7200.0, 60)
curves = st.builds(
    Curve,
    law=st.sampled_from(LAWS),
    minute_bpm=st.floats(40.0, 200.0),
    steepness_bpm=st.floats(0.2, 15.0),
    top_s=st.floats(0.1, 20.0),
)


@pytest.mark.parametrize("law", LAWS)
def test_the_shape_is_nought_at_a_minute_and_falls(law):
    """At 60 s the shape is 0, before it greater, after it less, and it falls all the way."""
    shape = shape_of_time(law, TIME_S, top_s=2.0)
    assert shape_of_time(law, np.array([60.0]), top_s=2.0)[0] == pytest.approx(0.0, abs=1e-12)
    assert (np.diff(shape) < 0.0).all()
    assert shape[0] > 0.0 > shape[-1]


def test_the_shapes_are_what_their_formulas_say():
    """At 10 s: 60/10 - 1, 62/12 - 1, ln 6; worked by hand from the forms of the laws."""
    found = [float(shape_of_time(law, np.array([10.0]), top_s=2.0)[0]) for law in LAWS]
    assert found == pytest.approx([5.0, 62.0 / 12.0 - 1.0, math.log(6.0)])


def test_curves_of_each_law_at_figures_worked_by_hand():
    """S + R/t with S = 90, R = 300; the same with t0 = 4; 95 - 4 ln(t/60): at 30 s and 240 s."""
    hyperbola = Curve("hyperbolic", 95.0, 5.0)
    assert hyperbola.tempo_bpm(np.array([30.0, 240.0])) == pytest.approx([100.0, 91.25])
    topped = Curve.from_critical_rate(90.0, 320.0, top_rate=170.0)
    assert topped.law == "top rate"
    assert topped.top_s == pytest.approx(4.0)
    assert topped.tempo_bpm(np.array([30.0, 240.0])) == pytest.approx(
        [90.0 + 320.0 / 34.0, 90.0 + 320.0 / 244.0]
    )
    logarithm = Curve("log-linear", 95.0, 4.0)
    assert logarithm.tempo_bpm(240.0) == pytest.approx(95.0 - 4.0 * math.log(4.0))


@given(curve=curves, time_s=st.floats(0.05, 7200.0))
def test_curve_and_inverse_undo_each_other(curve, time_s):
    """The time of the tempo of a time is that time again."""
    assert float(curve.time_s(curve.tempo_bpm(time_s))) == pytest.approx(time_s, rel=1e-6)


@given(curve=curves, time_s=st.floats(0.5, 3600.0))
def test_a_longer_time_is_held_at_a_lower_tempo_only(curve, time_s):
    """A tenth more time costs tempo; a tempo of one more costs time."""
    tempo_bpm = float(curve.tempo_bpm(time_s))
    assert float(curve.tempo_bpm(1.1 * time_s)) < tempo_bpm
    assert float(curve.time_s(tempo_bpm + 1.0)) < time_s


@pytest.mark.parametrize("law", ["hyperbolic", "top rate"])
def test_at_and_under_the_sustainable_tempo_there_is_no_end(law):
    """The sustainable tempo lies a steepness under the minute's, and is what endless time nears."""
    curve = Curve(law, 95.0, 1.5, 2.0 if law == "top rate" else 0.0)
    assert curve.sustainable_bpm == 93.5
    assert math.isinf(float(curve.time_s(93.5)))
    assert math.isinf(float(curve.time_s(60.0)))
    assert float(curve.time_s(93.6)) < math.inf
    assert float(curve.tempo_bpm(1e9)) == pytest.approx(93.5, abs=1e-6)


def test_the_log_linear_law_has_no_sustainable_tempo():
    """It falls for ever: no sustainable tempo, and a finite time at every tempo."""
    curve = Curve("log-linear", 95.0, 3.0)
    assert curve.sustainable_bpm is None
    assert curve.top_bpm is None
    assert math.isfinite(float(curve.time_s(60.0)))


def test_over_the_top_rate_nothing_is_held():
    """The top tempo is what no time nears; over it, the hold time is no longer than 1 ms."""
    curve = Curve.from_critical_rate(90.0, 320.0, top_rate=170.0)
    assert curve.top_bpm == pytest.approx(170.0)
    assert curve.sustainable_bpm == pytest.approx(90.0)
    assert float(curve.tempo_bpm(1e-9)) == pytest.approx(170.0)
    assert float(curve.time_s(200.0)) == pytest.approx(1e-3)
    assert Curve("hyperbolic", 95.0, 1.5).top_bpm is None


@pytest.mark.parametrize("law", LAWS)
def test_the_log_of_the_time_never_is_no_number(law):
    """From far under to far over the minute's tempo the log of the time is a number or inf."""
    found = log_time_of_excess(law, np.array([-1e6, -1.0, 0.0, 1.0, 1e6]), top_s=1.0)
    assert not np.isnan(found).any()
    assert (np.diff(found[np.isfinite(found)]) < 0.0).all()
    assert found[2] == pytest.approx(math.log(60.0))


def test_each_draw_has_its_own_law():
    """Draw by draw, shape and hold time are those of the draw's law and time constant."""
    law, top_s = np.array([2, 0, 1, 1]), np.array([0.0, 0.0, 1.0, 4.0])
    excess, time_s = np.array([1.0, 2.0, 3.0, -0.5]), np.array([10.0, 240.0])
    shape = shape_by_draw(law, time_s, top_s=top_s)
    log_time = log_time_by_draw(law, excess, top_s=top_s)
    for row, place in enumerate(law):
        own = shape_of_time(LAWS[place], time_s, top_s=float(top_s[row]))
        assert shape[row].tolist() == own.tolist()
        one = log_time_of_excess(LAWS[place], excess[row : row + 1], top_s=float(top_s[row]))
        assert log_time[row] == one[0]
