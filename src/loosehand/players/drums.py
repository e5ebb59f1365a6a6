"""What is hit: modelled drums, each drawn at random, and the hook for sampled ones.

A modelled drum is a basis of decaying partials and bands of noise. Each stroke is a fresh
mixture of them, duller the softer it is. The contact of stick and surface is the first
sample. All sound here is at ``WORK_RATE_HZ``. Parameters are chosen by ear, not validated.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "DRUM_KINDS",
    "WORK_RATE_HZ",
    "DrumPlan",
    "DrumVoice",
    "ModelledDrum",
    "NoiseBand",
    "Partials",
    "draw_drum",
    "drawn_partials",
    "hat_plan",
    "planned_drum",
    "shaded",
]

SoundArray = NDArray[np.float32]
FloatArray = NDArray[np.float64]
WORK_RATE_HZ = 48_000
"""Samples a second of all that is modelled here."""
_ENERGY_S = 0.030
_TIERS_DB = (0.0, -5.0, -10.0, -16.0)
_VARIANTS = 8
_NOISE_ROWS = 4


class DrumVoice(Protocol):
    """Anything that can be hit: modelled here, or sampled elsewhere."""

    def render(self, level_db: float, rng: np.random.Generator) -> tuple[SoundArray, float]:
        """Sound of one stroke.

        Parameters
        ----------
        level_db : level of the stroke; at 0 the mean square of its first 30 ms is about 0.01
        rng : source of all chance

        Returns
        -------
        samples : float32 array, shape (n,), at WORK_RATE_HZ
        onset_offset_s : time of the physical onset within the samples
        """
        ...


@dataclass(frozen=True)
class ModelledDrum:
    """A drum made of decaying partials and bands of noise.

    Attributes
    ----------
    kind : one of DRUM_KINDS
    bank : float32 array, shape (tiers, variants, n), strokes of equal energy, loud to soft
    """

    kind: str
    bank: SoundArray

    def render(self, level_db: float, rng: np.random.Generator) -> tuple[SoundArray, float]:
        """Sound of one stroke; its onset is the first sample."""
        tier = float(np.interp(-level_db, -np.array(_TIERS_DB), np.arange(len(_TIERS_DB))))
        upper = rng.random() < tier - int(tier)
        row = self.bank[min(int(tier) + int(upper), len(_TIERS_DB) - 1)]
        wave = row[int(rng.integers(0, row.shape[0]))]
        return (wave * np.float32(10 ** (level_db / 20))).astype(np.float32), 0.0


@dataclass(frozen=True)
class Partials:
    """Decaying sines: frequency, amplitude and time to fall by 1/e, each shape (n,)."""

    frequency_hz: FloatArray
    amplitude: FloatArray
    fall_s: FloatArray
    rise_s: float


@dataclass(frozen=True)
class NoiseBand:
    """A band of noise with its own rise and fall."""

    low_hz: float
    high_hz: float
    amplitude: float
    rise_s: float
    fall_s: float


@dataclass(frozen=True)
class DrumPlan:
    """What a drum is made of: its length, and how many decibels an octave it dulls by 5 dB."""

    partials: Partials
    bands: tuple[NoiseBand, ...]
    length_s: float
    dulling_db: float


def drawn_partials(
    rng: np.random.Generator,
    span_hz: tuple[float, float],
    count: int,
    fall_s: tuple[float, float],
    rise_s: float,
) -> Partials:
    """Inharmonic partials, the higher the weaker and the shorter."""
    low, high = np.log(span_hz)
    frequency = np.sort(np.exp(rng.uniform(low, high, count)))
    height = np.log(frequency / span_hz[0]) / np.log(span_hz[1] / span_hz[0])
    longest, shortest = fall_s[1], fall_s[0]
    fall = longest * (shortest / longest) ** height * np.exp(rng.normal(0.0, 0.2, count))
    amplitude = np.exp(rng.normal(0.0, 0.5, count)) * 10 ** (-rng.uniform(0.0, 0.8) * height)
    return Partials(frequency, amplitude / np.sqrt(np.sum(amplitude**2)), fall, rise_s)


def _pad(rng: np.random.Generator) -> DrumPlan:
    low = rng.uniform(120.0, 450.0)
    body_s = rng.uniform(0.010, 0.045)
    return DrumPlan(
        drawn_partials(
            rng,
            (low, low * rng.uniform(3, 6)),
            int(rng.integers(3, 7)),
            (body_s / 3, body_s),
            rng.uniform(0.0001, 0.0008),
        ),
        (
            NoiseBand(600.0, rng.uniform(2500, 6000), rng.uniform(0.2, 0.9), 1e-4, 0.006),
            NoiseBand(2000.0, 9000.0, rng.uniform(0.03, 0.4), 5e-5, rng.uniform(0.001, 0.004)),
        ),
        0.20,
        rng.uniform(0.2, 0.6),
    )


def hat_plan(rng: np.random.Generator, fall_s: float) -> DrumPlan:
    """Plan of a hat whose ringing falls by 1/e in a time."""
    low = rng.uniform(2500.0, 5000.0)
    return DrumPlan(
        drawn_partials(
            rng, (low, rng.uniform(10e3, 15e3)), int(rng.integers(12, 30)), (fall_s, fall_s), 1e-4
        ),
        (
            NoiseBand(low, rng.uniform(9e3, 12e3), rng.uniform(0.4, 1.2), 1e-4, fall_s),
            NoiseBand(8e3, rng.uniform(14e3, 19e3), rng.uniform(0.3, 1.2), 1e-4, 0.6 * fall_s),
            NoiseBand(1200.0, 6000.0, rng.uniform(0.2, 2.0), 4e-5, rng.uniform(0.001, 0.005)),
            NoiseBand(250.0, 900.0, rng.uniform(0.0, 0.3), 4e-4, rng.uniform(0.01, 0.03)),
        ),
        min(8 * fall_s + 0.05, 1.5),
        rng.uniform(0.2, 0.7),
    )


def _ride(rng: np.random.Generator) -> DrumPlan:
    ring_s = rng.uniform(0.25, 0.9)
    return DrumPlan(
        drawn_partials(rng, (rng.uniform(350, 700), 9e3), 28, (ring_s / 5, ring_s), 2e-4),
        (
            NoiseBand(3000.0, 13e3, rng.uniform(0.6, 3.0), 4e-5, rng.uniform(0.001, 0.004)),
            NoiseBand(2200.0, 7000.0, rng.uniform(0.5, 1.5), 5e-5, rng.uniform(0.01, 0.05)),
            NoiseBand(3000.0, 14e3, rng.uniform(0.1, 0.5), 0.004, ring_s / 3),
        ),
        min(3.5 * ring_s, 2.5),
        rng.uniform(0.2, 0.6),
    )


def _snare(rng: np.random.Generator) -> DrumPlan:
    low = rng.uniform(160.0, 280.0)
    wires_s = rng.uniform(0.03, 0.11)
    return DrumPlan(
        drawn_partials(rng, (low, 6 * low), int(rng.integers(4, 9)), (0.02, 0.09), 2e-4),
        (
            NoiseBand(1200.0, rng.uniform(7e3, 11e3), rng.uniform(0.5, 1.5), 3e-4, wires_s),
            NoiseBand(500.0, 3000.0, rng.uniform(0.2, 0.6), 1e-4, 0.010),
        ),
        0.5,
        rng.uniform(0.3, 0.8),
    )


def _mesh(rng: np.random.Generator) -> DrumPlan:
    low = rng.uniform(80.0, 220.0)
    return DrumPlan(
        drawn_partials(rng, (low, 5 * low), int(rng.integers(3, 7)), (0.03, 0.15), 6e-4),
        (
            NoiseBand(700.0, 3500.0, rng.uniform(0.2, 1.0), 1e-4, 0.005),
            NoiseBand(3000.0, 9000.0, rng.uniform(0.01, 0.15), 1e-4, 0.003),
        ),
        0.5,
        rng.uniform(0.2, 0.6),
    )


def _pillow(rng: np.random.Generator) -> DrumPlan:
    rise_s = rng.uniform(0.0006, 0.0025)
    return DrumPlan(
        drawn_partials(rng, (60.0, 350.0), 4, (0.01, 0.04), rise_s),
        (
            NoiseBand(80.0, rng.uniform(500, 1200), rng.uniform(0.5, 1.5), rise_s, 0.025),
            NoiseBand(900.0, 5000.0, rng.uniform(0.03, 0.25), rise_s / 3, 0.008),
        ),
        0.25,
        rng.uniform(0.3, 0.8),
    )


def _table(rng: np.random.Generator) -> DrumPlan:
    low = rng.uniform(180.0, 500.0)
    return DrumPlan(
        drawn_partials(
            rng, (low, rng.uniform(2e3, 5e3)), int(rng.integers(5, 12)), (0.004, 0.03), 1e-4
        ),
        (
            NoiseBand(1500.0, rng.uniform(6e3, 12e3), rng.uniform(0.2, 0.9), 5e-5, 0.003),
            NoiseBand(100.0, 400.0, rng.uniform(0.1, 0.6), 3e-4, 0.03),
        ),
        0.25,
        rng.uniform(0.2, 0.6),
    )


DRUM_KINDS: tuple[str, ...] = (
    "pad",
    "closed hat",
    "loose hat",
    "ride",
    "snare",
    "mesh",
    "pillow",
    "table",
)
"""Every kind of drum that can be drawn."""


def _plan(kind: str, rng: np.random.Generator) -> DrumPlan:
    if kind == "closed hat":
        return hat_plan(rng, float(np.exp(rng.uniform(*np.log((0.015, 0.07))))))
    if kind == "loose hat":
        return hat_plan(rng, float(np.exp(rng.uniform(*np.log((0.09, 0.30))))))
    makers = {
        "pad": _pad,
        "ride": _ride,
        "snare": _snare,
        "mesh": _mesh,
        "pillow": _pillow,
        "table": _table,
    }
    return makers[kind](rng)


def _band_noise(band: NoiseBand, size: int, rng: np.random.Generator) -> SoundArray:
    """Noise of a band, its envelope starting at the first sample."""
    spectrum = np.fft.rfft(rng.standard_normal(size))
    frequency = np.fft.rfftfreq(size, 1 / WORK_RATE_HZ)
    inside = 1 / (1 + (band.low_hz / np.maximum(frequency, 1.0)) ** 6)
    inside /= 1 + (frequency / band.high_hz) ** 8
    noise = np.fft.irfft(spectrum * np.sqrt(inside), size)
    noise /= np.sqrt(np.mean(noise**2)) + 1e-12
    at_s = np.arange(size) / WORK_RATE_HZ
    envelope = (1 - np.exp(-at_s / band.rise_s)) * np.exp(-at_s / band.fall_s)
    shaped: SoundArray = (noise * envelope).astype(np.float32)
    return shaped


def _basis(plan: DrumPlan, rng: np.random.Generator) -> tuple[SoundArray, FloatArray, FloatArray]:
    """Rows of sound, their usual amplitudes, and the height of each in octaves above 200 Hz."""
    size = int(plan.length_s * WORK_RATE_HZ)
    at_s = (np.arange(size) / WORK_RATE_HZ).astype(np.float32)
    waves = plan.partials
    rows = [
        np.sin(np.float32(2 * np.pi * f) * at_s) * np.exp(at_s * np.float32(-1 / fall))
        for f, fall in zip(waves.frequency_hz, waves.fall_s, strict=True)
    ]
    rise = 1 - np.exp(at_s * np.float32(-1 / waves.rise_s))
    rows = [row * rise for row in rows]
    amplitude, height = list(waves.amplitude), list(waves.frequency_hz)
    for band in plan.bands:
        rows += [_band_noise(band, size, rng) for _ in range(_NOISE_ROWS)]
        amplitude += [band.amplitude / _NOISE_ROWS**0.5] * _NOISE_ROWS
        height += [(band.low_hz * band.high_hz) ** 0.5] * _NOISE_ROWS
    fade = np.minimum(1.0, (size - np.arange(size)) / (0.2 * size)).astype(np.float32)
    octaves = np.log2(np.maximum(np.array(height), 200.0) / 200.0)
    sound: SoundArray = np.stack(rows).astype(np.float32) * fade
    return sound, np.array(amplitude), octaves


def _bank(plan: DrumPlan, tilt_db: float, rng: np.random.Generator) -> SoundArray:
    rows, amplitude, octaves = _basis(plan, rng)
    partials = plan.partials.frequency_hz.size
    weights = []
    for tier_db in _TIERS_DB:
        tilt = 10 ** ((tilt_db + plan.dulling_db * tier_db / 5) * octaves / 20)
        for _ in range(_VARIANTS):
            vary = np.exp(rng.normal(0.0, 0.15, amplitude.size))
            mixture = rng.normal(size=(len(plan.bands), _NOISE_ROWS))
            mixture /= np.sqrt(np.mean(mixture**2, axis=1, keepdims=True))
            vary[partials:] = np.repeat(vary[partials::_NOISE_ROWS], _NOISE_ROWS)
            vary[partials:] *= mixture.reshape(-1)
            weights.append(amplitude * tilt * vary)
    sound = np.asarray(weights, dtype=np.float32) @ rows
    early = sound[:, : int(_ENERGY_S * WORK_RATE_HZ)]
    energy = np.sum(early.astype(np.float64) ** 2, axis=1, keepdims=True)
    scale = 0.1 * np.sqrt(_ENERGY_S * WORK_RATE_HZ / energy)
    shape = (len(_TIERS_DB), _VARIANTS, sound.shape[1])
    bank: SoundArray = (sound * scale).astype(np.float32).reshape(shape)
    return bank


def draw_drum(kind: str, rng: np.random.Generator) -> ModelledDrum:
    """Draw a drum of a kind.

    Parameters
    ----------
    kind : one of DRUM_KINDS
    rng : source of all chance

    Returns
    -------
    drum : ready to be hit

    Examples
    --------
    >>> drum = draw_drum("pad", np.random.default_rng(1))
    >>> samples, onset_offset_s = drum.render(-3.0, np.random.default_rng(2))
    >>> samples.dtype, onset_offset_s
    (dtype('float32'), 0.0)
    """
    return ModelledDrum(kind, _bank(_plan(kind, rng), 0.0, rng))


def planned_drum(kind: str, plan: DrumPlan, rng: np.random.Generator) -> ModelledDrum:
    """Make a drum of a plan of its own."""
    return ModelledDrum(kind, _bank(plan, 0.0, rng))


def shaded(kind: str, seed: int, *, tilt_db: float) -> ModelledDrum:
    """Give the drum that ``seed`` draws, hit at another spot: brighter or duller.

    Parameters
    ----------
    kind : one of DRUM_KINDS
    seed : what the drum is drawn from
    tilt_db : decibels an octave

    Returns
    -------
    drum : the same drum for ``tilt_db`` = 0
    """
    rng = np.random.default_rng(seed)
    return ModelledDrum(kind, _bank(_plan(kind, rng), tilt_db, rng))
