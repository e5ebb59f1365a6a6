"""What the chart's page shows of the rounds it was given: picture, gap and table, kind by kind."""

import calendar
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape

from markupsafe import Markup

from loosehand.studio.chart import ChartRound, Kind, MonthRounds
from loosehand.studio.chart_sums import (
    LEAST_COMPARED,
    HandGap,
    RoundsAtTempo,
    Sums,
    commonest_length_s,
    day_sums,
    edge_of,
    hand_gap,
    month_sums,
)
from loosehand.studio.round_tags import HANDS
from loosehand.web.pages.chart_period import Period, day_words, month_after
from loosehand.web.plots.chart_plot import (
    ChartPlot,
    PlotCell,
    PlotColumn,
    PlotPanel,
    chart_plot,
)

__all__ = [
    "Column",
    "HandRows",
    "KindView",
    "Number",
    "TempoRow",
    "Work",
    "days_view",
    "gap_words",
    "kind_words",
    "months_view",
    "number_of",
]

_FEEL_SIGNS = {
    "tense": '<i aria-hidden="true">t</i>',
    "pain": '<b aria-hidden="true">!</b>',
}


@dataclass(frozen=True)
class Work:
    """The work done, whatever its kind.

    Attributes
    ----------
    first, last : the days looked at: from the chart's first day, up to today
    rounds : rounds of each day that has any
    """

    first: date
    last: date
    rounds: Mapping[date, int]

    @property
    def days(self) -> int:
        """Days with rounds."""
        return len(self.rounds)

    @property
    def rest_days(self) -> int:
        """Days without a round."""
        return max(0, (self.last - self.first).days + 1) - self.days

    def rest_between(self, before: date, after: date) -> int:
        """Days without a round that lie between two days."""
        between = (after - before).days - 1
        return between - sum(before < day < after for day in self.rounds)


@dataclass(frozen=True)
class Number:
    """A number in a cell, with its marks.

    Attributes
    ----------
    text : the count held, or a question mark where it was not judged
    said : the marks in words, for those who hear the page
    take_id : the take that it comes from, or None
    held : held to its end
    corrected : a person's number stands above another
    after : written small behind it: the counts of a round of unusual length, or how many rounds
    feel : tense or pain, else None
    """

    text: str
    said: str
    take_id: int | None = None
    held: bool = False
    corrected: bool = False
    after: str = ""
    feel: str | None = None

    @property
    def markup(self) -> Markup:
        """The number as HTML: made here, since a page of years holds thousands."""
        inner = self.text
        if self.take_id is not None:
            inner = f'<a href="/take/{self.take_id}">{inner}</a>'
        if self.after:
            inner += f"<small>{self.after}</small>"
        if self.corrected:
            inner += '<span class="pencil" aria-hidden="true">✎</span>'
        if self.feel is not None:
            inner += _FEEL_SIGNS[self.feel]
        if self.said:
            inner += f'<span class="sr"> {escape(self.said)}</span>'
        return Markup(f'<span class="{"n held" if self.held else "n"}">{inner}</span>')


@dataclass(frozen=True)
class Column:
    """A column of the table: a day, a month, or the rest days between two days.

    Attributes
    ----------
    above, below : its head, in two lines
    said : its head in full
    rest : how many rest days it stands for, 0 for a day or a month
    """

    above: str
    below: str
    said: str
    rest: int = 0


@dataclass(frozen=True)
class TempoRow:
    """A tempo: its numbers by column. None under rest days."""

    tempo_bpm: float
    cells: tuple[tuple[Number, ...] | None, ...]


@dataclass(frozen=True)
class HandRows:
    """A hand: its tempos, and how many rounds it has in each column."""

    hand: str
    rows: tuple[TempoRow, ...]
    done: tuple[int | None, ...]


@dataclass(frozen=True)
class KindView:
    """One kind of rounds as the page shows it."""

    kind: Kind
    words: str
    svg: str
    gap: str
    round_s: float
    others: int
    columns: tuple[Column, ...]
    hands: tuple[HandRows, ...]


def kind_words(kind: Kind) -> str:
    """Name a kind of rounds."""
    return ", ".join(
        (
            kind.technique or "technique not said",
            kind.surface or "surface not said",
            kind.loudness or "loudness not said",
            f"{kind.places_per_count} places a count",
        )
    )


