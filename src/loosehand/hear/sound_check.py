"""What ten seconds before the first round tell: the room, the click in it, its way through the air.

Clicks sound first, alone; then the player strikes a few times as in the round.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.acoustics import Acoustics, band_floor
from loosehand.hear.array_text import array_of_text, text_of_array
from loosehand.hear.bands import BandAnalysis, power_to_db
from loosehand.hear.bleed import segments_at
from loosehand.hear.engine import Candidates, Engine, join

__all__ = ["CheckClicks", "ClickPath", "SoundCheck", "check_sound", "sound_check_from_json"]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

_LONGEST_WAY_S = 0.55
_LEAST_SCORE = 6.0
_NEAR_S = 0.002
_MOST_RESIDUAL_S = 0.0001
"""Clicks keep their time to 0.02 ms even in loud noise; a hand that strikes along with clicks
that only it hears wanders by more than 0.18 ms (``tests/hear/test_sound_check.py``)."""
_LEAD_S = 0.004
_LENGTH_S = 0.150
_LIKELY = 0.0
_LOUD_PERCENTILE = 75
_FEWEST_FOR_TIMBRE = 3
_ALIKE_DB = 6.0
_RAIL = 0.985
_BEFORE_S = 0.005


@dataclass(frozen=True)
class CheckClicks:
    """Clicks of a sound check.

    Attributes
    ----------
    time_s : float array, shape (n,), when each was sent, in the sound's clock; evenly spaced
    roles : role of each
    waves : by role, the waveform that was sent, at the rate of the sound
    """

    time_s: FloatArray
    roles: Sequence[str]
    waves: Mapping[str, FloatArray]


@dataclass(frozen=True)
class ClickPath:
    """The click's way from the page to the microphone.

    Attributes
    ----------
    round_trip_s : from the moment it was sent to the moment it was heard
    residual_s : usual error of that, from click to click
    drift_ppm : by how much the recording's clock runs away from the click's
    level_db : of the click in the recording, relative to full scale
    waves : by role, float32 array: the click as it is heard
    lead_samples : samples of a wave before the click's time
    """

    round_trip_s: float
    residual_s: float
    drift_ppm: float
    level_db: float
    waves: dict[str, Float32Array]
    lead_samples: int


@dataclass(frozen=True)
class SoundCheck:
    """What a sound check found.

    Attributes
    ----------
    floor : float32 array, shape (bands,), power of each band when nothing happens
    noise_floor_db : level of the quiet, relative to full scale
    path : the click's way, None where no click is in the recording
    strokes : how many were struck
    own_level_db : their usual level as the ear gives it, None where none was struck
    own_timbre_db : float32 array, shape (bands,), their usual timbre, None where too few were
        struck to tell it
    clipped_share : share of strokes and clicks that touch full scale
    """

    floor: Float32Array
    noise_floor_db: float
    path: ClickPath | None
    strokes: int
    own_level_db: float | None
    own_timbre_db: Float32Array | None
    clipped_share: float

    def sounds_like_own(self, timbre_db: FloatArray) -> NDArray[np.bool_]:
        """Whether sounds may be strokes of this player on this drum.

        Parameters
        ----------
        timbre_db : float array, shape (n, bands)

        Returns
        -------
        alike : bool array, shape (n,): within 6 dB, over all bands, of the usual timbre; all
            True where that is not known

        Source
        ------
        Ours: of modelled drums a drum's own strokes lie within 3 dB, talk and other drums
        beyond 7 dB in 95 % or more (``bench/stand.py wake`` tells what comes of it).
        """
        if self.own_timbre_db is None:
            return np.ones(len(timbre_db), dtype=np.bool_)
        off_db = np.sqrt(np.mean(np.square(timbre_db - self.own_timbre_db), axis=1))
        return np.asarray(off_db <= _ALIKE_DB)

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored; nothing is rounded."""
        path = self.path
        stored = {name: getattr(self, name) for name in self.__dataclass_fields__}
        stored["floor"] = text_of_array(self.floor)
        if self.own_timbre_db is not None:
            stored["own_timbre_db"] = text_of_array(self.own_timbre_db)
        if path is not None:
            stored["path"] = {name: getattr(path, name) for name in path.__dataclass_fields__}
            stored["path"]["waves"] = {
                role: text_of_array(wave) for role, wave in path.waves.items()
            }
        return stored


