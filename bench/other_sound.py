"""Sounds of the second take generator: drums, clicks, voices, rooms, phones.

A drum is a bank of decaying modes struck by a short push of the stick, with noise of its own;
a stroke begins when the stick lands. All parameters are drawn for each take, so no two pads
are the same. Chosen by ear and by what such objects are made of, not validated.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len

__all__ = [
    "SURFACES",
    "Instrument",
    "add_at",
    "counting_voice",
    "make_click",
    "make_instrument",
    "pumped",
    "room_response",
    "shaped_noise",
    "tone_filter",
]

FloatArray = NDArray[np.float64]
Generator = np.random.Generator


@dataclass(frozen=True)
class _Surface:
    """Ranges from which an instrument is drawn: modes in Hz, decays in s, noise band and share."""

    low_hz: float
    high_hz: float
    modes: int
    decay_s: tuple[float, float]
    noise_band_hz: tuple[float, float]
    noise_decay_s: tuple[float, float]
    noise_share: tuple[float, float]
    push_s: tuple[float, float]
    length_s: float


SURFACES: dict[str, _Surface] = {
    "rubber": _Surface(
        250, 1400, 5, (0.006, 0.03), (1500, 7000), (0.002, 0.006), (0.2, 0.8), (6e-4, 2e-3), 0.12
    ),
    "mesh": _Surface(
        120, 700, 6, (0.02, 0.08), (800, 5000), (0.003, 0.01), (0.1, 0.4), (8e-4, 2e-3), 0.25
    ),
    "table": _Surface(
        150, 2500, 14, (0.005, 0.025), (1000, 9000), (0.002, 0.005), (0.1, 0.5), (2e-4, 8e-4), 0.12
    ),
    "cushion": _Surface(
        110, 520, 5, (0.008, 0.03), (300, 2600), (0.006, 0.02), (0.4, 1.0), (2e-3, 5e-3), 0.15
    ),
    "snare": _Surface(
        170, 1600, 10, (0.03, 0.12), (1200, 11000), (0.05, 0.14), (0.6, 1.6), (4e-4, 1e-3), 0.4
    ),
    "hat": _Surface(
        2500, 15000, 60, (0.008, 0.05), (4000, 16000), (0.01, 0.05), (0.3, 1.0), (1e-4, 4e-4), 0.25
    ),
    "ride": _Surface(
        400, 13000, 70, (0.15, 0.9), (3000, 14000), (0.005, 0.02), (0.3, 0.8), (1e-4, 4e-4), 1.6
    ),
    "tom": _Surface(
        80, 600, 6, (0.1, 0.35), (600, 5000), (0.004, 0.012), (0.1, 0.3), (8e-4, 2e-3), 0.8
    ),
}


@dataclass(frozen=True)
class Instrument:
    """Ready strokes of one surface, shape (hardnesses, variants, samples); soft ones first."""

    name: str
    strokes: FloatArray

    def stroke(self, rng: Generator, level_db: float) -> FloatArray:
        """One stroke at a level: the softer, the duller; never twice exactly the same."""
        hardness = int(np.clip(round((level_db + 8.0) / 4.0), 0, self.strokes.shape[0] - 1))
        bank = self.strokes[hardness]
        mix = rng.dirichlet(np.full(bank.shape[0], 0.4))
        sound = bank.T @ mix
        return sound / max(float(np.max(np.abs(sound))), 1e-9) * 10.0 ** (level_db / 20.0)


def tone_filter(
    signal: FloatArray, rate_hz: int, low_hz: float, high_hz: float, order: int = 2
) -> FloatArray:
    """Let a band through, gently and without smearing backwards."""
    from scipy.signal import butter, sosfilt

    high = min(high_hz, 0.45 * rate_hz)
    sos = butter(order, [low_hz, high], btype="band", fs=rate_hz, output="sos")
    return sosfilt(sos, signal)


def make_instrument(rng: Generator, name: str, rate_hz: int) -> Instrument:
    """Draw an instrument of a surface and strike it at five hardnesses, four times each."""
    from scipy.signal import fftconvolve

    surface = SURFACES[name]
    size = int(surface.length_s * rate_hz)
    clock_s = np.arange(size) / rate_hz
    freq_hz = np.exp(rng.uniform(np.log(surface.low_hz), np.log(surface.high_hz), surface.modes))
    decay_s = rng.uniform(*surface.decay_s, surface.modes) * np.sqrt(
        surface.low_hz / freq_hz
    ) ** rng.uniform(0, 0.6)
    base = rng.uniform(0.2, 1.0, surface.modes)
    noise_decay_s = rng.uniform(*surface.noise_decay_s)
    noise_share = rng.uniform(*surface.noise_share)
    push_s = rng.uniform(*surface.push_s)
    bank = np.zeros((5, 4, size))
    for hardness in range(5):
        width = max(3, int(push_s * 2.0 ** (-0.35 * (hardness - 2)) * rate_hz))
        push = np.sin(np.pi * (np.arange(width) + 0.5) / width) ** 1.5
        for variant in range(4):
            amount = base * 10 ** (rng.normal(0, 2.5, surface.modes) / 20)
            ringing = (
                amount[:, None]
                * np.exp(-clock_s / decay_s[:, None])
                * np.sin(2 * np.pi * freq_hz[:, None] * clock_s)
            ).sum(axis=0)
            hiss = tone_filter(rng.standard_normal(size), rate_hz, *surface.noise_band_hz)
            hiss *= np.exp(-clock_s / noise_decay_s)
            body = ringing / np.max(np.abs(ringing)) + noise_share * hiss / np.max(np.abs(hiss))
            sound = fftconvolve(body, push / push.sum())[:size]
            bank[hardness, variant] = sound / np.max(np.abs(sound))
    bank *= np.minimum(1.0, (size - np.arange(size)) / (0.1 * size))
    return Instrument(name, bank)


def add_at(track: FloatArray, sound: FloatArray, sample: int) -> None:
    """Add a sound into a track from a sample on, cut where it leaves the track."""
    start, stop = max(sample, 0), min(sample + sound.size, track.size)
    if stop > start:
        track[start:stop] += sound[start - sample : stop - sample]


def make_click(rng: Generator, rate_hz: int) -> tuple[FloatArray, FloatArray, str]:
    """Draw a click: its plain count, its downbeat and its name."""
    name = str(rng.choice(["beep", "block", "tick", "bell", "chirp"]))
    pitch_hz = float(rng.uniform(700, 2600))
    ratio = float(rng.choice([1.0, 1.25, 1.5, 2.0]))
    length_s = float(rng.uniform(0.015, 0.08))
    seed = int(rng.integers(1 << 31))
    plain = _click_sound(name, pitch_hz, length_s, seed, rate_hz)
    downbeat = _click_sound(name, pitch_hz * ratio, length_s, seed, rate_hz) * 1.2
    return plain, downbeat, name


def _click_sound(
    name: str, pitch_hz: float, length_s: float, seed: int, rate_hz: int
) -> FloatArray:
    """One click of a kind, peak 1."""
    clock_s = np.arange(int(length_s * 2 * rate_hz)) / rate_hz
    fade = np.exp(-clock_s / (length_s / 3))
    turn = 2 * np.pi * pitch_hz * clock_s
    if name == "beep":
        sound = np.sin(turn) * (clock_s < length_s)
        sound *= np.minimum(1, (length_s - clock_s).clip(0) / 0.002)
    elif name == "block":
        sound = fade**2 * (np.sin(turn) + 0.6 * np.sin(2.42 * turn) + 0.3 * np.sin(4.1 * turn))
    elif name == "tick":
        sound = np.random.default_rng(seed).standard_normal(clock_s.size)
        sound = tone_filter(sound, rate_hz, pitch_hz, 4 * pitch_hz) * np.exp(-clock_s / 0.004)
    elif name == "bell":
        sound = fade * (np.sign(np.sin(0.5 * turn)) + np.sign(np.sin(0.74 * turn)))
        sound = tone_filter(sound, rate_hz, 300, 9000)
    else:
        sound = fade * np.sin(turn * (1 + 0.6 * np.exp(-clock_s / 0.01)))
    return sound / np.max(np.abs(sound))


def shaped_noise(rng: Generator, size: int, rate_hz: int) -> FloatArray:
    """Noise of a room and a microphone: falling spectrum, some hiss, hum of the mains; spread 1."""
    fast = next_fast_len(size, real=True)
    spectrum = np.fft.rfft(rng.standard_normal(size), fast)
    freq_hz = np.fft.rfftfreq(fast, 1 / rate_hz)
    tilt = rng.uniform(0.3, 1.0)
    spectrum *= (np.maximum(freq_hz, 40.0) / 1000.0) ** (-tilt) + rng.uniform(0.1, 0.6)
    noise = np.fft.irfft(spectrum, fast)[:size]
    noise /= np.std(noise)
    mains_hz = float(rng.choice([50.0, 60.0]))
    clock_s = np.arange(size) / rate_hz
    hum = sum(
        rng.uniform(0, 1) / harmonic * np.sin(2 * np.pi * mains_hz * harmonic * clock_s)
        for harmonic in (1, 2, 3, 5, 7)
    )
    return noise + rng.choice([0.0, 1.0, 3.0]) * hum


def room_response(rng: Generator, rate_hz: int, decay_s: float, wet: float) -> FloatArray:
    """Impulse response: the direct sound at sample 0, a few reflections, a dense tail."""
    size = int(decay_s * 1.2 * rate_hz)
    clock_s = np.arange(size) / rate_hz
    tail = rng.standard_normal(size) * 10 ** (-3 * clock_s / decay_s)
    tail = tone_filter(tail, rate_hz, 120, 7000, 1)
    tail[: int(0.004 * rate_hz)] = 0.0
    tail *= wet / max(float(np.sqrt(np.sum(tail**2))), 1e-9)
    for _ in range(int(rng.integers(3, 8))):
        tail[int(rng.uniform(0.0008, 0.02) * rate_hz)] += wet * rng.uniform(-0.5, 0.5)
    tail[0] = 1.0
    return tail


def pumped(signal: FloatArray, rate_hz: int, release_s: float, strength: float) -> FloatArray:
    """Automatic gain: quick to turn down, slow to turn up, by blocks of 4 ms."""
    block = int(0.004 * rate_hz)
    blocks = -(-signal.size // block)
    padded = np.pad(signal, (0, blocks * block - signal.size))
    peak = np.abs(padded).reshape(blocks, block).max(axis=1)
    fall = np.exp(-0.004 / release_s)
    follow, level = np.empty(blocks), 1e-3
    for index in range(blocks):
        level = max(level * fall, 0.4 * level + 0.6 * float(peak[index]))
        follow[index] = max(level, 1e-4)
    gain = (follow / np.percentile(follow, 90)) ** (-strength)
    gain = np.minimum(gain, 10.0)
    smooth = np.interp(np.arange(signal.size), (np.arange(blocks) + 0.5) * block, gain)
    return signal * smooth


_VOWELS_HZ = {"a": (750, 1200, 2500), "u": (320, 900, 2300), "i": (300, 2250, 3000)}
_VOWELS_HZ |= {"o": (500, 850, 2500), "e": (420, 2000, 2700)}


def counting_voice(rng: Generator, rate_hz: int, word: int) -> FloatArray:
    """Say a counted word (1 to 4): a buzz through three formants, with its consonant; peak 1."""
    from scipy.signal import lfilter

    vowel, breath = [("a", 0.0), ("u", 0.06), ("i", 0.08), ("o", 0.09)][word % 4]
    length_s = float(rng.uniform(0.14, 0.3))
    size = int(length_s * rate_hz)
    clock_s = np.arange(size) / rate_hz
    pitch_hz = rng.uniform(90, 230) * (1 - 0.2 * clock_s / length_s)
    turns = np.cumsum(pitch_hz) / rate_hz
    buzz = np.diff(np.floor(turns), prepend=0.0) + 0.02 * rng.standard_normal(size)
    voice = np.zeros(size)
    for formant_hz in _VOWELS_HZ[vowel]:
        radius = np.exp(-np.pi * 90 / rate_hz)
        angle = 2 * np.pi * formant_hz / rate_hz
        voice += lfilter([1 - radius], [1, -2 * radius * np.cos(angle), radius**2], buzz)
    voice *= np.minimum(1, clock_s / 0.03) * np.minimum(1, (length_s - clock_s) / 0.08)
    voice /= max(float(np.max(np.abs(voice))), 1e-9)
    if breath:
        hiss = tone_filter(rng.standard_normal(int(breath * rate_hz)), rate_hz, 2500, 8000)
        hiss *= np.hanning(hiss.size) * rng.uniform(0.2, 0.7) / max(np.max(np.abs(hiss)), 1e-9)
        voice = np.concatenate([hiss, voice])
    return voice
