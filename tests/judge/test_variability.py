"""Checks of the timing split."""

import time

import numpy as np
import pytest

from loosehand.errors import NotIdentifiable, TooFewStrokes
from loosehand.judge import variability
from loosehand.judge.variability import (
    LEAST_STROKES,
    SplitRequest,
    correction_split,
    open_loop_parts,
    wing_kristofferson,
)


def request_for(click_every, *, measurement_sd_s=0.0, phase=0):
    """Sixteenths with a click at every so many of them."""
    return SplitRequest(4, click_every, phase, measurement_sd_s)


def player_s(rng, strokes, *, correction, click_every, timekeeper_s=0.008, motor_s=0.007):
    """Asynchronies of a player of the model, by its own recursion from nought."""
    clock, asynchrony_s = 0.0, np.empty(strokes)
    for place in range(strokes):
        asynchrony_s[place] = clock + rng.normal(0.0, motor_s)
        at_click = place % click_every == 0
        clock += rng.normal(0.0, timekeeper_s) - correction * asynchrony_s[place] * at_click
    return asynchrony_s


def dense_likelihood(asynchrony, place, *, correction, lag_share, click_every):
    """Log restricted likelihood from the whole covariance matrix, written out term by term."""
    strokes = asynchrony.size
    clock = np.zeros((strokes, strokes + strokes + 1))
    kept = (1.0 - correction) ** 2
    timekeeper, motor = 1.0 - 2.0 * lag_share, lag_share
    at_click = (click_every * timekeeper + correction**2 * motor) / (1.0 - kept)
    clock[0, 0] = np.sqrt(at_click)
    for stroke in range(strokes - 1):
        clicked = correction * (place[stroke] % click_every == 0)
        clock[stroke + 1] = (1.0 - clicked) * clock[stroke]
        clock[stroke + 1, 1 + strokes + stroke] -= clicked * np.sqrt(motor)
        clock[stroke + 1, 1 + stroke] += np.sqrt(timekeeper)
    clock[np.arange(strokes), 1 + strokes + np.arange(strokes)] += np.sqrt(motor)
    covariance = clock @ clock.T
    means = (place[:, None] % 4 == np.arange(4)).astype(float)
    inverse = np.linalg.inv(covariance)
    cross = means.T @ inverse @ means
    fitted = np.linalg.solve(cross, means.T @ inverse @ asynchrony)
    rest = asynchrony - means @ fitted
    residual = rest @ inverse @ rest
    log = -0.5 * np.linalg.slogdet(covariance)[1] - 0.5 * np.linalg.slogdet(cross)[1]
    return residual, log - 0.5 * (strokes - 4) * np.log(residual)


@pytest.mark.parametrize("click_every", [1, 4, 8])
def test_likelihood_is_that_of_the_whole_covariance_matrix(click_every):
    """The sums over sines give the restricted likelihood of the written-out model."""
    place = np.arange(40)
    asynchrony = 1e3 * player_s(
        np.random.default_rng(4), 40, correction=0.4, click_every=click_every
    )
    lag_share = np.array([0.05, 0.2, 0.31])
    residual, log = variability._restricted_likelihood(
        [(place, asynchrony)], lag_share, request_for(click_every)
    )
    for row, column in ((0, 25), (1, 40), (2, 60)):
        want = dense_likelihood(
            asynchrony,
            place,
            correction=variability._CORRECTIONS[column],
            lag_share=lag_share[row],
            click_every=click_every,
        )
        assert residual[row, column] == pytest.approx(want[0], rel=1e-9)
        assert log[row, column] == pytest.approx(want[1], rel=1e-9)


