"""The sound of the click, placed to a fraction of a sample.

Every click is a short burst of known waveform, the same each time, so that an ear that
knows it can take it out of a recording. Its energy lies between 0.7 and 3.5 kHz: above the
thud of a pad, below the wash of a hat, and where small speakers are strong.
"""

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.click.track import Click, ClickRole
from loosehand.errors import BadNotation

__all__ = ["TIMBRES", "Timbre", "click_waveform", "render_clicks"]

FloatArray = NDArray[np.float64]
Timbre = Literal["low wood", "high wood", "pip", "tick"]

_PARTIALS: dict[str, tuple[tuple[float, float, float], ...]] = {
    # frequency in Hz, share of the amplitude, time in s in which it falls by 1/e;
    # chosen by ear, not validated
    "low wood": ((720.0, 0.6, 0.0120), (1490.0, 0.3, 0.0060), (2310.0, 0.1, 0.0030)),
    "high wood": ((1180.0, 0.6, 0.0090), (2440.0, 0.3, 0.0045), (3380.0, 0.1, 0.0025)),
    "pip": ((1760.0, 1.0, 0.0150),),
    "tick": ((2600.0, 0.5, 0.0025), (3100.0, 0.3, 0.0020), (1900.0, 0.2, 0.0030)),
}
TIMBRES: tuple[str, ...] = tuple(_PARTIALS)
"""Names of the timbres. The low wood cuts through hats, which have little below 1 kHz."""

_PITCH: dict[ClickRole, float] = {
    "count-in": 1.0,
    "downbeat": 1.25,
    "count": 1.0,
    "subdivision": 0.9,
}
_GAIN: dict[ClickRole, float] = {
    "count-in": 1.0,
    "downbeat": 1.0,
    "count": 0.8,
    "subdivision": 0.4,
}
_RISE_S = 0.0006
_LENGTH_S = 0.060


def click_waveform(
    timbre: str, role: ClickRole, *, sample_rate_hz: int, late_samples: float
) -> FloatArray:
    """One click, its start ``late_samples`` after the first sample.

    Parameters
    ----------
    timbre : one of TIMBRES
    role : which click; a downbeat is higher, a subdivision softer
    sample_rate_hz : rate of the samples
    late_samples : fraction of a sample in [0, 1) by which the click starts late

    Returns
    -------
    samples : float array, peak at most 1

    Raises
    ------
    BadNotation    if there is no such timbre

    Source
    ------
    Ours: decaying partials computed at the exact times, so no interpolation is needed.
    """
    if timbre not in _PARTIALS:
        raise BadNotation(f"timbre = {timbre!r}: want one of {', '.join(TIMBRES)}")
    sample = np.arange(int(_LENGTH_S * sample_rate_hz) + 1, dtype=np.float64)
    at_s = (sample - late_samples) / sample_rate_hz
    sounding = at_s >= 0
    at_s = np.maximum(at_s, 0.0)
    rise = 1.0 - np.exp(-at_s / _RISE_S)
    fade = np.clip((_LENGTH_S - at_s) / 0.010, 0.0, 1.0)
    wave = np.zeros_like(at_s)
    for frequency_hz, share, fall_s in _PARTIALS[timbre]:
        phase = 2 * np.pi * frequency_hz * _PITCH[role] * at_s
        wave += share * np.exp(-at_s / fall_s) * np.sin(phase)
    return np.where(sounding, _GAIN[role] * wave * rise * fade, 0.0)


def render_clicks(
    clicks: Sequence[Click], *, timbre: str, sample_rate_hz: int, lead_in_s: float, tail_s: float
) -> FloatArray:
    """Sound of a click track.

    Parameters
    ----------
    clicks : the clicks; those that are not audible leave silence
    timbre : one of TIMBRES
    sample_rate_hz : rate of the samples
    lead_in_s : silence before the first click
    tail_s : length after the start of the last click

    Returns
    -------
    samples : float array, shape (n,), within [-1, 1]

    Raises
    ------
    BadNotation    if there are no clicks, or no such timbre
    """
    if not clicks:
        raise BadNotation("there are no clicks to render; ask for a count or more")
    start_s = float(clicks[0].at_s) - lead_in_s
    length_s = float(clicks[-1].at_s) - start_s + max(tail_s, _LENGTH_S)
    samples = np.zeros(int(np.ceil(length_s * sample_rate_hz)) + 1)
    for click in clicks:
        if not click.audible:
            continue
        at = (float(click.at_s) - start_s) * sample_rate_hz
        first = int(np.floor(at))
        wave = click_waveform(
            timbre, click.role, sample_rate_hz=sample_rate_hz, late_samples=at - first
        )
        end = min(first + wave.size, samples.size)
        samples[first:end] += wave[: end - first]
    return np.clip(samples, -1.0, 1.0)
