"""Tests of the modelled kit."""

import numpy as np
import pytest

from loosehand.parts import INSTRUMENTS
from loosehand.players.drums import WORK_RATE_HZ
from loosehand.players.kit import BALANCE_DB, draw_kit

EVERY = frozenset(INSTRUMENTS)


@pytest.fixture(scope="module")
def kit():
    """Return a kit with every instrument."""
    return draw_kit(EVERY, np.random.default_rng(7))


def spectrum_centre_hz(samples):
    """Return the centre of the power spectrum."""
    power = np.abs(np.fft.rfft(samples)) ** 2
    return float(np.sum(np.fft.rfftfreq(samples.size, 1 / WORK_RATE_HZ) * power) / np.sum(power))


def struck(kit, name):
    """Return the sound of one stroke."""
    return kit[name].render(0.0, np.random.default_rng(1))[0]


@pytest.mark.parametrize("name", sorted(EVERY))
def test_every_instrument_sounds(kit, name):
    """A stroke at level 0 has a mean square of about 0.01 in its first 30 ms."""
    early = struck(kit, name)[: int(0.03 * WORK_RATE_HZ)]
    assert np.mean(early**2) == pytest.approx(0.01, rel=0.05)
    assert name in BALANCE_DB


def test_drums_are_low_and_cymbals_high(kit):
    """Kick, floor tom, high tom and hat follow each other upwards."""
    centres = [spectrum_centre_hz(struck(kit, n)) for n in ("kick", "floor tom", "high tom", "hat")]
    assert centres == sorted(centres)
    assert centres[-1] > 3000


def test_an_open_hat_rings_longer_than_a_closed_one(kit):
    """From foot hat to open hat the ringing grows."""

    def ringing(name):
        sound = struck(kit, name)
        energy = np.cumsum(sound.astype(float) ** 2)
        return int(np.searchsorted(energy, 0.9 * energy[-1]))

    lengths = [ringing(n) for n in ("foot hat", "hat", "half-open hat", "open hat")]
    assert lengths == sorted(lengths)


def test_an_instrument_sounds_alike_whatever_else_is_there(kit):
    """The snare of a seed is the same alone and in the whole kit."""
    alone = draw_kit(frozenset({"snare"}), np.random.default_rng(7))
    np.testing.assert_array_equal(alone["snare"].bank, kit["snare"].bank)
