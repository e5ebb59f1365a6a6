"""Checks of the tempo that nobody told."""

import numpy as np
import pytest

from loosehand.hear.tempo import candidate_tempos, early_rate, stroke_rate, tempo_with_click
from tests.hear.scenes import jittered, peaks_of, sound_of


@pytest.mark.parametrize("place_s", [0.107, 0.15, 0.25])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_rate_of_uneven_strokes(place_s, seed):
    """The rate of a minute of uneven strokes is found to 0.1 %."""
    stroke_s = jittered(2.0, place_s, int(58 / place_s), sd_s=0.06 * place_s, seed=seed)
    rate = stroke_rate(stroke_s)
    assert rate is not None
    assert rate.place_s == pytest.approx(place_s, rel=1e-3)
    assert rate.share > 0.9
    assert rate.spread == pytest.approx(0.06, abs=0.015)


def test_missing_and_double_strokes_change_no_rate():
    """A few strokes left out and a few bounces leave the rate as it is."""
    stroke_s = jittered(2.0, 0.15, 300, sd_s=0.006)
    stroke_s = np.delete(stroke_s, [50, 120, 200])
    stroke_s = np.sort(np.append(stroke_s, stroke_s[[80, 150]] + 0.05))
    rate = stroke_rate(stroke_s)
    assert rate is not None
    assert rate.place_s == pytest.approx(0.15, rel=1e-3)


@pytest.mark.parametrize("strokes", [0, 1, 5])
def test_too_few_strokes_have_no_rate(strokes):
    """Hardly any strokes have no rate."""
    assert stroke_rate(jittered(1.0, 0.15, strokes, sd_s=0.001)) is None


def test_whole_tempo_first():
    """A whole tempo near by comes first, the measured one last, none far off."""
    tempos = candidate_tempos(104.03)
    assert tempos[0] == pytest.approx(104.0)
    assert tempos[-1] == 104.03
    assert np.all(np.abs(tempos / 104.03 - 1) < 0.005)


def test_tenths_by_distance():
    """Where no whole tempo is near enough the nearest tenth comes first."""
    assert candidate_tempos(97.31)[0] == pytest.approx(97.3)


def test_click_settles_the_tempo():
    """The click's own tempo stands out against others near it."""
    stroke_s = jittered(2.9, 0.15, 240, sd_s=0.008)
    with_click = peaks_of(sound_of(stroke_s, 0.5 + 0.6 * np.arange(65), duration_s=40.0))
    tempo_bpm, score = tempo_with_click(with_click, 100.1, duration_s=40.0)
    assert tempo_bpm == pytest.approx(100.0, abs=0.01)
    assert score > 0


def test_no_click_no_score():
    """Without a click the measured tempo stays, with a score of 0."""
    stroke_s = jittered(2.9, 0.15, 100, sd_s=0.008)
    without = peaks_of(sound_of(stroke_s, [], duration_s=18.0))
    assert tempo_with_click(without, 100.1, duration_s=18.0) == (100.1, 0.0)


def test_echoes_do_not_end_the_line():
    """A sound a third of a place after every fourth stroke leaves the rate as it is."""
    stroke_s = jittered(1.0, 0.15, 120, sd_s=0.008)
    echoed = np.sort(np.concatenate((stroke_s, stroke_s[::4] + 0.05)))
    rate = stroke_rate(echoed)
    assert rate is not None
    assert rate.place_s == pytest.approx(0.15, rel=0.003)


def test_early_rate_is_that_of_the_first_strokes():
    """A hand that starts at the click's rate and then slows by a tenth: the first rate."""
    slow = 1.0 + 0.15 * 30 + 0.165 * np.arange(1, 200)
    stroke_s = np.concatenate((jittered(1.0, 0.15, 31, sd_s=0.003), slow))
    early, longest = early_rate(stroke_s), stroke_rate(stroke_s)
    assert early is not None
    assert longest is not None
    assert early.place_s == pytest.approx(0.15, rel=0.01)
    assert longest.place_s == pytest.approx(0.165, rel=0.01)


def test_no_early_rate_of_nothing():
    """A few strokes tell no rate."""
    assert early_rate(np.array([1.0, 1.2])) is None