def test_place_means_do_not_matter():
    """A lead and a profile of its own for each place change nothing."""
    place = np.arange(300)
    plain_s = player_s(np.random.default_rng(1), 300, correction=0.5, click_every=4)
    shifted_s = plain_s - 0.02 + np.tile([0.0, 0.006, -0.004, 0.01], 75)
    plain = correction_split(place, plain_s, request=request_for(4))
    shifted = correction_split(place, shifted_s, request=request_for(4))
    assert shifted.timekeeper_ms.high80 == pytest.approx(plain.timekeeper_ms.high80, rel=1e-6)
    assert shifted.motor_ms.high80 == pytest.approx(plain.motor_ms.high80, rel=1e-6)
    assert shifted.correction.low80 == pytest.approx(plain.correction.low80, rel=1e-6)


def test_parts_scale_with_the_strokes():
    """Twice the asynchrony is twice each part, and the same correction."""
    place = np.arange(300)
    once_s = player_s(np.random.default_rng(2), 300, correction=0.5, click_every=4)
    once = correction_split(place, once_s, request=request_for(4))
    twice = correction_split(place, 2.0 * once_s, request=request_for(4))
    assert twice.timekeeper_ms.low80 == pytest.approx(2.0 * once.timekeeper_ms.low80, rel=1e-6)
    assert twice.motor_ms.high80 == pytest.approx(2.0 * once.motor_ms.high80, rel=1e-6)
    assert twice.correction.high80 == pytest.approx(once.correction.high80, rel=1e-6)


@pytest.mark.parametrize("click_every", [1, 4, 8])
@pytest.mark.parametrize("correction", [0.0, 0.25, 0.5, 0.8])
def test_what_is_told_is_near_the_truth(correction, click_every):
    """Of the figures told from 400 strokes, nearly all lie within 15 % of what was planted."""
    rng = np.random.default_rng(100 + click_every + int(100 * correction))
    told = near = 0
    for _ in range(12):
        asynchrony_s = player_s(rng, 400, correction=correction, click_every=click_every)
        split = correction_split(np.arange(400), asynchrony_s, request=request_for(click_every))
        for figure, truth in (
            (split.timekeeper_ms, 8.0),
            (split.motor_ms, 7.0),
            (split.correction, correction),
        ):
            if figure.told is not None:
                told += 1
                near += abs(figure.told - truth) <= max(0.15 * truth, 0.05)
    assert near >= 0.8 * told
    if click_every > 1:
        assert told >= 12, "a split that always says 'cannot tell' would tell nothing"


def test_cannot_tell_where_correction_whitens_the_strokes():
    """With a click at every stroke and nearly the best correction nothing tells the parts apart."""
    asynchrony_s = player_s(
        np.random.default_rng(9), 400, correction=0.8, click_every=1, motor_s=0.004
    )
    split = correction_split(np.arange(400), asynchrony_s, request=request_for(1))
    assert split.motor_ms.told is None
    assert split.correction.told is None
    assert any("correction" in note for note in split.notes)
    assert split.motor_ms.low80 < 4.0 < split.motor_ms.high80


def test_ear_noise_is_taken_off_the_motor_part():
    """Known error of the ear's times does not count as the player's."""
    rng = np.random.default_rng(12)
    motor = []
    for _ in range(12):
        clean_s = player_s(rng, 600, correction=0.4, click_every=4, motor_s=0.006)
        heard_s = clean_s + rng.normal(0.0, 0.003, 600)
        split = correction_split(
            np.arange(600), heard_s, request=request_for(4, measurement_sd_s=0.003)
        )
        motor.append(0.5 * (split.motor_ms.low80 + split.motor_ms.high80))
    assert np.mean(motor) == pytest.approx(6.0, rel=0.06)


def test_slips_cost_little():
    """Missing strokes split the row into runs, and the figures stay."""
    asynchrony_s = player_s(np.random.default_rng(5), 400, correction=0.5, click_every=4)
    place = np.arange(400)
    played = np.setdiff1d(place, [37, 38, 111, 250, 333])
    whole = correction_split(place, asynchrony_s, request=request_for(4))
    holed = correction_split(played, asynchrony_s[played], request=request_for(4))
    assert holed.strokes == 395
    assert holed.timekeeper_ms.low80 == pytest.approx(whole.timekeeper_ms.low80, rel=0.05)
    assert holed.motor_ms.high80 == pytest.approx(whole.motor_ms.high80, rel=0.05)


