"""Which clicks the page plays, and how they stand in the sound that comes back."""

from fractions import Fraction
from typing import Any

import numpy as np

from loosehand.click.sound import click_waveform
from loosehand.click.track import Click, ClickPlan, click_track
from loosehand.hear.scheduled import RoundAcoustics, ScheduledClicks
from loosehand.hear.sound_check import CheckClicks, SoundCheck
from loosehand.parts import Meter, steady_tempo
from loosehand.rounds.workout import PlannedRound, RoundSetting

__all__ = [
    "CHECK_LENGTH_S",
    "CHECK_STROKES_FROM_S",
    "check_clicks",
    "check_order",
    "click_order",
    "click_sounds",
    "round_acoustics",
    "round_track",
]

_CHECK_PERIOD_S = 0.5
_CHECK_CLICKS = 12
_CHECK_ROLES = ("count-in", "downbeat", "count")
CHECK_STROKES_FROM_S = 6.2
"""From here on the player strikes; clicks come before."""
CHECK_LENGTH_S = 10.0
_SILENT_EVERY_BARS = 4


def round_track(planned: PlannedRound, setting: RoundSetting) -> tuple[Click, ...]:
    """The clicks of a round."""
    bars = -(-planned.counts // setting.counts_per_bar)
    silent = range(_SILENT_EVERY_BARS, bars + 1, _SILENT_EVERY_BARS) if setting.silent_bars else ()
    plan = ClickPlan(
        meter=Meter((1,) * setting.counts_per_bar, 4),
        bars=bars,
        counts=planned.counts,
        count_in_counts=setting.count_in_counts,
        subdivision_places=1,
        silent_bars=frozenset(silent),
    )
    return click_track(plan, steady_tempo(Fraction(planned.tempo_bpm).limit_denominator(1000)))


def _role(click: Click, *, accent: bool) -> str | None:
    if not click.audible:
        return None
    return "count" if click.role == "downbeat" and not accent else click.role


def click_order(planned: PlannedRound, setting: RoundSetting) -> list[dict[str, Any]]:
    """The clicks as the page wants them: seconds after the first, role (null where silent)."""
    track = round_track(planned, setting)
    return [
        {
            "at_s": float(click.at_s - track[0].at_s),
            "role": _role(click, accent=setting.accent),
            "count": click.count,
        }
        for click in track
    ]


def click_sounds(timbre: str, *, sample_rate_hz: int) -> dict[str, list[float]]:
    """Waveform of each role, for the page to play."""
    return {
        role: np.round(
            click_waveform(timbre, role, sample_rate_hz=sample_rate_hz, late_samples=0.0),  # type: ignore[arg-type]
            7,
        ).tolist()
        for role in _CHECK_ROLES
    }


def check_order() -> list[dict[str, Any]]:
    """Clicks of the sound check, as the page wants them."""
    return [
        {"at_s": _CHECK_PERIOD_S * k, "role": _CHECK_ROLES[k % len(_CHECK_ROLES)], "count": 0}
        for k in range(_CHECK_CLICKS)
    ]


def check_clicks(timbre: str, *, first_s: float, sample_rate_hz: int) -> CheckClicks:
    """The same clicks, as the check wants them."""
    sounds = click_sounds(timbre, sample_rate_hz=sample_rate_hz)
    return CheckClicks(
        time_s=first_s + _CHECK_PERIOD_S * np.arange(_CHECK_CLICKS, dtype=np.float64),
        roles=tuple(str(each["role"]) for each in check_order()),
        waves={role: np.asarray(sound) for role, sound in sounds.items()},
    )


def round_acoustics(
    check: SoundCheck,
    planned: PlannedRound,
    setting: RoundSetting,
    *,
    first_click_s: float,
    sample_rate_hz: int,
) -> RoundAcoustics:
    """What the ear is told of a round.

    Parameters
    ----------
    check : the sound check that came before
    planned, setting : what is played
    first_click_s : when the first click of the count-in sounds in the take
    sample_rate_hz : rate of the sound
    """
    clicks = None
    if check.path is not None:
        track = round_track(planned, setting)
        clicks = ScheduledClicks(
            first_s=first_click_s,
            period_s=60.0 / planned.tempo_bpm,
            roles=tuple(_role(click, accent=setting.accent) for click in track),
            waves=check.path.waves,
            lead_samples=check.path.lead_samples,
        )
    return RoundAcoustics(sample_rate_hz, check.floor, clicks)
