"""Where it was recorded: the room, its noise, and the microphone, all by frequency.

Parameters are chosen by ear, not validated. Everything works at WORK_RATE_HZ.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.players.drums import WORK_RATE_HZ

__all__ = [
    "Microphone",
    "Noise",
    "Room",
    "band_response",
    "impulse_response",
    "microphone_response",
    "noise_spectrum",
]

SoundArray = NDArray[np.float32]
FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex64]


_ROOT_TWO = 2.0**0.5


@dataclass(frozen=True)
class Room:
    """A room as heard from one place to another.

    Attributes
    ----------
    reverberation_s : time in which the sound falls by 60 dB; 0 for none
    tail_db : energy of reflections and tail against the direct sound
    reflections : number of early reflections
    dull_hz : above this the tail is weaker
    seed : what it is drawn from
    """

    reverberation_s: float
    tail_db: float
    reflections: int
    dull_hz: float
    seed: int


@dataclass(frozen=True)
class Noise:
    """The noise of a recording, each level against a stroke at 0 dB.

    Attributes
    ----------
    white_db, pink_db, rumble_db : levels; rumble lies below 150 Hz
    hum_hz : 50 or 60
    hum_db : level of the hum and its harmonics
    fan_db : level of a fan: broad noise around ``fan_hz``
    fan_hz : middle of the fan's noise
    seed : what it is drawn from
    """

    white_db: float
    pink_db: float
    rumble_db: float
    hum_hz: float
    hum_db: float
    fan_db: float
    fan_hz: float
    seed: int


@dataclass(frozen=True)
class Microphone:
    """A microphone.

    Attributes
    ----------
    low_hz, high_hz : corners of its band
    presence_hz, presence_db : a bump or a dip
    """

    low_hz: float
    high_hz: float
    presence_hz: float
    presence_db: float


def impulse_response(room: Room) -> SoundArray:
    """Impulse response of a room: the direct sound is the first sample.

    Parameters
    ----------
    room : the room

    Returns
    -------
    samples : float32 array, shape (n,), the first 1
    """
    if room.reverberation_s <= 0:
        return np.ones(1, dtype=np.float32)
    rng = np.random.default_rng(room.seed)
    size = int(min(0.9 * room.reverberation_s, 0.8) * WORK_RATE_HZ)
    at_s = np.arange(size) / WORK_RATE_HZ
    tail = rng.standard_normal(size) * np.exp(-6.9 * at_s / room.reverberation_s)
    tail *= np.clip((at_s - 0.002) / 0.03, 0.0, 1.0)
    spectrum = np.fft.rfft(tail)
    spectrum /= 1 + (np.fft.rfftfreq(size, 1 / WORK_RATE_HZ) / room.dull_hz) ** 2
    tail = np.fft.irfft(spectrum, size)
    tail /= np.sqrt(np.sum(tail**2)) + 1e-12
    for _ in range(room.reflections):
        delay_s = rng.uniform(0.0008, 0.035)
        index = min(int(delay_s * WORK_RATE_HZ), size - 1)
        tail[index] += rng.normal(0.0, 0.5) / (1 + delay_s / 0.01)
    tail *= 10 ** (room.tail_db / 20) / (np.sqrt(np.sum(tail**2)) + 1e-12)
    tail[0] = 1.0
    response: SoundArray = tail.astype(np.float32)
    return response


def band_response(
    frequency_hz: NDArray[np.floating[Any]], low_hz: float, high_hz: float
) -> ComplexArray:
    """Causal second-order high-pass and low-pass of a small speaker or a microphone."""
    high = 1j * frequency_hz / low_hz
    low = 1j * frequency_hz / high_hz
    response = high**2 / (1 + _ROOT_TWO * high + high**2) / (1 + _ROOT_TWO * low + low**2)
    band: ComplexArray = response.astype(np.complex64)
    return band


def microphone_response(
    microphone: Microphone, frequency_hz: NDArray[np.floating[Any]]
) -> ComplexArray:
    """Causal response of a microphone, shape (n,)."""
    response = band_response(frequency_hz, microphone.low_hz, microphone.high_hz)
    across = 1j * frequency_hz / microphone.presence_hz
    amount = 10 ** (microphone.presence_db / 20)
    bump = (1 + amount * across + across**2) / (1 + across + across**2)
    return (response * bump).astype(np.complex64)


def noise_spectrum(noise: Noise, size: int) -> ComplexArray:
    """Spectrum of the noise of a whole recording.

    Parameters
    ----------
    noise : what it consists of
    size : samples of the recording

    Returns
    -------
    spectrum : complex64 array, shape (size // 2 + 1,), as of a real transform
    """
    rng = np.random.default_rng(noise.seed)
    bins = size // 2 + 1
    frequency = np.fft.rfftfreq(size, 1 / WORK_RATE_HZ).astype(np.float32)
    audible = np.maximum(frequency, 20.0)
    shapes = (
        (noise.white_db, np.ones(bins, dtype=np.float32)),
        (noise.pink_db, 1 / audible),
        (noise.rumble_db, 1 / (1 + np.square(np.square(audible / 90.0)))),
        (noise.fan_db, np.exp(-0.5 * (np.log(audible / noise.fan_hz) / 0.7) ** 2)),
    )
    power = np.zeros(bins, dtype=np.float32)
    for level_db, shape in shapes:
        power += shape * np.float32(0.01 * 10 ** (level_db / 10) / float(shape.sum()))
    draw = rng.standard_normal((2, bins), dtype=np.float32)
    scale = np.sqrt(power) * np.float32(size / 2)
    spectrum: ComplexArray = np.empty(bins, dtype=np.complex64)
    spectrum.real, spectrum.imag = scale * draw[0], scale * draw[1]
    return _with_hum(spectrum, noise, size, rng)


def _with_hum(
    spectrum: ComplexArray, noise: Noise, size: int, rng: np.random.Generator
) -> ComplexArray:
    """Add hum and harmonics: lines of the spectrum a few bins wide."""
    if noise.hum_db < -90:
        return spectrum
    amplitude = 0.1 * 10 ** (noise.hum_db / 20) * size / 2
    for harmonic in range(1, 9):
        middle = round(noise.hum_hz * harmonic * size / WORK_RATE_HZ)
        share = amplitude * rng.uniform(0.2, 1.0) / harmonic
        spectrum[middle - 1 : middle + 2] += (
            share * np.exp(2j * np.pi * rng.random(3)) * np.array([0.2, 1.0, 0.2])
        )
    return spectrum
