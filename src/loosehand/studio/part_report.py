"""What a part asks, and the ways of playing it, as JSON version 1: ``loosehand.part/1``."""

from typing import Any

from loosehand.parts.demand import Demand
from loosehand.parts.part import Part
from loosehand.parts.swing import SwungSection, swing_line
from loosehand.reach.reach import Interval
from loosehand.rounds.mixed_plans import MixedPlan
from loosehand.rounds.way_lasting import LikelyEnd, SectionReserve, Step
from loosehand.rounds.ways import Way, WaysOfPlaying

__all__ = ["SCHEMA", "part_report_to_json"]

SCHEMA = "loosehand.part/1"
_SHARE_DIGITS = 4
_DIGITS = 3


def part_report_to_json(
    part: Part, demand: Demand, ways: WaysOfPlaying, *, player: str | None
) -> dict[str, Any]:
    """Return it as it is printed; see ``part.schema.json`` and ``docs/ways.md``.

    Parameters
    ----------
    part, demand, ways : of one another
    player : whose chances they are, None for nobody's
    """
    return {
        "schema": SCHEMA,
        "title": part.title,
        "player": player,
        "hand": ways.hand,
        "surface": ways.surface,
        "loudness": ways.loudness,
        "asks": list(ways.asks),
        "demand": _demand(demand),
        "ways": [_way(each) for each in ways.ways],
        "mixed": [_mixed(each) for each in ways.mixed],
        "notes": list(ways.notes),
    }


def _demand(demand: Demand) -> dict[str, Any]:
    run, level = demand.longest_run, demand.level_of_hand
    return {
        "duration_s": round(demand.duration_s, _DIGITS),
        "limbs": [
            {
                "limb": each.limb,
                "strokes": each.strokes,
                "strokes_a_second": round(each.strokes_a_second, _DIGITS),
                "densest_bar_strokes_a_second": round(each.densest_bar_strokes_a_second, _DIGITS),
            }
            for each in demand.limbs
        ],
        "tempo_asked_bpm": _rounded(demand.tempo_asked_bpm),
        "longest_run": None
        if run is None
        else {
            "section": run.start.section,
            "bar": run.start.bar,
            "strokes": run.strokes,
            "duration_s": round(run.duration_s, _DIGITS),
        },
        "accents": demand.accents,
        "backbeats": demand.backbeats,
        "kicks": demand.kicks,
        "level_range_db": None if level is None else level.range_db,
        "re_entries": sum(each.times for each in demand.re_entries),
        "together": [
            {
                "hand": each.hand,
                "foot": each.foot,
                "same_side": each.same_side,
                "times": each.times,
            }
            for each in demand.together
        ],
        "swing": [_swung(each) for each in demand.swing],
        "swing_line": swing_line(demand.swing),
    }


def _swung(swung: SwungSection) -> dict[str, Any]:
    return {
        "section": swung.section,
        "tempo_bpm": _rounded(swung.tempo_bpm),
        "note": swung.note,
        "ratio": _rounded(swung.ratio),
        "long_ms": round(swung.long_ms, _DIGITS),
        "short_ms": round(swung.short_ms, _DIGITS),
        "is_clearly_short": swung.is_clearly_short,
        "kept_swing_percent": swung.kept_swing_percent,
    }


def _way(way: Way) -> dict[str, Any]:
    lasting = way.lasting
    return {
        "technique": way.technique,
        "why_not": list(way.why_not),
        "heard": list(way.heard),
        "gives": list(way.gives),
        "costs": list(way.costs),
        "drives_a_second": _rounded(way.drives_a_second),
        "against": round(way.against, _SHARE_DIGITS),
        "chance": round(lasting.chance, _SHARE_DIGITS),
        "is_known": lasting.is_known,
        "beyond_seen": list(lasting.beyond_seen),
        "why": lasting.why,
        "likely_end": _end(lasting.likely_end),
        "sections": [_section(each) for each in lasting.sections],
        "steps": [_step(each) for each in lasting.steps],
    }


def _mixed(plan: MixedPlan) -> dict[str, Any]:
    return {
        "name": plan.name,
        "base": plan.base,
        "by_section": [
            {
                "section": each.section,
                "technique": each.technique,
                "change": each.change,
                "every": each.every,
            }
            for each in plan.sections
        ],
        "chance": round(plan.chance, _SHARE_DIGITS),
        "base_chance": round(plan.base_chance, _SHARE_DIGITS),
        "reserve_gained": round(plan.reserve_gained, _SHARE_DIGITS),
        "other_chance": _rounded(plan.other_chance),
        "loses": list(plan.loses),
        "likely_end": _end(plan.likely_end),
        "sections": [_section(each) for each in plan.reserve],
    }


def _end(end: LikelyEnd | None) -> dict[str, Any] | None:
    if end is None:
        return None
    return {
        "section": end.section,
        "section_number": end.section_place + 1,
        "bar": end.bar,
        "bar_of_tune": end.bar_of_tune,
        "at_s": round(end.at_s, _DIGITS),
        "share": round(end.share, _SHARE_DIGITS),
    }


def _section(section: SectionReserve) -> dict[str, Any]:
    return {
        "name": section.name,
        "length_s": round(section.length_s, _DIGITS),
        "rate_bpm": round(section.rate_bpm, _DIGITS),
        "rest_s": round(section.rest_s, _DIGITS),
        "left": _interval(section.left),
    }


def _interval(found: Interval) -> dict[str, float]:
    return {
        "median": round(found.median, _SHARE_DIGITS),
        "low80": round(found.low80, _SHARE_DIGITS),
        "high80": round(found.high80, _SHARE_DIGITS),
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "what": step.what,
        "figure": _rounded(step.figure),
        "unit": step.unit,
        "low80": _rounded(step.low80),
        "high80": _rounded(step.high80),
    }


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, _SHARE_DIGITS)
