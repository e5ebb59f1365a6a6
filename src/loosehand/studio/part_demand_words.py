"""What a part asks, in words that fit into a table: on the page and in the terminal alike."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from loosehand.parts.demand import Demand, LevelDemand, SectionDemand, TechniqueDemand, Together
from loosehand.parts.demand_cycles import PhaseDemand
from loosehand.parts.demand_runs import ReEntry, Rest, Run, Spot
from loosehand.parts.part import DYNAMICS, Part
from loosehand.parts.place_words import short_place

__all__ = [
    "PhaseWords",
    "SectionWords",
    "accents_by_phase",
    "level_words",
    "pairs_that_play",
    "phase_names",
    "phase_words",
    "rate_words",
    "section_words",
    "start_words",
    "together_words",
    "weak_meetings",
]

_Each = TypeVar("_Each")
_MOST_TOLD = 3
"""Rows of rests or of re-entries told of one section; what is left is counted. Ours."""
_MOST_PLACES = 4
_MOST_COUNTS = 8
_SLOW = 0.1
_NONE = ""
_AFTER = {"rest": "a rest", "other surface": "another surface"}


@dataclass(frozen=True)
class SectionWords:
    """One section of the leading hand in words; empty where there is nothing.

    Attributes
    ----------
    name : of the section
    strokes : in all
    run : strokes and seconds of the longest run
    run_from : where it starts
    rests : each where and how long, the longest first
    re_entries : each where and after what
    """

    name: str
    strokes: str
    run: str
    run_from: str
    rests: tuple[str, ...]
    re_entries: tuple[str, ...]


@dataclass(frozen=True)
class PhaseWords:
    """One stroke of a technique's cycle in words.

    Attributes
    ----------
    name : its kind, with its number where the cycle has more of that kind
    strokes : how many fall on it
    given, fought, held_back : accents for nothing, accents to be fought for, strokes held back
    places : where in the bar its accents fall
    backbeat, kick : weak strokes that meet one; empty for a stroke that is not weak
    """

    name: str
    strokes: str
    given: str
    fought: str
    held_back: str
    places: str
    backbeat: str
    kick: str


def level_words(level: LevelDemand | None) -> str:
    """Say from what to what level, and how far that is.

    Examples
    --------
    >>> level_words(LevelDemand(3, 5, 8.0)), level_words(LevelDemand(-1, 3, 16.0))
    ('mf to ff, 8 dB', 'softer than pp to mf, 16 dB')
    >>> level_words(LevelDemand(3, 3, 0.0)), level_words(None)
    ('mf throughout', '')
    """
    if level is None:
        return _NONE
    if level.lowest == level.highest:
        return f"{_step_words(level.lowest)} throughout"
    return f"{_step_words(level.lowest)} to {_step_words(level.highest)}, {level.range_db:.0f} dB"


def rate_words(a_second: float) -> str:
    """Write how often a limb strikes a second.

    Examples
    --------
    >>> rate_words(6.93), rate_words(0.034)
    ('6.9', '0.03')
    """
    return f"{a_second:.1f}" if a_second >= _SLOW else f"{a_second:.2f}"


def _step_words(step: int) -> str:
    """Say a step of level by its dynamic, or that it lies beyond the last of them."""
    if step < 0:
        return f"softer than {DYNAMICS[0]}"
    if step >= len(DYNAMICS):
        return f"louder than {DYNAMICS[-1]}"
    return DYNAMICS[step]


def section_words(part: Part, section: SectionDemand) -> SectionWords:
    """One section of the leading hand.

    Parameters
    ----------
    part : that was asked
    section : of its demand
    """
    run = section.longest_run
    return SectionWords(
        name=section.name,
        strokes=str(section.strokes) if section.strokes else _NONE,
        run=_NONE if run is None else _run(run),
        run_from=_NONE if run is None else f"bar {run.start.bar} on {_place(part, run.start)}",
        rests=_rests(part, section.rests),
        re_entries=_first_of(section.re_entries, lambda entry: _entry(part, entry)),
    )


def _run(run: Run) -> str:
    return "1" if run.strokes == 1 else f"{run.strokes} in {run.duration_s:.1f} s"


def _place(part: Part, spot: Spot) -> str:
    """Say a place as it is counted aloud."""
    bar = part.sections[spot.section_number - 1].bars[spot.bar - 1]
    return short_place(bar, spot.count, spot.place)


def _rests(part: Part, rests: Sequence[Rest]) -> tuple[str, ...]:
    """Say where rests are, those that are alike together, the longest first."""
    of_bar: dict[tuple[float, int, int], list[str]] = {}
    for rest in rests:
        same = (round(rest.gap_s, 2), rest.times, rest.after.bar)
        of_bar.setdefault(same, []).append(_place(part, rest.after))
    alike: dict[tuple[float, int, tuple[str, ...]], list[int]] = {}
    for (gap_s, times, bar), places in of_bar.items():
        alike.setdefault((gap_s, times, tuple(places)), []).append(bar)
    rows = sorted(alike.items(), key=lambda row: (-row[0][0], row[1]))
    return _first_of(rows, lambda row: _rest_row(*row[0], row[1]))


def _rest_row(gap_s: float, times: int, places: Sequence[str], bars: Sequence[int]) -> str:
    each = " each" if times > 1 and len(places) * len(bars) > 1 else ""
    return f"{gap_s:.2f} s: {_bars(bars)} after {_some(places)}{_times(times, each)}"


def _bars(bars: Sequence[int]) -> str:
    """Say which bars, in rising order, rows of them by their ends.

    Examples
    --------
    >>> _bars([2]), _bars([1, 2, 3, 6])
    ('bar 2', 'bars 1 to 3, 6')
    """
    rows: list[list[int]] = []
    for bar in bars:
        if rows and rows[-1][1] == bar - 1:
            rows[-1][1] = bar
        else:
            rows.append([bar, bar])
    told = [f"{low}" if low == high else f"{low} to {high}" for low, high in rows]
    return f"bar{'s' if len(bars) > 1 else ''} {_some(told)}"


def _some(words: Sequence[str]) -> str:
    more = len(words) - _MOST_PLACES
    return ", ".join(words[:_MOST_PLACES]) + (f" and {more} more" if more > 0 else "")


def _entry(part: Part, entry: ReEntry) -> str:
    where = f"bar {entry.at.bar} on {_place(part, entry.at)}"
    return f"{where}: {entry.surface}, after {_AFTER[entry.after]}{_times(entry.times)}"


def _times(times: int, each: str = "") -> str:
    return "" if times == 1 else f" ({times} times{each})"


def _first_of(
    found: Sequence[_Each], say: Callable[[_Each], str], *, most: int = _MOST_TOLD
) -> tuple[str, ...]:
    """Say the first few, and how many more there are."""
    told = tuple(say(each) for each in found[:most])
    more = len(found) - len(told)
    return (*told, f"and {more} more") if more else told


def phase_names(phases: Sequence[PhaseDemand]) -> tuple[str, ...]:
    """Names of the strokes of a cycle: down, tap 1, tap 2, up."""
    kinds = [phase.kind for phase in phases]
    names = []
    for number, kind in enumerate(kinds):
        which = f" {kinds[: number + 1].count(kind)}" if kinds.count(kind) > 1 else ""
        names.append(f"{kind}{which}")
    return tuple(names)


def phase_words(part: Part, phases: Sequence[PhaseDemand]) -> tuple[PhaseWords, ...]:
    """Each stroke of a technique's cycle, in order."""
    return tuple(
        PhaseWords(
            name=name,
            strokes=str(phase.strokes),
            given=_count(phase.accents) if phase.is_free else _NONE,
            fought=_NONE if phase.is_free else _count(phase.accents),
            held_back=_count(phase.held_back),
            places=", ".join(
                _first_of(
                    phase.accents_at,
                    lambda place: f"{_place(part, place.at)} ({place.times})",
                    most=_MOST_COUNTS,
                )
            ),
            backbeat=_count(phase.on_backbeat) if phase.is_weak else _NONE,
            kick=_count(phase.on_kick) if phase.is_weak else _NONE,
        )
        for name, phase in zip(phase_names(phases), phases, strict=True)
    )


