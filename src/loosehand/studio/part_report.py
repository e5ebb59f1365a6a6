"""What a part asks, and the ways of playing it, as JSON version 1: ``loosehand.part/1``."""

from typing import Any

from loosehand.parts.demand import Demand, LevelDemand, SectionDemand
from loosehand.parts.demand_cycles import PhaseDemand
from loosehand.parts.demand_runs import Spot
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
                "level": _level(each.level),
            }
            for each in demand.limbs
        ],
        "sections": [_section_asked(each) for each in demand.sections],
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
        "level_of_hand": None if level is None else _level(level),
        "level_of_kit": None if demand.level_of_kit is None else _level(demand.level_of_kit),
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


def _level(level: LevelDemand) -> dict[str, Any]:
    return {"lowest": level.lowest, "highest": level.highest, "range_db": level.range_db}


def _section_asked(section: SectionDemand) -> dict[str, Any]:
    run = section.longest_run
    return {
        "name": section.name,
        "duration_s": round(section.duration_s, _DIGITS),
        "strokes": section.strokes,
        "longest_run": None
        if run is None
        else {
            **_spot(run.start),
            "strokes": run.strokes,
            "duration_s": round(run.duration_s, _DIGITS),
        },
        "rests": [
            {**_spot(each.after), "gap_s": round(each.gap_s, _DIGITS), "times": each.times}
            for each in section.rests
        ],
        "re_entries": [
            {
                **_spot(each.at),
                "surface": each.surface,
                "after": each.after,
                "strokes": each.strokes,
                "times": each.times,
            }
            for each in section.re_entries
        ],
    }


def _spot(spot: Spot) -> dict[str, int]:
    """Where a stroke is written within its section; its place as players count, from 1."""
    return {"bar": spot.bar, "count": spot.count, "place": spot.place + 1}


def _phase(phase: PhaseDemand) -> dict[str, Any]:
    return {
        "stroke": phase.phase + 1,
        "kind": phase.kind,
        "strokes": phase.strokes,
        "accents_given": phase.accents if phase.is_free else 0,
        "accents_fought": 0 if phase.is_free else phase.accents,
        "held_back": phase.held_back,
        "is_weak": phase.is_weak,
        "on_backbeat": phase.on_backbeat,
        "on_kick": phase.on_kick,
        "accents_at": [{**_spot(each.at), "times": each.times} for each in phase.accents_at],
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
    lasting, best = way.lasting, way.price.best
    return {
        "technique": way.technique,
        "why_not": list(way.why_not),
        "heard": list(way.heard),
        "gives": list(way.gives),
        "costs": list(way.costs),
        "drives_a_second": _rounded(way.drives_a_second),
        "against": round(way.against, _SHARE_DIGITS),
        "cycle_starts_with": best.starts_with,
        "cycle_first_stroke": best.first_stroke + 1,
        "drives": best.drives,
        "accents_given": best.accents_given,
        "accents_fought": best.accents_fought,
        "held_back": best.held_back,
        "weak_on_backbeat": best.weak_on_backbeat,
        "weak_on_kick": best.weak_on_kick,
        "cycle": [_phase(each) for each in way.price.phases],
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