def days_view(
    kind: Kind, rounds: Sequence[ChartRound], period: Period, work: Work, *, name: str
) -> KindView:
    """Show rounds of one kind day by day.

    Parameters
    ----------
    kind : what they share
    rounds : at least one
    period : the days shown
    work : done in the period, of whatever kind
    name : for the ids of the picture
    """
    lengths = Counter(found.row.tags.round_s for found in rounds)
    round_s = commonest_length_s(lengths) or 0.0
    sums = day_sums(rounds, round_s=round_s)
    days = [period.first + timedelta(days=n) for n in range((period.last - period.first).days + 1)]
    busiest = max(work.rounds.values(), default=1)
    columns = [
        PlotColumn(
            label=f"{day.day} {calendar.month_abbr[day.month]}" if day.weekday() == 0 else "",
            done=work.rounds.get(day, 0),
            most=busiest,
            before=not work.first <= day <= work.last,
        )
        for day in days
    ]
    heads, keys = _day_columns(sorted({found.row.day for found in rounds}), work)
    return KindView(
        kind=kind,
        words=kind_words(kind),
        svg=_picture(kind, sums, days, columns, name=name, every="day"),
        gap=gap_words(hand_gap(sums), hands=sums.keys(), every="day"),
        round_s=round_s,
        others=len(rounds) - lengths[round_s],
        columns=tuple(heads),
        hands=_day_hands(rounds, keys, round_s=round_s),
    )


def months_view(
    kind: Kind, months: Sequence[MonthRounds], period: Period, work: Work, *, name: str
) -> KindView:
    """Show rounds of one kind month by month: the median of each tempo. As ``days_view``."""
    lengths: Counter[float] = Counter()
    for found in months:
        lengths[found.round_s] += found.rounds
    round_s = commonest_length_s(lengths) or 0.0
    sums = month_sums(months, round_s=round_s)
    firsts = list(_months(period.first, period.last))
    done = Counter(date(day.year, day.month, 1) for day in work.rounds)
    began = date(work.first.year, work.first.month, 1)
    few = len(firsts) <= 14
    columns = [
        PlotColumn(
            label=_month_label(first, few=few),
            done=done[first],
            most=31,
            before=not began <= first <= work.last,
        )
        for first in firsts
    ]
    shown = sorted({column for hand in sums.values() for column in hand})
    return KindView(
        kind=kind,
        words=kind_words(kind),
        svg=_picture(kind, sums, firsts, columns, name=name, every="month"),
        gap=gap_words(hand_gap(sums), hands=sums.keys(), every="month"),
        round_s=round_s,
        others=lengths.total() - lengths[round_s],
        columns=tuple(_month_column(first) for first in shown),
        hands=_month_hands(sums, shown),
    )


def gap_words(gap: HandGap, *, hands: Iterable[str], every: str) -> str:
    """Say the gap of the hands in one sentence.

    Parameters
    ----------
    gap : of left and right
    hands : that have rounds
    every : day or month
    """
    missing = {"left", "right"} - set(hands)
    if missing:
        return f"Cannot say yet: no rounds of the {' and the '.join(sorted(missing))} hand here."
    if gap.gap_bpm is None and gap.compared < LEAST_COMPARED:
        return (
            f"Cannot say yet: {gap.compared} of the {LEAST_COMPARED} {every}s it takes on which "
            "both hands held a tempo and lost a faster one."
        )
    if gap.gap_bpm is None:
        return f"Cannot say yet: the {every}s disagree on which hand holds less."
    if gap.weak is None:
        return f"No gap: both hands hold the same tempo (median of {gap.compared} {every}s)."
    return (
        f"The {gap.weak} hand is the weak one here: it holds {gap.gap_bpm:g} counts a minute less "
        f"(median of {gap.compared} {every}s)."
    )


def number_of(found: ChartRound, *, round_s: float) -> Number:
    """Lay out a round's number with its marks.

    Parameters
    ----------
    found : the round
    round_s : the usual length; a round of another says how many counts it has
    """
    count, tags = found.row.count_held, found.row.tags
    corrected = found.corrected_at is not None
    feel = tags.feel if tags.feel in {"tense", "pain"} else None
    words = [
        "not judged" if count is None else "",
        "held to the end" if found.held_to_the_end else "",
        f"corrected by a person: {found.why}" if corrected else "",
        "from a take" if found.take_id is not None else "",
        feel or "",
    ]
    return Number(
        text="?" if count is None else str(count),
        said=", ".join(word for word in words if word),
        take_id=found.take_id,
        held=found.held_to_the_end,
        corrected=corrected,
        after="" if tags.round_s == round_s else f"/{tags.counts}",
        feel=feel,
    )


def _picture(
    kind: Kind,
    sums: Sums,
    firsts: Sequence[date],
    columns: Sequence[PlotColumn],
    *,
    name: str,
    every: str,
) -> str:
    """Draw the sums."""
    place = {first: index for index, first in enumerate(firsts)}
    tempos = {tempo for hand in sums.values() for column in hand.values() for tempo in column}
    panels = [
        _panel(hand, sums[hand], place, columns=len(columns)) for hand in HANDS if hand in sums
    ]
    return chart_plot(
        ChartPlot(
            name=name,
            title=f"Counts held by {every} and tempo: {kind_words(kind)}",
            description=" ".join(_panel_words(panel, every=every) for panel in panels),
            tempos_bpm=tuple(sorted(tempos)),
            columns=tuple(columns),
            panels=tuple(panels),
        )
    )