def sound_check_from_json(stored: dict[str, Any]) -> SoundCheck:
    """Return a sound check from what is stored."""
    path = stored["path"]
    if path is not None:
        waves = {role: array_of_text(text) for role, text in path["waves"].items()}
        path = ClickPath(**{**path, "waves": waves})
    timbre = stored["own_timbre_db"]
    return SoundCheck(
        **{
            **stored,
            "floor": array_of_text(stored["floor"]),
            "own_timbre_db": None if timbre is None else array_of_text(timbre),
            "path": path,
        }
    )


def check_sound(
    samples: Float32Array, clicks: CheckClicks, *, sample_rate_hz: int, strokes_from_s: float
) -> SoundCheck:
    """Read a sound check.

    Parameters
    ----------
    samples : float32 array, shape (n,), full scale 1
    clicks : what was sent
    sample_rate_hz : rate
    strokes_from_s : time from which on the player strikes and no click sounds

    Returns
    -------
    check : what was found
    """
    analysis = BandAnalysis(sample_rate_hz)
    power = analysis.whole(samples)
    floor = band_floor(power)
    path = _path(samples, clicks, sample_rate_hz=sample_rate_hz)
    way_s = 0.0 if path is None else path.round_trip_s
    last_s = float(clicks.time_s[-1]) + way_s + _LENGTH_S
    struck = _struck(samples, Acoustics(sample_rate_hz, floor, None, None))
    own = struck.some(struck.time_s > max(strokes_from_s, last_s))
    levels = own.level_db
    click_s = clicks.time_s[:0] if path is None else clicks.time_s + way_s
    return SoundCheck(
        floor=floor,
        noise_floor_db=float(power_to_db(np.array([floor.sum()]))[0]),
        path=path,
        strokes=int(levels.size),
        own_level_db=float(np.percentile(levels, _LOUD_PERCENTILE)) if levels.size else None,
        own_timbre_db=np.median(own.timbre_db, axis=0).astype(np.float32)
        if len(own) >= _FEWEST_FOR_TIMBRE
        else None,
        clipped_share=_clipped_share(
            samples, np.concatenate((own.time_s, click_s)), sample_rate_hz=sample_rate_hz
        ),
    )


def _clipped_share(samples: Float32Array, at_s: FloatArray, *, sample_rate_hz: int) -> float:
    """Share of strokes and clicks that reach within 1.5 % of full scale; 0 where there are none."""
    touched = []
    for each_s in at_s.tolist():
        first = max(int((each_s - _BEFORE_S) * sample_rate_hz), 0)
        around = samples[first : int((each_s + _LENGTH_S) * sample_rate_hz)]
        touched.append(float(np.max(np.abs(around), initial=0.0)) >= _RAIL)
    return float(np.mean(touched)) if touched else 0.0


def _struck(samples: Float32Array, acoustics: Acoustics) -> Candidates:
    """Likely strokes."""
    engine = Engine(acoustics)
    found = join([part.found for part in [*engine.push(samples), *engine.finish()]])
    return found.some(found.log_odds > _LIKELY)


