"""Figures of how a drive sounds, read from the technique of a reading as JSON, by their names.

Readings of any age are read: what one does not know stays None. Source: ours.
"""

from dataclasses import dataclass
from typing import Any

__all__ = ["DriveFigure", "drive_figures"]

Json = dict[str, Any]

_MOST_STROKES = 4
_ORDINALS = {2: "2nd", 3: "3rd", 4: "4th"}
_FIGURES = (
    ("accent above the taps", "dB", "contrast_db"),
    ("decay from tap to tap", "dB", "decay_db"),
    ("lateness after the accent", "ms", "accent_stretch_ms"),
    ("growth of the taps", "dB a minute", "tap_trend_db_per_minute"),
    ("growth of the gaps in a drive", "ms a minute", "tap_gap_trend_ms_per_minute"),
)
_NOTHING: Json = {"told": None, "low80": None, "high80": None}


@dataclass(frozen=True)
class DriveFigure:
    """One figure with the range that holds four chances in five.

    Attributes
    ----------
    name, unit : what it is
    told : None where it is not known
    low80, high80 : its range, None where it has none
    """

    name: str
    unit: str
    told: float | None
    low80: float | None
    high80: float | None


def drive_figures(technique: Json) -> tuple[DriveFigure, ...]:
    """Figures of one hand's drive, always the same ones in the same order.

    Parameters
    ----------
    technique : of one hand, as in the reading; may be empty

    Returns
    -------
    figures : each further stroke below the accent, then what the drive is like, then how it changes

    Examples
    --------
    >>> one = drive_figures({"contrast_db": {"told": 5.6, "low80": 5.3, "high80": 5.9}})[3]
    >>> one.name, one.told
    ('accent above the taps', 5.6)
    """
    taps = technique.get("taps_db") or []
    below = [
        _figure(f"{_ORDINALS[stroke]} stroke below the accent", "dB", tap)
        for stroke, tap in enumerate([*taps, *[None] * (_MOST_STROKES - 1 - len(taps))], start=2)
    ]
    rest = [_figure(name, unit, technique.get(key)) for name, unit, key in _FIGURES]
    return (*below, *rest)


def _figure(name: str, unit: str, figure: Json | None) -> DriveFigure:
    known = figure or _NOTHING
    return DriveFigure(name, unit, known["told"], known["low80"], known["high80"])
