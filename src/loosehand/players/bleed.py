"""The click as others make it, and how it bleeds into a recording.

A click in the wild is a beep, a block of wood, a tick of noise, a bell of two tones, or one
of our own; here it is drawn at random, and it is the same sound each time.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.click import TIMBRES, ClickRole, click_waveform
from loosehand.players.drums import WORK_RATE_HZ

__all__ = ["CLICK_KINDS", "ClickVoice", "click_sound", "draw_click"]

SoundArray = NDArray[np.float32]
FloatArray = NDArray[np.float64]
CLICK_KINDS: tuple[str, ...] = ("beep", "wood", "tick", "bell", "own")
"""Every kind of click that can be drawn."""


@dataclass(frozen=True)
class ClickVoice:
    """A click.

    Attributes
    ----------
    kind : one of CLICK_KINDS, or "drum" for the sound of the drum itself
    pitch_hz : main frequency
    length_s : length
    downbeat_pitch : ratio by which a downbeat is higher (or lower)
    downbeat_db : by how much a downbeat is louder
    seed : what its noise is drawn from
    timbre : the timbre, where it is one of our own
    """

    kind: str
    pitch_hz: float
    length_s: float
    downbeat_pitch: float
    downbeat_db: float
    seed: int
    timbre: str


def draw_click(rng: np.random.Generator) -> ClickVoice:
    """Draw a click of 0.8 to 4 kHz, 5 to 60 ms long."""
    kind = CLICK_KINDS[int(rng.choice(5, p=[0.27, 0.22, 0.14, 0.12, 0.25]))]
    return ClickVoice(
        kind=kind,
        pitch_hz=float(np.exp(rng.uniform(*np.log((800.0, 4000.0))))),
        length_s=float(np.exp(rng.uniform(*np.log((0.005, 0.060))))),
        downbeat_pitch=float(rng.choice([1.0, 1.12, 1.25, 1.335, 1.5, 2.0, 0.8])),
        downbeat_db=float(rng.choice([0.0, 0.0, 2.0, 4.0, 6.0])),
        seed=int(rng.integers(0, 2**31)),
        timbre=str(rng.choice(np.array(TIMBRES))),
    )


def _tones(at_s: FloatArray, parts: tuple[tuple[float, float, float], ...]) -> FloatArray:
    """Sum of sines: frequency, share and time to fall by 1/e."""
    wave = np.zeros_like(at_s)
    for frequency_hz, share, fall_s in parts:
        wave += share * np.sin(2 * np.pi * frequency_hz * at_s) * np.exp(-at_s / fall_s)
    return wave


def _wave(voice: ClickVoice, pitch_hz: float, at_s: FloatArray) -> FloatArray:
    length_s = voice.length_s
    if voice.kind == "beep":
        gate = np.minimum(1.0, np.minimum(at_s, length_s - at_s) / 0.001)
        return _tones(at_s, ((pitch_hz, 1.0, 1e9),)) * np.maximum(gate, 0.0)
    if voice.kind == "wood":
        fall = length_s / 4
        return _tones(at_s, ((pitch_hz, 1.0, fall), (2.42 * pitch_hz, 0.5, fall / 2)))
    if voice.kind == "bell":
        square = ((pitch_hz, 1.0), (1.48 * pitch_hz, 0.8), (3 * pitch_hz, 0.3))
        return _tones(at_s, tuple((f, a, length_s / 3) for f, a in square))
    noise = np.random.default_rng(voice.seed).standard_normal(at_s.size)
    ring = _tones(at_s, ((pitch_hz, 1.0, 0.003),))
    return (0.6 * noise + ring) * np.exp(-at_s / (length_s / 5))


def click_sound(voice: ClickVoice, role: ClickRole) -> SoundArray:
    """Sound of one click, its start at the first sample, of the energy of a stroke at 0 dB.

    Parameters
    ----------
    voice : the click
    role : which click; a downbeat has its own pitch and level

    Returns
    -------
    samples : float32 array, shape (n,), at WORK_RATE_HZ
    """
    if voice.kind == "own":
        wave = click_waveform(voice.timbre, role, sample_rate_hz=WORK_RATE_HZ, late_samples=0.0)
        own: SoundArray = (wave * 0.1 * np.sqrt(1440 / np.sum(wave**2))).astype(np.float32)
        return own
    accented = role == "downbeat"
    pitch_hz = voice.pitch_hz * (voice.downbeat_pitch if accented else 1.0)
    at_s = np.arange(int(1.3 * voice.length_s * WORK_RATE_HZ) + 48) / WORK_RATE_HZ
    wave = _wave(voice, pitch_hz, at_s)
    gain = 10 ** ((voice.downbeat_db if accented else 0.0) / 20)
    scale = 0.1 * gain * np.sqrt(1440 / (np.sum(wave**2) + 1e-12))
    sound: SoundArray = (wave * scale).astype(np.float32)
    return sound
