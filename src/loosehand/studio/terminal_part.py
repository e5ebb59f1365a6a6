"""Ways of playing a part drawn in a terminal: what it asks, the ways, plans that mix."""

from collections.abc import Collection, Iterator

from rich import box
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from loosehand.parts.demand import Demand
from loosehand.parts.part import Part
from loosehand.parts.swing import swing_line
from loosehand.rounds.mixed_plans import MixedPlan
from loosehand.rounds.way_lasting import LikelyEnd
from loosehand.rounds.ways import Way, WaysOfPlaying
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.part_demand_words import (
    accents_by_phase,
    level_words,
    rate_words,
    section_words,
    together_words,
    weak_meetings,
)

__all__ = ["part_tables"]


def part_tables(
    part: Part, demand: Demand, ways: WaysOfPlaying, *, player: str | None
) -> RenderableType:
    """Draw what a part asks and the ways of playing it.

    Parameters
    ----------
    part : with its title
    demand, ways : of it
    player : whose chances they are, None for nobody's
    """
    whose = f", for {player}" if player else ""
    drawn: list[RenderableType] = [Text(f"{part.title or 'A part'}{whose}")]
    drawn += _asked(part, demand)
    drawn += [Text(each) for each in ways.asks]
    if (swing := swing_line(demand.swing)) is not None:
        drawn.append(Text(swing, style="dim"))
    if ways.ways:
        drawn += [Text(), _table(ways.ways), Text()]
        drawn += [line for way in ways.ways for line in _way_lines(way)]
        drawn += [*_belief_lines(ways.ways), *_stroke_lines(ways.ways)]
        drawn += _mixed_lines(ways.mixed)
    drawn += [Text(), *(Text(each) for each in ways.notes), Text(CARE_SHORT)]
    return Group(*drawn)


def _plain_table(*columns: str, figures: Collection[str] = ()) -> Table:
    """Make a table; columns of figures stand to the right."""
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=(0, 2, 0, 0), pad_edge=False)
    for column in columns:
        table.add_column(column, justify="right" if column in figures else "left")
    return table


def _asked(part: Part, demand: Demand) -> Iterator[RenderableType]:
    """What is asked of each limb, of the leading hand section by section, and of two at once."""
    if demand.limbs:
        figures = ("strokes", "a second", "fullest bar")
        limbs = _plain_table("limb", *figures, "level", figures=figures)
        for each in demand.limbs:
            rates = (each.strokes_a_second, each.densest_bar_strokes_a_second)
            told = map(rate_words, rates)
            limbs.add_row(each.limb, str(each.strokes), *told, level_words(each.level))
        yield from (Text(), limbs)
    if demand.leading_hand is not None:
        yield from (Text(), _sections_table(part, demand))
    yield Text()
    sides = {"of one side": True, "crossed": False}
    for side, same_side in sides.items():
        if told_pairs := together_words(demand, same_side=same_side):
            yield Text(f"At once, {side}: {told_pairs}.")


def _sections_table(part: Part, demand: Demand) -> Table:
    table = _plain_table(
        f"section, {demand.leading_hand}",
        "strokes",
        "longest run",
        "rests",
        "comes back",
        figures=("strokes",),
    )
    for each in demand.sections:
        words = section_words(part, each)
        run = f"{words.run}, from {words.run_from}" if words.run else ""
        lists = ("\n".join(told) for told in (words.rests, words.re_entries))
        table.add_row(*map(Text, (words.name, words.strokes, run, *lists)))
    return table


def _stroke_lines(ways: tuple[Way, ...]) -> Iterator[RenderableType]:
    """Which strokes of each drive meet the part's accents, its backbeat and its kick."""
    table = _plain_table(
        "stroke by stroke",
        "accents for nothing",
        "accents fought",
        "weak on backbeat",
        "weak on kick",
    )
    for way in ways:
        table.add_row(
            Text(way.technique),
            *(Text(accents_by_phase(way.price, is_free=is_free)) for is_free in (True, False)),
            *(Text(weak_meetings(way.price, kick=kick)) for kick in (False, True)),
        )
    yield from (Text(), table)


def _table(ways: tuple[Way, ...]) -> Table:
    table = _plain_table(
        "way",
        "lasts",
        "ends most often",
        "drives/s",
        "against",
        "heard",
        figures=("lasts", "drives/s", "against"),
    )
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
