"""Checks of levels told from all bands of a take."""

import numpy as np
import pytest

from loosehand.hear.band_levels import band_levels, levels_by_band, with_levels_by_band
from loosehand.hear.heard import Strokes

BANDS, STROKES = 11, 240
OFFSET_DB = -np.linspace(0.0, 20.0, BANDS)


def struck(seed):
    """Levels of taps with an accent on every fourth stroke."""
    rng = np.random.default_rng(seed)
    return np.where(np.arange(STROKES) % 4 == 0, -20.0, -30.0) + rng.normal(0.0, 1.0, STROKES)


def heard(level_db, *, ringing_db, seed=0):
    """Broadband level and timbre: the lowest band, by far the strongest, rings so much."""
    rng = np.random.default_rng(seed)
    bands = level_db[:, None] + OFFSET_DB + rng.normal(0.0, 0.5, (level_db.size, BANDS))
    bands[:, 0] += 12.0 - ringing_db * np.abs(rng.normal(0.0, 1.0, level_db.size))
    whole = 10.0 * np.log10(np.sum(10.0 ** (bands / 10.0), axis=1))
    return whole, bands - bands.mean(axis=1, keepdims=True)


def error_db(told, truth):
    """Spread of the error of levels."""
    return float(np.std(told - truth))


@pytest.mark.parametrize("seed", range(4))
def test_a_ringing_band_misleads_less(seed):
    """Where the strongest band rings, the levels come out less than half as wrong."""
    truth = struck(seed)
    level_db, timbre_db = heard(truth, ringing_db=6.0, seed=seed)
    assert error_db(level_db, truth) > 1.5
    assert error_db(levels_by_band(level_db, timbre_db), truth) < 0.5 * error_db(level_db, truth)


@pytest.mark.parametrize("seed", range(4))
def test_a_dry_drum_keeps_its_levels(seed):
    """Where nothing rings, hardly a level moves, and none for the worse."""
    truth = struck(seed)
    level_db, timbre_db = heard(truth, ringing_db=0.0, seed=seed)
    told = levels_by_band(level_db, timbre_db)
    assert np.quantile(np.abs(told - level_db), 0.95) < 0.3
    assert error_db(told, truth) < 1.1 * error_db(level_db, truth) + 0.05


@pytest.mark.parametrize("ringing_db", [0.0, 6.0])
def test_the_scale_stays(ringing_db):
    """Accents stand as far above the taps as they were struck."""
    truth = struck(1)
    told = levels_by_band(*heard(truth, ringing_db=ringing_db))
    accent = np.arange(STROKES) % 4 == 0
    contrast_db = told[accent].mean() - told[~accent].mean()
    assert contrast_db == pytest.approx(10.0, abs=0.8)


def test_few_strokes_and_strokes_without_bands_stay():
    """Nothing is told from 23 strokes, or from notes that have no bands."""
    level_db, timbre_db = heard(struck(2), ringing_db=6.0)
    assert levels_by_band(level_db[:23], timbre_db[:23]).tolist() == level_db[:23].tolist()
    assert levels_by_band(level_db, np.zeros((STROKES, BANDS))).tolist() == level_db.tolist()


def test_band_levels_sum_to_the_level():
    """Powers of the bands sum to the power of all."""
    level_db, timbre_db = heard(struck(3), ringing_db=2.0)
    power = np.sum(10.0 ** (band_levels(level_db, timbre_db) / 10.0), axis=1)
    assert 10.0 * np.log10(power) == pytest.approx(level_db)


def test_every_hand_is_told_by_itself():
    """Hands whose sound differs are told as each would be alone; other strokes stay."""
    right, left = heard(struck(4), ringing_db=6.0), heard(struck(5) - 6.0, ringing_db=1.0)
    level_db = np.concatenate([right[0], left[0], [-40.0]])
    timbre_db = np.concatenate([right[1], left[1][:, ::-1], np.ones((1, BANDS))])
    time_s = np.arange(level_db.size) * 0.1
    strokes = Strokes(time_s, level_db, np.ones(level_db.size), timbre_db)
    hands = [np.arange(STROKES), STROKES + np.arange(STROKES)]
    told = with_levels_by_band(strokes, hands).level_db
    assert told[:STROKES].tolist() == levels_by_band(*right).tolist()
    assert told[STROKES:-1].tolist() == levels_by_band(left[0], left[1][:, ::-1]).tolist()
    assert told[-1] == -40.0
