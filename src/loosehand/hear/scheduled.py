"""The acoustics of a round whose clicks were played by us: their times and sounds are known."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.acoustics import Acoustics
from loosehand.hear.array_text import array_of_text, text_of_array
from loosehand.hear.bleed import Bleed, ClickPhase

__all__ = [
    "RoundAcoustics",
    "ScheduledClicks",
    "acoustics_of",
    "round_acoustics_from_json",
]

Float32Array = NDArray[np.float32]
_CERTAIN = 99.0


@dataclass(frozen=True)
class ScheduledClicks:
    """Clicks of a round as they stand in its recording.

    Attributes
    ----------
    first_s : time of the first of them
    period_s : time from click to click
    roles : role of each, None for one that is silent
    waves : by role, float32 array, shape (samples,), the same length for all; the click's time
        is ``lead_samples`` after the first of them
    lead_samples : see waves
    """

    first_s: float
    period_s: float
    roles: tuple[str | None, ...]
    waves: dict[str, Float32Array]
    lead_samples: int


@dataclass(frozen=True)
class RoundAcoustics:
    """What the ear is told of a round of the stand; stored with its take.

    Attributes
    ----------
    sample_rate_hz : rate of the sound
    floor : float32 array, shape (bands,), power of each band when nothing happens
    clicks : None where the recording holds no click
    """

    sample_rate_hz: int
    floor: Float32Array
    clicks: ScheduledClicks | None

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored; nothing is rounded."""
        clicks = self.clicks
        return {
            "sample_rate_hz": self.sample_rate_hz,
            "floor": text_of_array(self.floor),
            "clicks": None
            if clicks is None
            else {
                "first_s": clicks.first_s,
                "period_s": clicks.period_s,
                "roles": list(clicks.roles),
                "waves": {role: text_of_array(wave) for role, wave in clicks.waves.items()},
                "lead_samples": clicks.lead_samples,
            },
        }


def round_acoustics_from_json(stored: dict[str, Any]) -> RoundAcoustics:
    """Return it from what is stored."""
    clicks = stored["clicks"]
    return RoundAcoustics(
        stored["sample_rate_hz"],
        array_of_text(stored["floor"]),
        None
        if clicks is None
        else ScheduledClicks(
            clicks["first_s"],
            clicks["period_s"],
            tuple(clicks["roles"]),
            {role: array_of_text(text) for role, text in clicks["waves"].items()},
            clicks["lead_samples"],
        ),
    )


def acoustics_of(known: RoundAcoustics) -> Acoustics:
    """The acoustics that the engine takes.

    Clicks are numbered from a silent one before the first to a silent one after the last, so
    that nothing is taken out where no click sounded.
    """
    clicks = known.clicks
    if clicks is None or not any(clicks.roles):
        return Acoustics(known.sample_rate_hz, known.floor, None, None)
    silent = np.zeros_like(next(iter(clicks.waves.values())))
    rows = [silent if role is None else clicks.waves[role] for role in clicks.roles]
    heard = np.array([False, *(role is not None for role in clicks.roles), False])
    phase_s = clicks.first_s - clicks.period_s
    bleed = Bleed(
        phase_s=phase_s,
        period_s=clicks.period_s,
        waveform=np.stack([silent, *rows, silent]),
        lead_samples=clicks.lead_samples,
        gain=heard.astype(np.float64),
        heard=heard,
    )
    phase = ClickPhase(float(np.mod(phase_s, clicks.period_s)), clicks.period_s, _CERTAIN)
    return Acoustics(known.sample_rate_hz, known.floor, bleed, phase)
