"""Ways of playing a part: what it asks, what each technique gives and costs, whether it lasts."""

from datetime import date
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from loosehand.parts.demand import Demand, demand_of
from loosehand.parts.demand_strip import hand_strips
from loosehand.parts.part import Part
from loosehand.parts.swing import swing_line
from loosehand.parts.techniques import TECHNIQUES
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled
from loosehand.rounds.mixed_plans import MixedPlan
from loosehand.rounds.way_lasting import LikelyEnd, Step
from loosehand.rounds.ways import (
    Way,
    WaysOfPlaying,
    kind_asked,
    other_kind_asked,
    ways_of_playing,
)
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.chart import player_names
from loosehand.studio.database import Studio
from loosehand.studio.part_demand_words import (
    level_words,
    pairs_that_play,
    phase_names,
    phase_words,
    rate_words,
    section_words,
    start_words,
)
from loosehand.studio.part_ways import reaches_for_part
from loosehand.studio.parts_store import load_part
from loosehand.web.desk import desk_of, page
from loosehand.web.pages.part_view import figures_of
from loosehand.web.plots.part_demand import PhaseBar, draw_phases, draw_strips
from loosehand.web.plots.part_ways import ChanceRow, draw_chances, draw_reserve, percent_of

__all__ = ["ROUTES"]


def _ways(request: Request) -> Response:
    """Show the ways of playing a part, for one player or for nobody."""
    desk = desk_of(request)
    stored = load_part(desk.studio, request.path_params["part_id"])
    part = parse_part(stored.text)
    with desk.studio.look() as session:
        players = player_names(session)
    player = _player_asked(request.query_params.get("player"), stored.player, players)
    demand = demand_of(part)
    ways = _ways_for(desk.studio, part, demand, player=player, today=desk.today())
    return page(
        request,
        "part_ways.html",
        part=stored,
        figures=figures_of(part),
        player=player,
        players=players,
        ways=ways,
        chances=draw_chances([_row(way) for way in ways.ways]) if ways.ways else None,
        shown=[_way_shown(part, way, index) for index, way in enumerate(ways.ways)],
        mixed=[_mixed_shown(plan, index) for index, plan in enumerate(ways.mixed)],
        asked=_asked(part, demand),
        swing=swing_line(demand.swing),
        care=CARE_SHORT,
        here="parts",
    )


def _player_asked(word: str | None, owner: str | None, players: list[str]) -> str | None:
    """Whose chances are told: as asked, else whose part it is; None for nobody's.

    What one player holds is not shown to the next: of several, one is chosen first.

    Examples
    --------
    >>> _player_asked(None, None, ["Maud"]), _player_asked("", "Maud", ["Maud"])
    ('Maud', None)
    >>> _player_asked(None, None, ["Maud", "Ines"]), _player_asked(None, "Ines", ["Maud", "Ines"])
    (None, 'Ines')
    """
    if word is not None:
        return word or None
    return owner or (players[0] if len(players) == 1 else None)


def _ways_for(
    studio: Studio, part: Part, demand: Demand, *, player: str | None, today: date
) -> WaysOfPlaying:
    """Ways of playing with what a player holds, or nobody known."""
    asked = (kind_asked(part, demand), other_kind_asked(part, demand))
    kinds = [kind for kind in asked if kind is not None]
    if player is None or not kinds:
        return ways_of_playing(part, demand, {})
    own, other = reaches_for_part(studio, player, kinds=kinds, techniques=TECHNIQUES, today=today)
    return ways_of_playing(part, demand, own, other=other)


def _asked(part: Part, demand: Demand) -> dict[str, Any]:
    """What the part asks, as the page shows it: a picture, and tables."""
    tune = unrolled(part)
    strips = hand_strips(tune)
    return {
        "strips": draw_strips(strips, tune.sections) if strips else None,
        "limbs": [
            {
                "limb": limb.limb,
                "strokes": limb.strokes,
                "rate": rate_words(limb.strokes_a_second),
                "fullest": rate_words(limb.densest_bar_strokes_a_second),
                "level": level_words(limb.level),
            }
            for limb in demand.limbs
        ],
        "level": level_words(demand.level_of_kit),
        "hand": demand.leading_hand,
        "sections": [section_words(part, section) for section in demand.sections],
        "together": pairs_that_play(demand),
    }


def _row(way: Way) -> ChanceRow:
    lasting = way.lasting
    return ChanceRow(way.technique, lasting.chance, lasting.is_known, bool(lasting.beyond_seen))


def _way_shown(part: Part, way: Way, index: int) -> dict[str, Any]:
    """A way as the page shows it."""
    lasting, phases = way.lasting, way.price.phases
    return {
        "way": way,
        "lasting": lasting,
        "percent": percent_of(lasting.chance),
        "end": _end(lasting.likely_end),
        "against": round(100.0 * way.against),
        "drives": "" if way.drives_a_second is None else f"{way.drives_a_second:.1f}",
        "reserve": draw_reserve(lasting.sections, name=f"reserve-{index}", way=way.technique),
        "phases": phase_words(part, phases),
        "starts": start_words(way.price),
        "phase_plot": draw_phases(
            [
                PhaseBar(name, phase.accents, phase.is_free)
                for name, phase in zip(phase_names(phases), phases, strict=True)
            ],
            name=f"phases-{index}",
            way=way.technique,
        ),
        "steps": [(step.what, *_step(step)) for step in lasting.steps],
        "sections": lasting.sections,
    }


def _mixed_shown(plan: MixedPlan, index: int) -> dict[str, Any]:
    """A plan that mixes, as the page shows it."""
    return {
        "plan": plan,
        "percent": percent_of(plan.chance),
        "base_percent": percent_of(plan.base_chance),
        "gained": f"{100.0 * plan.reserve_gained:+.0f}".replace("-", "\N{MINUS SIGN}"),
        "end": _end(plan.likely_end),
        "reserve": draw_reserve(plan.reserve, name=f"mixed-{index}", way=plan.name),
        "changes": [
            f"{each.section}: {each.technique}{_change(each.change, each.every)}"
            for each in plan.sections
        ],
    }


def _change(change: str | None, every: int | None) -> str:
    """Say what is changed in a section.

    Examples
    --------
    >>> _change(None, None), _change("shared", 1), _change("thinned", 4)
    ('', ', every bar shared', ', the last of every 4 bars thinned')
    """
    if change is None:
        return ""
    bars = "every bar" if every in (None, 1) else f"the last of every {every} bars"
    return f", {bars} {change}"


def _end(end: LikelyEnd | None) -> str:
    """Say where the reserve ends most often."""
    return "" if end is None else f"{end.section}, around bar {end.bar}"


def _step(step: Step) -> tuple[str, str]:
    """A figure of the computation and its bounds, in words."""
    figure = step.unit if step.figure is None else f"{_figure(step.figure)} {step.unit}".strip()
    if step.low80 is None and step.high80 is None:
        return figure, ""
    low = "" if step.low80 is None else _figure(step.low80)
    high = "without end" if step.high80 is None else _figure(step.high80)
    return figure, f"{low} to {high}" if low else high


def _figure(value: float) -> str:
    """Write a figure so that it can be read: few digits, none that mean nothing.

    Examples
    --------
    >>> _figure(653.0), _figure(86.512), _figure(0.2166), _figure(1649.62)
    ('653', '86.5', '0.22', '1650')
    """
    if float(value).is_integer() or abs(value) >= 1000:
        return f"{value:.0f}"
    return f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"


ROUTES = [Route("/part/{part_id:int}/ways", _ways, name="part-ways")]
