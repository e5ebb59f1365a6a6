"""The sound of a performance: strokes, click, voice, room and microphone, mixed.

The physical onset of a stroke lies at its true time to a small fraction of a sample: the
first 80 ms of every sound are shifted by a windowed sinc, the rest by whole samples.
"""

import numpy as np
from numpy.typing import NDArray

from loosehand.click import ClickRole
from loosehand.players.bleed import click_sound
from loosehand.players.drums import WORK_RATE_HZ, DrumVoice, shaded
from loosehand.players.performance import Performance
from loosehand.players.recipe import Bleed, Pumping, Recipe
from loosehand.players.room import (
    band_response,
    impulse_response,
    microphone_response,
    noise_spectrum,
)
from loosehand.players.speech import spoken_word

__all__ = ["place_sound", "render"]

SoundArray = NDArray[np.float32]
FloatArray = NDArray[np.float64]
_TAPS = 16
_ATTACK, _BLEND = 3840, 480
_GAIN_STEP = 96


def place_sound(into: SoundArray, wave: SoundArray, at_sample: float) -> None:
    """Add a sound at a fraction of a sample; what does not fit is left off.

    Parameters
    ----------
    into : float32 array, shape (n,), changed
    wave : float32 array, shape (m,)
    at_sample : where the first sample of ``wave`` lies in ``into``
    """
    first = int(np.floor(at_sample))
    tap = np.arange(_TAPS) - (_TAPS // 2 - 1) - (at_sample - first)
    kernel = np.sinc(tap) * (0.5 + 0.5 * np.cos(2 * np.pi * tap / (_TAPS + 1)))
    head = wave[:_ATTACK]
    if wave.size > _ATTACK:
        fade = np.linspace(1.0, 0.0, _BLEND, dtype=np.float32)
        head = head.copy()
        head[-_BLEND:] *= fade
        tail = wave[_ATTACK - _BLEND :].copy()
        tail[:_BLEND] *= 1 - fade
        _add(into, tail, round(at_sample) + _ATTACK - _BLEND)
    shifted = np.convolve(head, (kernel / kernel.sum()).astype(np.float32))
    _add(into, shifted, first - (_TAPS // 2 - 1))


def _add(into: SoundArray, wave: SoundArray, first: int) -> None:
    begin, end = max(first, 0), min(first + wave.size, into.size)
    if end > begin:
        into[begin:end] += wave[begin - first : end - first]


def render(
    performance: Performance,
    recipe: Recipe,
    rng: np.random.Generator,
    *,
    voices: tuple[DrumVoice, DrumVoice] | None = None,
) -> tuple[SoundArray, int]:
    """Sound of a take as the recorder stores it, before it is coded.

    Parameters
    ----------
    performance : what was played
    recipe : how it sounds
    rng : source of all further chance
    voices : drums of the left and of the right hand, in place of the recipe's own

    Returns
    -------
    samples : float32 array, shape (n,) or (n, 2), within [-1, 1]
    sample_rate_hz : the rate of the recipe's file
    """
    import soxr

    end_s = performance.round_end_s + recipe.after_s
    end_s = end_s if recipe.cut_s is None else min(recipe.cut_s, end_s)
    size = int(end_s * WORK_RATE_HZ)
    left, right = voices if voices is not None else _voices(recipe)
    near = _strokes(performance, left, right, size, rng)
    _speak(near, performance, recipe, rng)
    _bump(near, performance, recipe, rng)
    far = np.zeros(size, dtype=np.float32)
    if recipe.bleed is not None:
        _click(far, performance, recipe.bleed, right, rng)
    mixed = _mix(near, far, recipe)
    if recipe.pumping is not None:
        mixed *= _pumped_gain(mixed, recipe.pumping)
    level = 10 ** (recipe.peak_dbfs / 20) / (float(np.abs(mixed).max()) + 1e-12)
    recorded = _clipped(mixed * np.float32(level), is_soft=recipe.is_soft_clipped)
    rate = recipe.file.sample_rate_hz
    if rate != WORK_RATE_HZ:
        recorded = soxr.resample(recorded, WORK_RATE_HZ, rate)
    recorded = np.clip(recorded, -1.0, 1.0).astype(np.float32)
    return (_two_channels(recorded, rng) if recipe.file.channels == 2 else recorded), rate


def _voices(recipe: Recipe) -> tuple[DrumVoice, DrumVoice]:
    right = shaded(recipe.drum_kind, recipe.drum_seed, tilt_db=0.0)
    return shaded(recipe.drum_kind, recipe.drum_seed, tilt_db=recipe.left_tilt_db), right


def _strokes(
    performance: Performance,
    left: DrumVoice,
    right: DrumVoice,
    size: int,
    rng: np.random.Generator,
) -> SoundArray:
    near = np.zeros(size, dtype=np.float32)
    strokes = zip(
        performance.stroke_time_s, performance.level_db, performance.stroke_hand, strict=True
    )
    for time_s, level_db, hand in strokes:
        wave, offset_s = (left if hand == "left" else right).render(float(level_db), rng)
        place_sound(near, wave, (float(time_s) - offset_s) * WORK_RATE_HZ)
    return near


def _speak(
    near: SoundArray, performance: Performance, recipe: Recipe, rng: np.random.Generator
) -> None:
    """Count aloud, at each count or at each place, a little off it."""
    voice = recipe.speech
    if voice is None:
        return
    step = performance.places_per_count if not voice.subdivides else 1
    places_s = performance.place_times_s()[::step]
    bank = [spoken_word(voice, number, rng) for number in range(8)]
    lag_s = rng.normal(0.0, voice.spread_s)
    for index, place_s in enumerate(places_s):
        at_s = place_s + lag_s + rng.normal(0.0, voice.spread_s / 2) - 0.03
        word = bank[index % 4 + 4 * int(rng.integers(0, 2))]
        gain = np.float32(10 ** (rng.normal(0.0, 2.0) / 20))
        place_sound(near, word * gain, float(at_s) * WORK_RATE_HZ)


def _bump(
    near: SoundArray, performance: Performance, recipe: Recipe, rng: np.random.Generator
) -> None:
    """Knocks and scrapes, most of them before the count-in and after the round."""
    end_s = near.size / WORK_RATE_HZ
    for _ in range(recipe.bumps):
        before = rng.random() < 0.5
        first_s = performance.click_time_s[0]
        span = (0.0, first_s) if before else (performance.round_end_s, end_s)
        at_s = rng.uniform(*(span if rng.random() < 0.8 and span[1] > span[0] else (0.0, end_s)))
        size = int(rng.uniform(0.03, 0.3) * WORK_RATE_HZ)
        noise = np.cumsum(rng.standard_normal(size)) * np.exp(-np.arange(size) / (0.2 * size))
        noise *= np.minimum(1.0, np.arange(size) / (rng.uniform(0.001, 0.02) * WORK_RATE_HZ))
        noise *= 0.1 * 10 ** (rng.uniform(-20.0, 0.0) / 20) / (np.std(noise) + 1e-9)
        place_sound(near, noise.astype(np.float32), at_s * WORK_RATE_HZ)


def _click(
    far: SoundArray,
    performance: Performance,
    bleed: Bleed,
    drum: DrumVoice,
    rng: np.random.Generator,
) -> None:
    """Add every click, through its own speaker and room."""
    response = impulse_response(bleed.room)
    same, _ = drum.render(0.0, rng)
    sounds: dict[ClickRole, SoundArray] = {}
    for role in sorted(set(performance.click_role)):
        dry = same if bleed.click.kind == "drum" else click_sound(bleed.click, role)
        sounds[role] = _through_speaker(dry, bleed, response)
    for time_s, role in zip(performance.click_time_s, performance.click_role, strict=True):
        place_sound(far, sounds[role], float(time_s) * WORK_RATE_HZ)


def _through_speaker(dry: SoundArray, bleed: Bleed, response: SoundArray) -> SoundArray:
    size = dry.size + response.size + WORK_RATE_HZ // 50
    frequency = np.fft.rfftfreq(size, 1 / WORK_RATE_HZ).astype(np.float32)
    band = band_response(frequency, bleed.speaker_low_hz, bleed.speaker_high_hz)
    spectrum = np.fft.rfft(dry, size) * np.fft.rfft(response, size) * band
    gain = 10 ** (bleed.level_db / 20)
    return (np.fft.irfft(spectrum, size) * gain).astype(np.float32)


def _mix(near: SoundArray, far: SoundArray, recipe: Recipe) -> SoundArray:
    """Put strokes into the room, click and noise to them, all through the microphone."""
    import scipy.fft

    response = impulse_response(recipe.room)
    size = scipy.fft.next_fast_len(near.size + response.size, real=True)
    spectrum = scipy.fft.rfft(near, size) * scipy.fft.rfft(response, size)
    spectrum += scipy.fft.rfft(far, size)
    spectrum += noise_spectrum(recipe.noise, size)
    frequency = np.fft.rfftfreq(size, 1 / WORK_RATE_HZ).astype(np.float32)
    spectrum *= microphone_response(recipe.microphone, frequency)
    mixed: SoundArray = scipy.fft.irfft(spectrum, size)[: near.size].astype(np.float32)
    return mixed


def _pumped_gain(mixed: SoundArray, pumping: Pumping) -> SoundArray:
    """Gain of the automatic control at each sample: down fast, up slowly."""
    blocks = -(-mixed.size // _GAIN_STEP)
    padded = np.zeros(blocks * _GAIN_STEP, dtype=np.float32)
    padded[: mixed.size] = np.abs(mixed)
    peaks = padded.reshape(blocks, _GAIN_STEP).max(axis=1)
    step_s = _GAIN_STEP / WORK_RATE_HZ
    fall, rise = np.exp(-step_s / pumping.attack_s), np.exp(-step_s / pumping.release_s)
    envelope = np.empty(blocks)
    state = float(np.percentile(peaks, 90))
    for index, peak in enumerate(peaks.tolist()):
        keep = fall if peak > state else rise
        state = keep * state + (1 - keep) * peak
        envelope[index] = state
    top = np.percentile(envelope, 95)
    gain = np.minimum((top / (envelope + 1e-9)) ** pumping.strength, 10 ** (pumping.most_db / 20))
    middle = (np.arange(blocks) + 0.5) * _GAIN_STEP
    return np.interp(np.arange(mixed.size), middle, gain).astype(np.float32)


def _clipped(recorded: SoundArray, *, is_soft: bool) -> SoundArray:
    if float(np.abs(recorded).max()) <= 1.0:
        return recorded
    if not is_soft:
        return np.clip(recorded, -1.0, 1.0)
    over = np.maximum(np.abs(recorded) - 0.7, 0.0)
    below = np.minimum(np.abs(recorded), 0.7)
    soft: SoundArray = (np.sign(recorded) * (below + 0.3 * np.tanh(over / 0.3))).astype(np.float32)
    return soft


def _two_channels(recorded: SoundArray, rng: np.random.Generator) -> SoundArray:
    """Give the other side a little later or earlier and another gain."""
    shift = int(rng.integers(0, 1 + int(0.0003 * WORK_RATE_HZ)))
    other = np.roll(recorded, shift) * np.float32(rng.uniform(0.4, 1.0))
    other[:shift] = 0.0
    sides = (recorded, other) if rng.random() < 0.5 else (other, recorded)
    return np.stack(sides, axis=1)