def _panel(
    hand: str,
    by_column: Mapping[date, Mapping[float, RoundsAtTempo]],
    place: Mapping[date, int],
    *,
    columns: int,
) -> PlotPanel:
    """Lay out one hand for the picture."""
    edges: list[float | None] = [None] * columns
    cells = []
    for first, tempos in by_column.items():
        edge = edge_of(tempos)
        edges[place[first]] = None if edge is None else edge.tempo_bpm
        for tempo_bpm, rounds in tempos.items():
            held = rounds.median_held
            if held is not None:
                share = min(1.0, held / rounds.counts)
                cells.append(PlotCell(place[first], tempo_bpm, share, rounds.is_held))
    return PlotPanel(_hand_words(hand), tuple(cells), tuple(edges))


def _panel_words(panel: PlotPanel, *, every: str) -> str:
    """Say in words what a panel shows."""
    edges = [edge for edge in panel.edges_bpm if edge is not None]
    if not edges:
        return f"{panel.name}: no tempo held to its end."
    return (
        f"{panel.name}: highest tempo held to its end {edges[0]:g} on the first such {every}, "
        f"{edges[-1]:g} on the last, between {min(edges):g} and {max(edges):g} "
        f"over {len(edges)} {every}s."
    )


def _hand_words(hand: str) -> str:
    """Name a hand at the head of its panel."""
    return "Alternating" if hand == "alternating" else f"{hand.capitalize()} hand"


def _day_columns(days: Sequence[date], work: Work) -> tuple[list[Column], list[date | None]]:
    """Heads of the table's columns, and the day of each: None where rest days lie between."""
    heads: list[Column] = []
    keys: list[date | None] = []
    for day in days:
        previous = keys[-1] if keys else None
        rest = work.rest_between(previous, day) if previous is not None else 0
        if rest > 0:
            plural = "s" if rest > 1 else ""
            heads.append(Column("rest", str(rest), f"{rest} rest day{plural}", rest=rest))
            keys.append(None)
        weekday = calendar.day_abbr[day.weekday()]
        below = f"{day.day} {calendar.month_abbr[day.month]}"
        heads.append(Column(weekday, below, f"{calendar.day_name[day.weekday()]} {day_words(day)}"))
        keys.append(day)
    return heads, keys


def _day_hands(
    rounds: Sequence[ChartRound], keys: Sequence[date | None], *, round_s: float
) -> tuple[HandRows, ...]:
    """Lay out the numbers of each hand, day by day."""
    cells: dict[str, dict[float, dict[date, list[Number]]]] = {}
    done: Counter[tuple[str, date | None]] = Counter()
    for found in rounds:
        tags, day = found.row.tags, found.row.day
        tempos = cells.setdefault(tags.hand, {})
        numbers = tempos.setdefault(tags.tempo_bpm, {}).setdefault(day, [])
        numbers.append(number_of(found, round_s=round_s))
        done[tags.hand, day] += 1
    return tuple(
        HandRows(
            _hand_words(hand),
            tuple(
                TempoRow(
                    tempo_bpm,
                    tuple(None if key is None else tuple(days.get(key, ())) for key in keys),
                )
                for tempo_bpm, days in sorted(cells[hand].items())
            ),
            tuple(None if key is None else done[hand, key] for key in keys),
        )
        for hand in HANDS
        if hand in cells
    )


def _month_hands(sums: Sums, shown: Sequence[date]) -> tuple[HandRows, ...]:
    """Lay out the medians of each hand, month by month."""
    return tuple(
        HandRows(
            _hand_words(hand),
            tuple(
                TempoRow(
                    tempo_bpm,
                    tuple(
                        _month_number(sums[hand].get(first, {}).get(tempo_bpm)) for first in shown
                    ),
                )
                for tempo_bpm in sorted({t for tempos in sums[hand].values() for t in tempos})
            ),
            tuple(
                sum(rounds.rounds for rounds in sums[hand].get(first, {}).values())
                for first in shown
            ),
        )
        for hand in HANDS
        if hand in sums
    )


def _month_number(rounds: RoundsAtTempo | None) -> tuple[Number, ...]:
    """Return the median of a tempo in a month."""
    if rounds is None:
        return ()
    held = rounds.median_held
    plural = "s" if rounds.rounds > 1 else ""
    said = f"median of {rounds.rounds} round{plural}"
    return (
        Number(
            text="?" if held is None else f"{held:g}",
            said=f"{said}, held to the end" if rounds.is_held else said,
            held=rounds.is_held,
            after=f"×{rounds.rounds}",
        ),
    )


def _month_column(first: date) -> Column:
    """Head of a month's column."""
    name = calendar.month_name[first.month]
    return Column(str(first.year), calendar.month_abbr[first.month], f"{name} {first.year}")


def _month_label(first: date, *, few: bool) -> str:
    """Write a month's name where there are few, else the year at its January."""
    if few:
        return calendar.month_abbr[first.month]
    return str(first.year) if first.month == 1 else ""


def _months(first: date, last: date) -> Iterable[date]:
    """First days of the months from one day to another."""
    month = date(first.year, first.month, 1)
    while month <= last:
        yield month
        month = month_after(month, 1)