def test_click_phase_is_heeded():
    """A grid that begins between clicks is the same take as one that begins on a click."""
    asynchrony_s = player_s(np.random.default_rng(6), 402, correction=0.8, click_every=4)
    split = correction_split(np.arange(400), asynchrony_s[2:], request=request_for(4, phase=2))
    wrong = correction_split(np.arange(400), asynchrony_s[2:], request=request_for(4))
    assert split.correction.low80 < 0.8 < split.correction.high80
    assert not wrong.correction.low80 < 0.8 < wrong.correction.high80


def test_too_few_strokes_are_refused():
    """A few strokes tell no split, and the error says how many are needed."""
    with pytest.raises(TooFewStrokes, match=str(LEAST_STROKES)):
        correction_split(np.arange(20), np.zeros(20), request=request_for(4))
    with pytest.raises(TooFewStrokes, match="intervals"):
        wing_kristofferson(np.full(20, 0.15), measurement_sd_s=0.0)


def test_strokes_without_spread_are_refused():
    """Strokes that lie exactly on their places hold no variability to take apart."""
    with pytest.raises(NotIdentifiable, match="no spread"):
        correction_split(
            np.arange(100), np.tile([0.002, 0.009, 0.0, 0.004], 25), request=request_for(4)
        )
    with pytest.raises(NotIdentifiable, match="no spread"):
        open_loop_parts(0.0, 0.0)


def test_open_loop_bounds_give_null_and_a_note():
    """Outside the model's bounds both parts are unknown, with the reason."""
    wave_s = 0.15 + 0.01 * np.sin(np.arange(200) / 10.0)
    split = wing_kristofferson(wave_s, measurement_sd_s=0.0)
    assert split.timekeeper_ms.told is None
    assert split.motor_ms.told is None
    assert "negative motor" in split.notes[0]
    with pytest.raises(NotIdentifiable, match=r"-0\.50"):
        open_loop_parts(100.0, -60.0)


def test_open_loop_motor_below_the_ear_is_null():
    """A motor part no larger than the ear's own error is not told."""
    rng = np.random.default_rng(3)
    interval_s = 0.15 + rng.normal(0.0, 0.01, 400) + np.diff(rng.normal(0.0, 0.003, 401))
    split = wing_kristofferson(interval_s, measurement_sd_s=0.02)
    assert split.motor_ms.told is None
    assert split.timekeeper_ms.told is not None
    assert "ear's own error" in split.notes[0]


def test_open_loop_ranges_hold_the_truth():
    """The 80 % ranges hold what was planted in about four takes of five."""
    rng = np.random.default_rng(8)
    inside = np.zeros(2)
    for _ in range(200):
        interval_s = 0.15 + rng.normal(0, 0.01, 300) + np.diff(rng.normal(0, 0.006, 301))
        split = wing_kristofferson(interval_s, measurement_sd_s=0.0)
        parts = ((split.timekeeper_ms, 10.0), (split.motor_ms, 6.0))
        inside += [part.low80 <= truth <= part.high80 for part, truth in parts]
    assert np.all(inside >= 0.72 * 200)
    assert np.all(inside <= 0.88 * 200)


@pytest.mark.timing
def test_a_split_of_400_strokes_is_quick():
    """One split of 400 strokes takes less than 30 ms."""
    asynchrony_s = player_s(np.random.default_rng(7), 400, correction=0.5, click_every=4)
    spent = []
    for _ in range(5):
        begin = time.perf_counter()
        correction_split(np.arange(400), asynchrony_s, request=request_for(4))
        spent.append(time.perf_counter() - begin)
    assert min(spent) < 0.03
