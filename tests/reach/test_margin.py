"""By how much a hand outlasts a time: its forms at the edges, its slopes, its order."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.reach.laws import LAWS, Curve
from loosehand.reach.margin import Noise, margin

STEP = 1e-5
NOISE = Noise(0.9, 0.25)
TIME_S = np.array([3.0, 12.0, 40.0, 60.0, 61.0, 90.0, 200.0, 900.0])


def margin_at(law, time_s, tempo_bpm, *, minute=95.0, log_steepness=0.5, log_top=1.0, noise=NOISE):
    """Return the margins of times at tempos on one curve."""
    time, tempo = np.broadcast_arrays(
        np.atleast_1d(np.asarray(time_s, dtype=float)), np.asarray(tempo_bpm, dtype=float)
    )
    return margin(
        law,
        time_s=time,
        tempo_bpm=tempo,
        minute_bpm=np.full(time.shape, minute),
        steepness_bpm=float(np.exp(log_steepness)),
        top_s=float(np.exp(log_top)) if law == "top rate" else 0.0,
        noise=noise,
    )


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("tempo_bpm", [88.0, 93.2, 93.5, 95.1, 99.0, 110.0])
@pytest.mark.parametrize("name", ["minute", "log_steepness", "log_top"])
def test_the_slopes_are_those_of_finite_differences(law, tempo_bpm, name):
    """Moving the minute's tempo, steepness or time constant moves the margin as its slope says."""
    usual = {"minute": 95.0, "log_steepness": 0.5, "log_top": 1.0}
    up, down = (
        margin_at(law, TIME_S, tempo_bpm, **(usual | {name: usual[name] + step})).z
        for step in (STEP, -STEP)
    )
    told = getattr(margin_at(law, TIME_S, tempo_bpm, **usual), f"by_{name}")
    assert told == pytest.approx((up - down) / (2 * STEP), rel=1e-4, abs=1e-4)


@pytest.mark.parametrize("law", LAWS)
def test_on_the_curve_the_margin_is_nought(law):
    """At the tempo of the curve a time is outlasted with even chance, up to a few hundredths."""
    curve = Curve(law, 95.0, float(np.exp(0.5)), float(np.e) if law == "top rate" else 0.0)
    time_s = np.array([3.0, 12.0, 60.0, 120.0])
    assert margin_at(law, time_s, curve.tempo_bpm(time_s)).z == pytest.approx(np.zeros(4), abs=0.02)


@pytest.mark.parametrize("law", LAWS)
def test_with_hardly_any_time_noise_the_margin_is_the_tempo_to_spare(law):
    """It is the curve's tempo over the one played, in spreads of the tempo noise."""
    curve = Curve(law, 95.0, float(np.exp(0.5)), float(np.e) if law == "top rate" else 0.0)
    time_s = np.array([6.0, 20.0, 60.0, 100.0])
    tempo_bpm = np.array([99.0, 97.0, 96.0, 95.5])
    found = margin_at(law, time_s, tempo_bpm, noise=Noise(0.8, 1e-6)).z
    assert found == pytest.approx((curve.tempo_bpm(time_s) - tempo_bpm) / 0.8, rel=1e-3)


@pytest.mark.parametrize("law", LAWS)
def test_with_hardly_any_tempo_noise_the_margin_is_the_log_time_to_spare(law):
    """Well over the sustainable tempo it is log of hold time over time, in spreads of that."""
    curve = Curve(law, 95.0, float(np.exp(0.5)), float(np.e) if law == "top rate" else 0.0)
    time_s = np.array([6.0, 20.0, 40.0])
    tempo_bpm = np.array([99.0, 98.0, 96.0])
    found = margin_at(law, time_s, tempo_bpm, noise=Noise(1e-6, 0.25)).z
    told = np.log(curve.time_s(tempo_bpm) / time_s) / 0.25
    assert found == pytest.approx(told, rel=0.01, abs=0.01)


@pytest.mark.parametrize("law", LAWS)
def test_both_noises_join_as_their_squares(law):
    """1/z^2 of both together is the sum of those of each alone."""
    both, tempo, time = (
        margin_at(law, 20.0, 98.5, noise=noise).z[0]
        for noise in (Noise(0.8, 0.25), Noise(0.8, 1e-7), Noise(1e-7, 0.25))
    )
    assert both**-2 == pytest.approx(tempo**-2 + time**-2, rel=1e-6)


tempos = st.floats(20.0, 400.0)
times = st.floats(0.01, 14400.0)
noises = st.builds(Noise, st.floats(0.05, 8.0), st.floats(0.01, 2.0))


@given(
    law=st.sampled_from(LAWS),
    tempo_bpm=tempos,
    time_s=times,
    noise=noises,
    log_steepness=st.floats(-1.0, 3.0),
    log_top=st.floats(-2.0, 3.0),
)
def test_the_margin_falls_with_time_and_with_tempo(
    law, tempo_bpm, time_s, noise, log_steepness, log_top
):
    """A longer time and a higher tempo are never outlasted by more."""
    shape = {"log_steepness": log_steepness, "log_top": log_top, "noise": noise}
    longer = margin_at(law, [time_s, 1.05 * time_s], tempo_bpm, **shape).z
    faster = margin_at(law, time_s, [tempo_bpm, tempo_bpm + 0.5], **shape).z
    slack = 1e-9 * max(1.0, np.abs(longer).max(), np.abs(faster).max())
    assert longer[1] <= longer[0] + slack
    assert faster[1] <= faster[0] + slack


@given(
    law=st.sampled_from(LAWS),
    tempo_bpm=st.floats(1.0, 2000.0),
    time_s=st.floats(1e-4, 1e7) | st.sampled_from([0.0, np.inf]),
    noise=st.builds(Noise, st.floats(1e-4, 100.0), st.floats(1e-4, 10.0)),
    minute=st.floats(5.0, 500.0),
    log_steepness=st.floats(-6.0, 6.0),
    log_top=st.floats(-8.0, 6.0),
)
def test_extremes_never_are_no_number(
    law, tempo_bpm, time_s, noise, minute, log_steepness, log_top
):
    """Whatever is put in, margin and slopes are numbers, and infinite at the edges alone."""
    found = margin_at(
        law,
        time_s,
        tempo_bpm,
        minute=minute,
        log_steepness=log_steepness,
        log_top=log_top,
        noise=noise,
    )
    assert np.isfinite(found.z[0]) == (0.0 < time_s < np.inf)
    for name in ("by_minute", "by_log_steepness", "by_log_top"):
        assert np.isfinite(getattr(found, name)).all()


def test_no_time_is_outlasted_and_endless_time_is_not():
    """A time of nought has margin +inf, one without end -inf, and both have no slope."""
    found = margin_at("hyperbolic", [0.0, np.inf], 95.0)
    assert found.z.tolist() == [np.inf, -np.inf]
    assert found.by_minute.tolist() == [0.0, 0.0]


def test_easy_and_hopeless_rounds_are_far_from_even():
    """A minute far under the sustainable tempo has a great margin; one far over, a deep one."""
    for law in LAWS:
        easy, hopeless = margin_at(law, 60.0, [75.0, 120.0]).z
        assert easy > 4.0
        assert hopeless < -4.0
