"""How a part sounds: the modelled kit plays it exactly, with a click or without.

Levels follow dynamics and marks by a table of ours (common practice, no source). Every
stroke is at its exact time; only its sound and, by a little, its level vary.
"""

import io
import wave
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from loosehand.click import ClickRole, click_waveform
from loosehand.errors import BadNotation
from loosehand.parts import Bar, Part, Stroke, check_part, place_positions
from loosehand.players.drums import WORK_RATE_HZ
from loosehand.players.kit import BALANCE_DB, HAT_FAMILY, RINGING_HATS, draw_kit
from loosehand.players.sound import place_sound

__all__ = ["LEVELS_DB", "PartSound", "SoundPlan", "sound_of_part", "wav_bytes"]

SoundArray = NDArray[np.float32]
LEVELS_DB: Mapping[str, float] = MappingProxyType(
    {"pp": -20.0, "p": -16.0, "mp": -12.0, "mf": -8.0, "f": -4.0, "ff": 0.0}
)
"""Level of a plain stroke by dynamic."""
ACCENT_DB = 5.0
GHOST_DB = -11.0
GRACE_DB = -8.0
GRACE_S = 0.025
LONGEST_S = 1800
_LEVEL_SPREAD_DB = 0.5
_TAIL_S = 1.5
_LEAD_IN_S = 0.05
_CHOKE_S = 0.012
_HEADROOM = 0.35
_PEAK = 0.95


@dataclass(frozen=True)
class SoundPlan:
    """What is played of a part, and with what.

    Attributes
    ----------
    section : index of the one section that is played, all its times; None for the whole tune
    timbre : of the click, one of TIMBRES; None for no click
    count_in_counts : clicks before the first bar; they sound even where ``timbre`` is None
    click_db : level of the click beside a snare stroke at ff
    """

    section: int | None
    timbre: str | None
    count_in_counts: int
    click_db: float


@dataclass(frozen=True)
class PartSound:
    """Sound, and where it begins to count.

    Attributes
    ----------
    samples : float32 array, shape (n,), within [-1, 1], at WORK_RATE_HZ
    first_place_s : time of the first place of the first bar within the samples
    bar_start_s : float array, time of the start of each bar that is played
    """

    samples: SoundArray
    first_place_s: float
    bar_start_s: NDArray[np.float64]


@dataclass(frozen=True)
class _Timed:
    """A bar as it is played: when, how fast, how loud."""

    bar: Bar
    start_s: Fraction
    whole_note_s: Fraction
    dynamic: str


def sound_of_part(part: Part, plan: SoundPlan, rng: np.random.Generator) -> PartSound:
    """Play a part.

    Parameters
    ----------
    part : what must be played
    plan : what of it, and with which click
    rng : source of all chance

    Returns
    -------
    sound : mono, at WORK_RATE_HZ; turned down as a whole if it would clip

    Raises
    ------
    BadNotation    if the part cannot be played, has no such section, or lasts over half an hour

    Examples
    --------
    >>> from loosehand.parts import Meter, Section
    >>> bar = Bar(Meter((1, 1), 4), 1, (Stroke(0, "right hand", "pad"),))
    >>> sections = (Section("a", (bar,), 2, None, None),)
    >>> part = Part("", Fraction(120), Fraction(1, 4), 50, (), sections)
    >>> plan = SoundPlan(section=None, timbre=None, count_in_counts=0, click_db=-6.0)
    >>> sound_of_part(part, plan, np.random.default_rng(1)).bar_start_s
    array([0.05, 1.05])
    """
    check_part(part)
    bars = _timed_bars(part, plan.section)
    end_s = bars[-1].start_s + bars[-1].bar.meter.bar_length * bars[-1].whole_note_s
    if end_s > LONGEST_S:
        raise BadNotation(
            f"the part lasts {float(end_s):.0f} s: want {LONGEST_S} s at most; play one section"
        )
    count_in = _count_in(bars[0], plan.count_in_counts)
    first_s = _LEAD_IN_S + float(-min(count_in, default=Fraction(0)))
    samples = np.zeros(int((first_s + float(end_s) + _TAIL_S) * WORK_RATE_HZ), dtype=np.float32)
    _add_strokes(samples, _hits(bars, part.swing_percent), first_s, rng)
    gain = 10 ** (plan.click_db / 20)
    for at_s in count_in:
        _add_click(samples, plan.timbre or "low wood", "count-in", first_s + float(at_s), gain)
    if plan.timbre is not None:
        for timed_at_s, role in _clicks(bars):
            _add_click(samples, plan.timbre, role, first_s + float(timed_at_s), gain)
    samples *= np.float32(min(_HEADROOM / 0.1, _PEAK / (float(np.abs(samples).max()) + 1e-9)))
    starts = np.array([first_s + float(timed.start_s) for timed in bars])
    return PartSound(samples, first_s, starts)


def wav_bytes(samples: SoundArray) -> bytes:
    """Samples as a WAV file: 16 bits, one channel, WORK_RATE_HZ."""
    file = io.BytesIO()
    with wave.open(file, "wb") as writer:
        writer.setnchannels(1)
        writer.setsampwidth(2)
        writer.setframerate(WORK_RATE_HZ)
        writer.writeframes((np.clip(samples, -1.0, 1.0) * 32_767).round().astype("<i2").tobytes())
    return file.getvalue()


