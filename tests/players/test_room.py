"""Room, noise and microphone."""

import numpy as np
import pytest

from loosehand.players.drums import WORK_RATE_HZ
from loosehand.players.room import (
    Microphone,
    Noise,
    Room,
    band_response,
    impulse_response,
    microphone_response,
    noise_spectrum,
)


def test_a_dry_room_changes_nothing():
    """One sample, 1."""
    assert impulse_response(Room(0.0, 0.0, 0, 5000.0, 1)).tolist() == [1.0]


@pytest.mark.parametrize("reverberation_s", [0.2, 0.5, 0.8])
def test_a_room_dies_away_in_its_time(reverberation_s):
    """The tail falls by 60 dB in the reverberation time, to a tenth."""
    response = impulse_response(Room(reverberation_s, 0.0, 0, 20e3, 2)).astype(float)[1:]
    left = np.cumsum(response[::-1] ** 2)[::-1]
    level_db = 10 * np.log10(left / left[0])
    at_s = np.arange(level_db.size) / WORK_RATE_HZ
    fit = (level_db < -5) & (level_db > -25)
    slope = np.polyfit(at_s[fit], level_db[fit], 1)[0]
    assert -60 / slope == pytest.approx(reverberation_s, rel=0.12)


def test_the_tail_has_the_energy_that_was_asked():
    """A tail of -6 dB has a quarter of the energy of the direct sound."""
    response = impulse_response(Room(0.4, -6.0, 5, 4000.0, 3)).astype(float)
    assert response[0] == 1.0
    assert 10 * np.log10(np.sum(response[1:] ** 2)) == pytest.approx(-6.0, abs=0.05)


def test_noise_has_its_level_and_hum_its_line():
    """White noise at -20 dB lies 20 dB under a stroke; 50 Hz stands out of it."""
    size = 4 * WORK_RATE_HZ
    quiet = Noise(-20.0, -150.0, -150.0, 50.0, -120.0, -150.0, 500.0, 4)
    noise = np.fft.irfft(noise_spectrum(quiet, size), size)
    assert 10 * np.log10(np.mean(noise**2)) == pytest.approx(-40.0, abs=0.1)
    humming = Noise(-20.0, -150.0, -150.0, 50.0, -10.0, -150.0, 500.0, 4)
    power = np.abs(noise_spectrum(humming, size)) ** 2
    assert power[200] > 100 * np.median(power)


def test_a_band_is_flat_inside_and_falls_outside():
    """A band of 100 Hz to 10 kHz passes 1 kHz and halves its corners."""
    frequency = np.array([10.0, 100.0, 1000.0, 10e3, 24e3])
    gain_db = 20 * np.log10(np.abs(band_response(frequency, 100.0, 10e3)))
    assert gain_db[2] == pytest.approx(0.0, abs=0.1)
    assert gain_db[1] == pytest.approx(-3.0, abs=0.1)
    assert gain_db[3] == pytest.approx(-3.0, abs=0.1)
    assert gain_db[0] < -35


def test_presence_is_a_bump_at_its_place():
    """Six decibels at 4 kHz, next to nothing at 200 Hz."""
    microphone = Microphone(5.0, 100e3, 4000.0, 6.0)
    gain_db = 20 * np.log10(np.abs(microphone_response(microphone, np.array([200.0, 4000.0]))))
    assert gain_db[1] == pytest.approx(6.0, abs=0.2)
    assert abs(gain_db[0]) < 0.2