def _count(count: int) -> str:
    return str(count) if count else _NONE


def accents_by_phase(demand: TechniqueDemand, *, is_free: bool) -> str:
    """Say how many accents fall on which strokes of the cycle: those for nothing, or those fought.

    Parameters
    ----------
    demand : of one technique
    is_free : whether those are told that come for nothing
    """
    return _told(demand.phases, lambda phase: phase.accents if phase.is_free == is_free else 0)


def weak_meetings(demand: TechniqueDemand, *, kick: bool) -> str:
    """Say how many weak strokes, and which, meet a kick, or the backbeat."""

    def meets(phase: PhaseDemand) -> int:
        met = phase.on_kick if kick else phase.on_backbeat
        return met if phase.is_weak else 0

    return _told(demand.phases, meets)


def _told(phases: Sequence[PhaseDemand], count: Callable[[PhaseDemand], int]) -> str:
    names = phase_names(phases)
    found = [(count(phase), name) for phase, name in zip(phases, names, strict=True)]
    return ", ".join(f"{name}: {often}" for often, name in found if often)


def start_words(demand: TechniqueDemand) -> str:
    """Say with which stroke of the cycle its cheapest start begins."""
    best = demand.best
    if len(demand.starts) == 1:
        return "Every stroke is a drive of its own."
    name = phase_names(demand.phases)[best.first_stroke]
    return f"Each {best.starts_with} starts on stroke {best.first_stroke + 1} of the drive, {name}."


def pairs_that_play(demand: Demand) -> list[Together]:
    """Pairs of hand and foot, both of which the part has."""
    plays = {each.limb for each in demand.limbs}
    return [each for each in demand.together if {each.hand, each.foot} <= plays]


def together_words(demand: Demand, *, same_side: bool) -> str:
    """Say how often hand and foot of one side, or of both, strike at once."""
    pairs = [each for each in pairs_that_play(demand) if each.same_side == same_side]
    return ", ".join(f"{each.hand} and {each.foot} {each.times}" for each in pairs)
