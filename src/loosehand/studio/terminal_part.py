"""Ways of playing a part drawn in a terminal: what it asks, the ways, plans that mix."""

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from loosehand.parts.part import Part
from loosehand.parts.swing import swing_line, swung_sections
from loosehand.rounds.mixed_plans import MixedPlan
from loosehand.rounds.way_lasting import LikelyEnd
from loosehand.rounds.ways import Way, WaysOfPlaying
from loosehand.studio.care import CARE_SHORT

__all__ = ["part_tables"]


def part_tables(part: Part, ways: WaysOfPlaying, *, player: str | None) -> RenderableType:
    """Draw what a part asks and the ways of playing it.

    Parameters
    ----------
    part : with its title
    ways : of it
    player : whose chances they are, None for nobody's
    """
    whose = f", for {player}" if player else ""
    drawn: list[RenderableType] = [Text(f"{part.title or 'A part'}{whose}")]
    drawn += [Text(each) for each in ways.asks]
    if (swing := swing_line(swung_sections(part))) is not None:
        drawn.append(Text(swing, style="dim"))
    if ways.ways:
        drawn += [Text(), _table(ways.ways), Text()]
        drawn += [line for way in ways.ways for line in _way_lines(way)]
        drawn += [*_belief_lines(ways.ways), *_mixed_lines(ways.mixed)]
    drawn += [Text(), *(Text(each) for each in ways.notes), Text(CARE_SHORT)]
    return Group(*drawn)


def _table(ways: tuple[Way, ...]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 2, 0, 0), pad_edge=False)
    table.add_column("way")
    table.add_column("lasts", justify="right")
    table.add_column("ends most often")
    table.add_column("drives/s", justify="right")
    table.add_column("against", justify="right")
    table.add_column("heard")
    for way in ways:
        lasting = way.lasting
        cells = (
            way.technique,
            _percent(lasting.chance),
            _end(lasting.likely_end),
            "" if way.drives_a_second is None else f"{way.drives_a_second:.1f}",
            f"{100.0 * way.against:.0f} %",
            _heard(way),
        )
        table.add_row(*map(Text, cells))
    return table


def _heard(way: Way) -> str:
    if not way.lasting.is_known:
        return "not yet"
    return "yes, shorter" if way.lasting.beyond_seen else "yes"


def _end(end: LikelyEnd | None) -> str:
    return "" if end is None else f"{end.section}, bar {end.bar}"


def _way_lines(way: Way) -> list[Text]:
    """What a way gives and costs here and, where it was heard, why its chance is what it is."""
    lasting = way.lasting
    known = (*way.heard, lasting.why, *lasting.beyond_seen) if lasting.is_known else ()
    here = " ".join((*way.gives[1:], *way.costs[1:], *known))
    return [Text(f"{way.technique}: {here}")] if here else []


def _belief_lines(ways: tuple[Way, ...]) -> list[Text]:
    """What the chances of ways rest on that were not heard, said once for those it is said of."""
    said: dict[str, list[str]] = {}
    for way in ways:
        if not way.lasting.is_known:
            said.setdefault(" ".join((*way.heard, way.lasting.why)), []).append(way.technique)
    return [Text(f"{', '.join(names)}: {words}") for words, names in said.items()]


def _mixed_lines(plans: tuple[MixedPlan, ...]) -> list[Text]:
    """Plans that mix, with what they gain and what they lose."""
    if not plans:
        return []
    lines = [Text(), Text(f"Mixed, against {plans[0].base} throughout:")]
    for plan in plans:
        gained = 100.0 * plan.reserve_gained
        price = (
            f"lasts {_percent(plan.chance)} instead of {_percent(plan.base_chance)}, "
            f"{gained:+.0f} % of the reserve left"
        )
        if plan.other_chance is not None:
            price += f", the other hand lasts {_percent(plan.other_chance)}"
        lines.append(Text(f"- {plan.name}: {price}. {' '.join(plan.loses)}"))
    return lines


def _percent(chance: float) -> str:
    """Write a chance in whole percent, never as certain."""
    return f"{min(max(round(100.0 * chance), 1), 99)} %"
