"""Technique as heard, as the part ``technique`` of the object that is printed of a reading.

Numbers are rounded; one that is not finite is never printed. Source: ours.
"""

import math
from typing import Any

from loosehand.judge.drive_length import DriveLength
from loosehand.judge.drive_shape import PushPull
from loosehand.judge.main_fault import MainFault
from loosehand.judge.place_faults import PlaceFault
from loosehand.judge.technique import HandsTechnique, TechniqueHeard
from loosehand.judge.variability import Figure
from loosehand.parts.techniques import CURES

__all__ = ["figure_json", "main_fault_json", "rounded", "technique_json"]

Json = dict[str, Any]


def rounded(number: float | None, digits: int) -> float | None:
    """Rounded number without a negative nought; None where there is none or it is not finite.

    Examples
    --------
    >>> rounded(-0.001, 2), rounded(float("nan"), 2)
    (0.0, None)
    """
    if number is None or not math.isfinite(number):
        return None
    return round(float(number), digits) + 0.0


def figure_json(figure: Figure, digits: int) -> Json:
    """Figure with its range.

    Parameters
    ----------
    figure : the figure
    digits : decimals kept
    """
    return {
        "told": rounded(figure.told, digits),
        "low80": rounded(figure.low80, digits),
        "high80": rounded(figure.high80, digits),
    }


def technique_json(technique: TechniqueHeard | HandsTechnique) -> Json:
    """Technique of one hand, or of each hand of an alternating take under ``hands``.

    Parameters
    ----------
    technique : as heard
    """
    if isinstance(technique, HandsTechnique):
        return {"hands": {"left": _hand(technique.left), "right": _hand(technique.right)}}
    return _hand(technique)


def main_fault_json(main: MainFault | None) -> Json | None:
    """The main fault with its cure; None where there is none.

    Parameters
    ----------
    main : the fault
    """
    return None if main is None else _main(main) | {"cure": CURES.get(main.kind)}


def _hand(heard: TechniqueHeard) -> Json:
    """Technique of one hand."""
    shape, doubtful = heard.shape, heard.doubtful_fault
    return {
        "drive_length": None if heard.drive is None else _drive(heard.drive),
        "contrast_db": figure_json(shape.contrast_db, 2),
        "taps_db": [figure_json(tap, 2) for tap in shape.taps_db],
        "decay_db": figure_json(shape.decay_db, 2),
        "accent_stretch_ms": figure_json(shape.accent_stretch_ms, 2),
        "tap_trend_db_per_minute": figure_json(shape.tap_trend_db_per_minute, 2),
        "tap_gap_trend_ms_per_minute": figure_json(shape.tap_gap_trend_ms_per_minute, 2),
        "push_pull": None if heard.push_pull is None else _push_pull(heard.push_pull),
        "faults": [_fault(fault) for fault in heard.faults],
        "main_fault": main_fault_json(heard.main_fault),
        "doubtful_fault": None if doubtful is None else _main(doubtful),
        "notes": list(heard.notes),
    }


def _drive(drive: DriveLength) -> Json:
    """How many strokes come on a drive."""
    return {
        "strokes": drive.strokes,
        "confidence": rounded(drive.confidence, 3),
        "phase": drive.phase,
        "chances": {
            str(period): rounded(chance, 3) for period, chance in enumerate(drive.chances, start=1)
        },
        "with_the_count": drive.with_the_count,
    }


def _push_pull(push_pull: PushPull) -> Json:
    """Odd strokes against even ones."""
    return {
        "level_db": rounded(push_pull.level_db, 2),
        "level_error_db": rounded(push_pull.level_error_db, 2),
        "timing_ms": rounded(push_pull.timing_ms, 3),
        "timing_error_ms": rounded(push_pull.timing_error_ms, 3),
        "level_uneven": push_pull.level_uneven,
        "timing_uneven": push_pull.timing_uneven,
    }


def _fault(fault: PlaceFault) -> Json:
    """One place that is off."""
    return {
        "place": fault.place,
        "kind": fault.kind,
        "effect": rounded(fault.effect, 2),
        "low": rounded(fault.low, 2),
        "high": rounded(fault.high, 2),
        "heard": fault.heard,
    }


def _main(fault: MainFault) -> Json:
    """The main fault, or what may be it."""
    return {
        "place": fault.place,
        "kind": fault.kind,
        "effect": rounded(fault.effect, 2),
        "unit": fault.unit,
        "low": rounded(fault.low, 2),
        "high": rounded(fault.high, 2),
        "heard": True,
    }