def _timed_bars(part: Part, chosen: int | None) -> list[_Timed]:
    """Bars as they are played; time 0 is the start of the first."""
    if chosen is not None and not 0 <= chosen < len(part.sections):
        raise BadNotation(
            f"section = {chosen}: want 0 to {len(part.sections) - 1}, or None for the whole tune"
        )
    timed: list[_Timed] = []
    at_s, tempo_bpm, dynamic = Fraction(0), part.tempo_bpm, "mf"
    for index, section in enumerate(part.sections):
        tempo_bpm = section.tempo_bpm or tempo_bpm
        dynamic = section.dynamic or dynamic
        if chosen is not None and index != chosen:
            continue
        whole_note_s = 60 / (tempo_bpm * part.beat)
        for bar in section.bars * section.times:
            timed.append(_Timed(bar, at_s, whole_note_s, dynamic))
            at_s += bar.meter.bar_length * whole_note_s
    return timed


@dataclass(frozen=True)
class _Hit:
    """A stroke as it is played: its time from the first place, and its level."""

    at_s: float
    instrument: str
    level_db: float


def _hits(bars: list[_Timed], swing_percent: int) -> list[_Hit]:
    """All strokes in the order of time, the soft ones of flams with them."""
    positions: dict[Bar, list[float]] = {}
    hits: list[_Hit] = []
    for timed in bars:
        bar = timed.bar
        if bar not in positions:
            swung = place_positions(bar, swing_percent=swing_percent)
            positions[bar] = [float(position) for position in swung]
        start_s, whole_note_s = float(timed.start_s), float(timed.whole_note_s)
        for stroke in bar.strokes:
            at_s = start_s + positions[bar][stroke.place] * whole_note_s
            level_db = LEVELS_DB[timed.dynamic] + _mark_db(stroke)
            if "flam" in stroke.marks:
                hits.append(_Hit(at_s - GRACE_S, stroke.instrument, level_db + GRACE_DB))
            hits.append(_Hit(at_s, stroke.instrument, level_db))
    return sorted(hits, key=lambda hit: hit.at_s)


def _mark_db(stroke: Stroke) -> float:
    if "accent" in stroke.marks:
        return ACCENT_DB
    return GHOST_DB if "ghost" in stroke.marks else 0.0


def _add_strokes(
    samples: SoundArray, hits: list[_Hit], first_s: float, rng: np.random.Generator
) -> None:
    kit = draw_kit(frozenset(hit.instrument for hit in hits), rng)
    next_hat_s = np.inf
    until_s: dict[int, float] = {}
    for index in range(len(hits) - 1, -1, -1):
        if hits[index].instrument in HAT_FAMILY:
            until_s[index] = next_hat_s - hits[index].at_s
            next_hat_s = hits[index].at_s
    for index, hit in enumerate(hits):
        level_db = hit.level_db + float(rng.normal(0.0, _LEVEL_SPREAD_DB))
        wave_of, offset_s = kit[hit.instrument].render(level_db, rng)
        wave_of *= np.float32(10 ** (BALANCE_DB[hit.instrument] / 20))
        if hit.instrument in RINGING_HATS:
            wave_of = _choked(wave_of, until_s[index])
        at_s = max(first_s + hit.at_s - offset_s, 0.0)
        place_sound(samples, wave_of, at_s * WORK_RATE_HZ)


def _choked(ringing: SoundArray, until_s: float) -> SoundArray:
    """A ringing hat, closed by the next stroke on it."""
    size = min(ringing.size, int(min(until_s + _CHOKE_S, 60.0) * WORK_RATE_HZ))
    choked = ringing[:size].copy()
    fade = min(size, int(_CHOKE_S * WORK_RATE_HZ))
    if size < ringing.size:
        choked[size - fade :] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
    return choked


def _count_in(first: _Timed, counts: int) -> list[Fraction]:
    """Times of the clicks before the first bar, in the meter of that bar."""
    starts = first.bar.meter.count_starts()
    times_s = []
    for back in range(1, counts + 1):
        bar, index = divmod(-back, len(starts))
        position = bar * first.bar.meter.bar_length + starts[index]
        times_s.append(position * first.whole_note_s)
    return times_s


def _clicks(bars: list[_Timed]) -> Iterator[tuple[Fraction, ClickRole]]:
    """Time and role of a click on every count."""
    for timed in bars:
        for index, start in enumerate(timed.bar.meter.count_starts()):
            role: ClickRole = "downbeat" if index == 0 else "count"
            yield timed.start_s + start * timed.whole_note_s, role


def _add_click(samples: SoundArray, timbre: str, role: ClickRole, at_s: float, gain: float) -> None:
    at = at_s * WORK_RATE_HZ
    first = int(at)
    click = click_waveform(timbre, role, sample_rate_hz=WORK_RATE_HZ, late_samples=at - first)
    end = min(first + click.size, samples.size)
    samples[first:end] += (0.3 * gain * click[: end - first]).astype(np.float32)
