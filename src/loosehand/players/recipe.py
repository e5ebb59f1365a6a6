"""How a take sounds: every particular of drum, click, room, microphone and file, drawn by tier.

Three tiers, each wider and worse than the one before:

clean_pad   a quiet room, a near microphone, the click faint or in headphones
home_phone  any surface, a bedroom, a phone, the click from a speaker
hard        click as loud as the strokes, counting aloud, echo, pumping gain, few bits

Ranges are chosen by ear, not validated. Levels are against a stroke at 0 dB.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from loosehand.errors import BadNotation
from loosehand.players.bleed import ClickVoice, draw_click
from loosehand.players.drums import DRUM_KINDS
from loosehand.players.room import Microphone, Noise, Room
from loosehand.players.speech import Voice, draw_voice

__all__ = ["TIERS", "Bleed", "FileKind", "Pumping", "Recipe", "Tier", "draw_recipe"]

Tier = Literal["clean_pad", "home_phone", "hard"]
TIERS: tuple[Tier, ...] = ("clean_pad", "home_phone", "hard")
"""The tiers, from easy to hard."""


@dataclass(frozen=True)
class Bleed:
    """The click in the recording.

    Attributes
    ----------
    click : its sound
    level_db : a plain count against a stroke at 0 dB
    speaker_low_hz, speaker_high_hz : band of the speaker
    room : its own way through the room
    """

    click: ClickVoice
    level_db: float
    speaker_low_hz: float
    speaker_high_hz: float
    room: Room


@dataclass(frozen=True)
class Pumping:
    """Automatic gain.

    Attributes
    ----------
    attack_s, release_s : how fast the gain falls and rises
    strength : 0 for none, 1 for all levels made equal
    most_db : greatest rise of the gain
    """

    attack_s: float
    release_s: float
    strength: float
    most_db: float


@dataclass(frozen=True)
class FileKind:
    """What kind of file the recorder makes.

    Attributes
    ----------
    suffix : of the file, with its dot
    sample_rate_hz : rate of the file
    bit_rate : bits a second, 0 where nothing is thrown away
    channels : 1 or 2
    """

    suffix: str
    sample_rate_hz: int
    bit_rate: int
    channels: int


@dataclass(frozen=True)
class Recipe:
    """How a take sounds.

    Attributes
    ----------
    drum_kind, drum_seed : the drum of the right hand, or of both
    left_tilt_db : how much brighter the left hand's spot is, decibels an octave
    room : the way from drum to microphone
    bleed : the click in the recording, or None with headphones
    noise, microphone : as recorded
    speech : who counts aloud, or None
    bumps : knocks and scrapes around the round
    pumping : automatic gain, or None
    peak_dbfs : where the highest peak lies; above 0 it is clipped
    is_soft_clipped : whether clipping is rounded
    after_s : length of the recording after the round
    cut_s : time at which the recording breaks off, or None
    file : what kind of file it becomes
    """

    drum_kind: str
    drum_seed: int
    left_tilt_db: float
    room: Room
    bleed: Bleed | None
    noise: Noise
    microphone: Microphone
    speech: Voice | None
    bumps: int
    pumping: Pumping | None
    peak_dbfs: float
    is_soft_clipped: bool
    after_s: float
    cut_s: float | None
    file: FileKind


@dataclass(frozen=True)
class _Ranges:
    """What a tier draws from: pairs are low and high, shares are chances."""

    drum_weights: tuple[float, ...]
    reverberation_s: tuple[float, float]
    tail_db: tuple[float, float]
    noise_db: tuple[float, float]
    bleed_db: tuple[float, float]
    no_bleed_share: float
    speech_db: tuple[float, float]
    speech_share: float
    most_bumps: int
    pumping_share: float
    pumping_strength: tuple[float, float]
    peak_dbfs: tuple[float, float]
    clipped_share: float
    microphone_low_hz: tuple[float, float]
    microphone_high_hz: tuple[float, float]
    files: tuple[tuple[str, tuple[int, ...], tuple[int, ...]], ...]


_CLEAN = _Ranges(
    drum_weights=(0.5, 0.12, 0.04, 0.04, 0.1, 0.08, 0.02, 0.1),
    reverberation_s=(0.1, 0.3),
    tail_db=(-28.0, -10.0),
    noise_db=(-75.0, -48.0),
    bleed_db=(-60.0, -18.0),
    no_bleed_share=0.25,
    speech_db=(-60.0, -50.0),
    speech_share=0.0,
    most_bumps=0,
    pumping_share=0.0,
    pumping_strength=(0.0, 0.0),
    peak_dbfs=(-20.0, -0.5),
    clipped_share=0.0,
    microphone_low_hz=(20.0, 90.0),
    microphone_high_hz=(12e3, 20e3),
    files=(
        (".wav", (44100, 48000), (0,)),
        (".flac", (44100, 48000), (0,)),
        (".m4a", (44100, 48000), (128_000, 192_000, 256_000)),
        (".mp3", (44100, 48000), (192_000, 256_000)),
    ),
)
_HOME = _Ranges(
    drum_weights=(0.22, 0.2, 0.1, 0.1, 0.12, 0.1, 0.06, 0.1),
    reverberation_s=(0.2, 0.6),
    tail_db=(-16.0, -3.0),
    noise_db=(-55.0, -30.0),
    bleed_db=(-40.0, -3.0),
    no_bleed_share=0.1,
    speech_db=(-28.0, -10.0),
    speech_share=0.12,
    most_bumps=2,
    pumping_share=0.35,
    pumping_strength=(0.2, 0.6),
    peak_dbfs=(-26.0, -0.5),
    clipped_share=0.15,
    microphone_low_hz=(60.0, 250.0),
    microphone_high_hz=(8e3, 18e3),
    files=(
        (".m4a", (44100, 48000), (64_000, 96_000, 128_000)),
        (".m4a", (44100, 48000), (64_000, 96_000, 128_000)),
        (".mp3", (44100, 48000, 32000), (96_000, 128_000)),
        (".ogg", (44100, 48000), (80_000, 112_000)),
        (".opus", (48000,), (32_000, 48_000, 96_000)),
        (".webm", (48000,), (32_000, 48_000, 96_000)),
        (".wav", (22050, 44100, 48000), (0,)),
    ),
)
_HARD = _Ranges(
    drum_weights=(0.2, 0.2, 0.12, 0.12, 0.12, 0.08, 0.06, 0.1),
    reverberation_s=(0.3, 0.8),
    tail_db=(-9.0, 1.0),
    noise_db=(-38.0, -18.0),
    bleed_db=(-6.0, 8.0),
    no_bleed_share=0.0,
    speech_db=(-16.0, 3.0),
    speech_share=0.6,
    most_bumps=4,
    pumping_share=0.7,
    pumping_strength=(0.4, 0.9),
    peak_dbfs=(-30.0, -0.5),
    clipped_share=0.3,
    microphone_low_hz=(80.0, 400.0),
    microphone_high_hz=(5e3, 14e3),
    files=(
        (".m4a", (44100, 22050), (24_000, 32_000, 48_000)),
        (".mp3", (22050, 44100, 16000), (32_000, 48_000, 64_000)),
        (".opus", (48000,), (16_000, 24_000, 32_000)),
        (".webm", (48000,), (16_000, 24_000, 32_000)),
        (".ogg", (22050, 44100), (40_000, 56_000)),
        (".wav", (16000, 22050), (0,)),
    ),
)
_RANGES: dict[str, _Ranges] = {"clean_pad": _CLEAN, "home_phone": _HOME, "hard": _HARD}


def _log_uniform(rng: np.random.Generator, span: tuple[float, float]) -> float:
    return float(np.exp(rng.uniform(np.log(span[0]), np.log(span[1]))))


def _seed(rng: np.random.Generator) -> int:
    return int(rng.integers(0, 2**31))


def _room(ranges: _Ranges, rng: np.random.Generator, *, further_db: float) -> Room:
    return Room(
        reverberation_s=rng.uniform(*ranges.reverberation_s),
        tail_db=rng.uniform(*ranges.tail_db) + further_db,
        reflections=int(rng.integers(2, 9)),
        dull_hz=_log_uniform(rng, (1500.0, 9000.0)),
        seed=_seed(rng),
    )


def _noise(ranges: _Ranges, rng: np.random.Generator) -> Noise:
    level_db = rng.uniform(*ranges.noise_db)
    return Noise(
        white_db=level_db - rng.uniform(3.0, 15.0),
        pink_db=level_db - rng.uniform(0.0, 6.0),
        rumble_db=level_db + rng.uniform(-12.0, 8.0),
        hum_hz=float(rng.choice([50.0, 60.0])),
        hum_db=level_db + rng.uniform(-15.0, 6.0) if rng.random() < 0.5 else -120.0,
        fan_db=level_db + rng.uniform(-9.0, 3.0) if rng.random() < 0.3 else -120.0,
        fan_hz=_log_uniform(rng, (150.0, 1500.0)),
        seed=_seed(rng),
    )


def _bleed(ranges: _Ranges, rng: np.random.Generator) -> Bleed | None:
    if rng.random() < ranges.no_bleed_share:
        return None
    return Bleed(
        click=draw_click(rng),
        level_db=rng.uniform(*ranges.bleed_db),
        speaker_low_hz=_log_uniform(rng, (80.0, 700.0)),
        speaker_high_hz=_log_uniform(rng, (5e3, 16e3)),
        room=_room(ranges, rng, further_db=rng.uniform(0.0, 6.0)),
    )


def _pumping(ranges: _Ranges, rng: np.random.Generator) -> Pumping | None:
    if rng.random() >= ranges.pumping_share:
        return None
    return Pumping(
        attack_s=_log_uniform(rng, (0.001, 0.02)),
        release_s=_log_uniform(rng, (0.1, 1.5)),
        strength=rng.uniform(*ranges.pumping_strength),
        most_db=rng.uniform(10.0, 30.0),
    )


def _file(ranges: _Ranges, rng: np.random.Generator) -> FileKind:
    suffix, rates, bits = ranges.files[int(rng.integers(0, len(ranges.files)))]
    return FileKind(
        suffix=suffix,
        sample_rate_hz=int(rng.choice(np.array(rates))),
        bit_rate=int(rng.choice(np.array(bits))),
        channels=2 if rng.random() < 0.3 else 1,
    )


def _microphone(ranges: _Ranges, rng: np.random.Generator) -> Microphone:
    return Microphone(
        low_hz=_log_uniform(rng, ranges.microphone_low_hz),
        high_hz=_log_uniform(rng, ranges.microphone_high_hz),
        presence_hz=_log_uniform(rng, (1500.0, 7000.0)),
        presence_db=rng.uniform(-4.0, 8.0),
    )


def draw_recipe(tier: str, rng: np.random.Generator) -> Recipe:
    """Draw how a take sounds.

    Parameters
    ----------
    tier : one of TIERS
    rng : source of all chance

    Returns
    -------
    recipe : every particular

    Raises
    ------
    BadNotation    if there is no such tier
    """
    if tier not in _RANGES:
        raise BadNotation(f"tier = {tier!r}: want one of {', '.join(TIERS)}")
    ranges = _RANGES[tier]
    has_speech = rng.random() < ranges.speech_share
    is_clipped = rng.random() < ranges.clipped_share
    return Recipe(
        drum_kind=DRUM_KINDS[int(rng.choice(len(DRUM_KINDS), p=ranges.drum_weights))],
        drum_seed=_seed(rng),
        left_tilt_db=float(rng.normal(0.0, 1.2)),
        room=_room(ranges, rng, further_db=0.0),
        bleed=_bleed(ranges, rng),
        noise=_noise(ranges, rng),
        microphone=_microphone(ranges, rng),
        speech=draw_voice(rng.uniform(*ranges.speech_db), rng) if has_speech else None,
        bumps=int(rng.integers(0, ranges.most_bumps + 1)),
        pumping=_pumping(ranges, rng),
        peak_dbfs=rng.uniform(1.0, 6.0) if is_clipped else rng.uniform(*ranges.peak_dbfs),
        is_soft_clipped=bool(rng.random() < 0.5),
        after_s=rng.uniform(0.1, 3.0),
        cut_s=None,
        file=_file(ranges, rng),
    )