def _path(samples: Float32Array, clicks: CheckClicks, *, sample_rate_hz: int) -> ClickPath | None:
    """The click's way: one lag for all clicks by correlation, then each click's own near it."""
    matched = _correlations(samples, clicks, sample_rate_hz=sample_rate_hz)
    together = np.abs(matched.mean(axis=0))
    lag = int(np.argmax(together))
    beside = np.delete(together, np.arange(max(lag - 200, 0), min(lag + 200, together.size)))
    if together[lag] < _LEAST_SCORE * float(np.sqrt(np.mean(np.square(beside)))) + 1e-9:
        return None
    sign = float(np.sign(matched.mean(axis=0)[lag]))
    own = _own_lags(sign * matched, lag, near=int(_NEAR_S * sample_rate_hz))
    middle = float(np.median(own))
    kept = np.abs(own - middle) < 0.5 * _NEAR_S * sample_rate_hz
    if np.count_nonzero(kept) < 4:
        return None
    slope, start = np.polyfit(clicks.time_s[kept], own[kept] / sample_rate_hz, 1)
    off_s = own[kept] / sample_rate_hz - (start + slope * clicks.time_s[kept])
    residual_s = float(np.sqrt(np.mean(np.square(off_s))))
    if residual_s > _MOST_RESIDUAL_S:
        return None
    way_s = float(np.mean(own[kept]) / sample_rate_hz)
    waves = _heard_waves(samples, clicks, way_s, sample_rate_hz=sample_rate_hz)
    loudest = max(float(np.mean(np.square(wave))) for wave in waves.values())
    return ClickPath(
        round_trip_s=way_s,
        residual_s=residual_s,
        drift_ppm=float(1e6 * slope),
        level_db=float(power_to_db(np.array([loudest]))[0]),
        waves=waves,
        lead_samples=int(_LEAD_S * sample_rate_hz),
    )


def _correlations(samples: Float32Array, clicks: CheckClicks, *, sample_rate_hz: int) -> FloatArray:
    """Correlation of each click's sound with what came after it, shape (clicks, lags)."""
    lags = int(_LONGEST_WAY_S * sample_rate_hz)
    longest = max(wave.size for wave in clicks.waves.values())
    padded = np.concatenate((samples, np.zeros(lags + longest, dtype=np.float32)))
    size = int(2 ** np.ceil(np.log2(lags + longest)))
    rows = []
    for sent_s, role in zip(clicks.time_s, clicks.roles, strict=True):
        first = round(sent_s * sample_rate_hz)
        heard = np.fft.rfft(padded[first : first + lags + longest], size)
        wave = clicks.waves[role] / np.sqrt(np.sum(np.square(clicks.waves[role])))
        rows.append(np.fft.irfft(heard * np.conj(np.fft.rfft(wave, size)), size)[:lags])
    return np.asarray(rows)


def _own_lags(matched: FloatArray, lag: int, *, near: int) -> FloatArray:
    """Each click's lag in samples and fractions, near the common one."""
    low = max(lag - near, 1)
    around = matched[:, low - 1 : lag + near + 2]
    top = 1 + np.argmax(around[:, 1:-1], axis=1)
    row = np.arange(len(matched))
    left, here, right = (around[row, top + k] for k in (-1, 0, 1))
    bend = left - 2 * here + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.minimum(bend, -1e-12), 0.0)
    return np.asarray(low - 1 + top + np.clip(shift, -0.5, 0.5), dtype=np.float64)


def _heard_waves(
    samples: Float32Array, clicks: CheckClicks, way_s: float, *, sample_rate_hz: int
) -> dict[str, Float32Array]:
    """The click as it is heard, by role: the middle value of all clicks of that role."""
    period_s = float(clicks.time_s[1] - clicks.time_s[0])
    fit = np.array([clicks.time_s[0] + way_s, period_s]) * sample_rate_hz
    segments = segments_at(
        samples,
        fit,
        len(clicks.roles),
        lead=int(_LEAD_S * sample_rate_hz),
        length=int(min(_LENGTH_S, 0.9 * period_s) * sample_rate_hz),
    )
    roles = np.asarray(clicks.roles)
    return {
        role: np.median(segments[roles == role], axis=0).astype(np.float32)
        for role in sorted(set(clicks.roles))
    }
