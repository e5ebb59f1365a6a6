"""Counting aloud: a modelled voice of glottal pulses through moving formants.

Each pulse of the voice sets off one decaying sine a formant; consonants are short bursts of
noise. It is meant to have the onsets, bands and levels of a voice, not to be understood.
Formant figures are textbook values from memory.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.players.drums import WORK_RATE_HZ

__all__ = ["Voice", "draw_voice", "spoken_word"]

SoundArray = NDArray[np.float32]
FloatArray = NDArray[np.float64]
_BANDWIDTH_HZ = (70.0, 100.0, 140.0, 220.0)
_SHARE = (1.0, 0.6, 0.3, 0.15)
_VOWELS = {
    "ah": (700.0, 1200.0, 2500.0, 3500.0),
    "oo": (320.0, 900.0, 2300.0, 3300.0),
    "ee": (290.0, 2250.0, 3000.0, 3600.0),
    "or": (480.0, 850.0, 2400.0, 3400.0),
    "uh": (600.0, 1150.0, 2450.0, 3400.0),
    "n": (280.0, 1300.0, 2400.0, 3300.0),
}
_WORDS: tuple[tuple[str, str, str], ...] = (
    # from vowel, to vowel, opening consonant
    ("oo", "uh", ""),
    ("oo", "oo", "t"),
    ("ee", "ee", "th"),
    ("or", "or", "f"),
    ("ee", "ee", ""),
    ("ah", "n", ""),
    ("uh", "uh", ""),
)
_BURST = {
    # low and high of the band, length, level against the vowel
    "": (1000.0, 2000.0, 0.0, 0.0),
    "t": (3000.0, 8000.0, 0.030, 0.8),
    "th": (1500.0, 7000.0, 0.060, 0.15),
    "f": (1500.0, 9000.0, 0.070, 0.25),
}


@dataclass(frozen=True)
class Voice:
    """Who counts, and how.

    Attributes
    ----------
    pitch_hz : of the voice
    formant_scale : length of the throat, 1 for a grown man
    word_s : length of a word
    level_db : against a stroke at 0 dB
    spread_s : how far words lie from the counts, steady part and scatter
    subdivides : whether places are spoken too
    """

    pitch_hz: float
    formant_scale: float
    word_s: float
    level_db: float
    spread_s: float
    subdivides: bool


def draw_voice(level_db: float, rng: np.random.Generator) -> Voice:
    """Draw a voice that speaks at a level against the strokes."""
    pitch_hz = float(np.exp(rng.uniform(*np.log((90.0, 280.0)))))
    return Voice(
        pitch_hz=pitch_hz,
        formant_scale=float(1.0 + 0.25 * np.log2(pitch_hz / 110.0) * rng.uniform(0.3, 1.0)),
        word_s=rng.uniform(0.12, 0.30),
        level_db=level_db,
        spread_s=rng.uniform(0.01, 0.06),
        subdivides=bool(rng.random() < 0.2),
    )


def _burst(consonant: str, rng: np.random.Generator) -> FloatArray:
    low_hz, high_hz, length_s, level = _BURST[consonant]
    size = int(length_s * WORK_RATE_HZ)
    if size == 0:
        return np.zeros(0)
    spectrum = np.fft.rfft(rng.standard_normal(size))
    frequency = np.fft.rfftfreq(size, 1 / WORK_RATE_HZ)
    spectrum[(frequency < low_hz) | (frequency > high_hz)] *= 0.1
    noise = np.fft.irfft(spectrum, size)
    shape = np.exp(-np.arange(size) / (0.4 * size)) if consonant == "t" else np.hanning(size)
    scaled: FloatArray = level * noise / (np.std(noise) + 1e-9) * shape
    return scaled


def _vowel(voice: Voice, begin: str, end: str, rng: np.random.Generator) -> FloatArray:
    size = int(voice.word_s * WORK_RATE_HZ)
    sound = np.zeros(size + WORK_RATE_HZ // 20)
    ring_s = np.arange(int(0.025 * WORK_RATE_HZ)) / WORK_RATE_HZ
    at_s = 0.0
    while at_s < voice.word_s:
        through = at_s / voice.word_s
        loud = np.sin(np.pi * min(1.0, 0.08 + through)) ** 0.7
        pulse = np.zeros_like(ring_s)
        targets = zip(_VOWELS[begin], _VOWELS[end], _BANDWIDTH_HZ, _SHARE, strict=True)
        for low, high, width, share in targets:
            formant = (low + (high - low) * through) * voice.formant_scale
            ring = np.exp(-np.pi * width * ring_s) * np.sin(2 * np.pi * formant * ring_s)
            pulse += share * ring
        first = int(at_s * WORK_RATE_HZ)
        sound[first : first + pulse.size] += loud * pulse
        at_s += (1 + rng.normal(0.0, 0.01)) / (voice.pitch_hz * (1.1 - 0.2 * through))
    return sound


def spoken_word(voice: Voice, number: int, rng: np.random.Generator) -> SoundArray:
    """One spoken word, its loudest 30 ms as strong as the voice's level says.

    Parameters
    ----------
    voice : who speaks
    number : which word
    rng : source of all chance

    Returns
    -------
    samples : float32 array, shape (n,), at WORK_RATE_HZ
    """
    begin, end, consonant = _WORDS[number % len(_WORDS)]
    vowel = _vowel(voice, begin, end, rng)
    vowel /= np.std(vowel) + 1e-9
    wave = np.concatenate((_burst(consonant, rng), vowel))
    power = np.convolve(wave**2, np.ones(1440) / 1440, mode="valid")
    gain = 0.1 * 10 ** (voice.level_db / 20) / np.sqrt(power.max())
    word: SoundArray = (wave * gain).astype(np.float32)
    return word
