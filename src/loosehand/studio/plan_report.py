"""A day's plan as JSON version 1, ``loosehand.rounds/1``."""

from typing import Any

from loosehand.rounds.plan_steps import Step
from loosehand.studio.plan_today import PlannedDay

__all__ = ["SCHEMA", "plan_to_json"]

SCHEMA = "loosehand.rounds/1"


def plan_to_json(day: PlannedDay, *, player: str) -> dict[str, Any]:
    """Return a plan as it is printed; see ``rounds.schema.json`` and ``docs/rounds.md``.

    Parameters
    ----------
    day : with its plan
    player : whose
    """
    plan, kind = day.plan, day.kind
    return {
        "schema": SCHEMA,
        "player": player,
        "day": day.day.isoformat(),
        "kind_of_day": day.day_kind,
        "rest_proposed": plan.rest_proposed,
        "why": plan.why,
        "cautions": list(plan.cautions),
        "technique": kind.technique,
        "surface": kind.surface,
        "loudness": kind.loudness,
        "places_per_count": kind.places_per_count,
        "weak": {"hand": day.weak, "why": day.weak_why},
        "rest_s": plan.frame.rest_s,
        "length_s": None
        if not plan.steps
        else {
            "expected": round(plan.length.expected_s, 1),
            "low80": round(plan.length.low80_s, 1),
            "high80": round(plan.length.high80_s, 1),
        },
        "blocks": [{"block": each.block, "hand": each.hand, "why": each.why} for each in plan.whys],
        "rounds": [_round(each) for each in plan.steps],
    }


def _round(step: Step) -> dict[str, Any]:
    planned = step.planned
    return {
        "block": step.block,
        "purpose": planned.purpose,
        "hand": planned.hand,
        "tempo_bpm": planned.tempo_bpm,
        "round_s": planned.round_s,
        "counts": planned.counts,
        "chance": None if step.chance is None else round(step.chance, 4),
    }
