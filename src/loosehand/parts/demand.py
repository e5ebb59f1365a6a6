"""What a part asks of each limb, and what each technique would have to do for it.

``docs/demand.md`` works three small parts out by hand. Nothing here says how hard a part is for
a person: that is for the reach to say.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isclose

import numpy as np
from numpy.typing import NDArray

from loosehand.parts.demand_cycles import (
    AccentPlaces,
    CycleCost,
    Meetings,
    PhaseDemand,
    accent_places,
    cycle_costs,
    least_cost,
    phase_demands,
)
from loosehand.parts.demand_runs import (
    SURFACE_NAMES,
    HandLine,
    ReEntry,
    Rest,
    Run,
    hand_line,
    longest_run,
    re_entries,
    rests_of_section,
    section_slice,
)
from loosehand.parts.part import DYNAMICS, LIMBS, Limb, Part
from loosehand.parts.swing import SwungSection, swung_sections
from loosehand.parts.techniques import TECHNIQUES, Technique
from loosehand.parts.unroll import INSTRUMENT_NAMES, UnrolledPart, unrolled

__all__ = [
    "ACCENT_STEPS",
    "DB_A_STEP",
    "GHOST_STEPS",
    "Demand",
    "LevelDemand",
    "LimbDemand",
    "SectionDemand",
    "TechniqueDemand",
    "Together",
    "demand_of",
    "demand_of_played",
]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

DB_A_STEP = 4.0
"""Decibels from one dynamic to the next. Ours, assumed: pp to ff are then 20 dB."""
ACCENT_STEPS = 2
"""Steps by which an accent stands above its dynamic. Ours, assumed."""
GHOST_STEPS = -2
"""Steps by which a ghost note lies below its dynamic. Ours, assumed."""
FEWEST_FOR_TEMPO = 4
"""Strokes of a run that tell a tempo. Ours."""
_MOST_PLACES = 256
_BACKBEAT = ("snare", "cross-stick")


@dataclass(frozen=True)
class LevelDemand:
    """Span of level that is asked for, in steps of one dynamic.

    Attributes
    ----------
    lowest, highest : steps from pp = 0 to ff = 5, accents and ghost notes counted in
    range_db : (highest - lowest) * DB_A_STEP
    """

    lowest: int
    highest: int
    range_db: float


@dataclass(frozen=True)
class LimbDemand:
    """What one limb plays.

    Attributes
    ----------
    limb : which
    strokes : in all
    strokes_a_second : over the whole tune, rests included
    densest_bar_strokes_a_second : in the bar in which it plays most for its length
    level : span of level that is asked of it
    """

    limb: Limb
    strokes: int
    strokes_a_second: float
    densest_bar_strokes_a_second: float
    level: LevelDemand


@dataclass(frozen=True)
class SectionDemand:
    """What the leading hand plays in one section, repeats played out.

    Attributes
    ----------
    name : of the section
    duration_s : its length
    strokes : of the leading hand
    longest_run : without a rest, within the section; None where the hand does nothing
    rests : where they are written and how often they come
    re_entries : where the hand comes back, in this section
    """

    name: str
    duration_s: float
    strokes: int
    longest_run: Run | None
    rests: tuple[Rest, ...]
    re_entries: tuple[ReEntry, ...]


@dataclass(frozen=True)
class TechniqueDemand:
    """What the leading hand's line asks of one technique.

    Attributes
    ----------
    technique : its name
    why_not : sentences that say why it does not fit; empty where it does
    drives : in all, at the start of the cycle that costs least
    drives_a_second : over the whole tune
    drives_a_second_in_run : in the longest run: its strokes a second / strokes a drive
    best : the start of the cycle that costs least
    starts : every start that was tried
    phases : what each stroke of the cycle meets, at the start that costs least
    """

    technique: str
    why_not: tuple[str, ...]
    drives: int
    drives_a_second: float
    drives_a_second_in_run: float | None
    best: CycleCost
    starts: tuple[CycleCost, ...]
    phases: tuple[PhaseDemand, ...]

    @property
    def fits(self) -> bool:
        """Whether tempo and surface are those that the technique is used for."""
        return not self.why_not


@dataclass(frozen=True)
class Together:
    """How often a hand and a foot strike at once.

    Attributes
    ----------
    hand, foot : which
    same_side : both right, or both left
    times : places of the tune at which both strike
    """

    hand: Limb
    foot: Limb
    same_side: bool
    times: int


@dataclass(frozen=True)
class Demand:
    """What a part asks for.

    Attributes
    ----------
    duration_s : length of the tune
    limbs : every limb that plays
    leading_hand : the hand of more strokes, the right one of equals; None without a hand
    sections : of the leading hand, in order
    longest_run : of the leading hand over the whole tune
    tempo_asked_bpm : one-handed sixteenths: 15 times the strokes a second of the fastest of the
        sections' longest runs, of those with four strokes or more; None where there is none
    main_surface : what the leading hand strikes most
    accents : of the leading hand
    backbeats, kicks : strokes of the leading hand that sound with one
    techniques : each, in the order of the table
    level_of_hand, level_of_kit : of the leading hand, and of all limbs
    re_entries : where the leading hand comes back
    together : hands and feet
    swing : what swing makes of the notes of each section; of a tune that was played out already,
        which tells no swing, none
    """

    duration_s: float
    limbs: tuple[LimbDemand, ...]
    leading_hand: Limb | None
    sections: tuple[SectionDemand, ...]
    longest_run: Run | None
    tempo_asked_bpm: float | None
    main_surface: str | None
    accents: int
    backbeats: int
    kicks: int
    techniques: tuple[TechniqueDemand, ...]
    level_of_hand: LevelDemand | None
    level_of_kit: LevelDemand | None
    re_entries: tuple[ReEntry, ...]
    together: tuple[Together, ...]
    swing: tuple[SwungSection, ...] = ()


def demand_of(part: Part, *, techniques: Mapping[str, Technique] = TECHNIQUES) -> Demand:
    """What a part asks of each limb.

    Parameters
    ----------
    part : one that four limbs can play
    techniques : by name; our own table, or a teacher's

    Raises
    ------
    BadNotation    if four limbs cannot play the part
    """
    demand = demand_of_played(unrolled(part), techniques=techniques)
    return replace(demand, swing=swung_sections(part))


def demand_of_played(played: UnrolledPart, *, techniques: Mapping[str, Technique]) -> Demand:
    """What a tune that is played out already asks of each limb."""
    leading = _leading_hand(played)
    line = hand_line(played, leading or "right hand")
    entries = re_entries(played, line)
    sections = _sections(played, line, entries)
    whole = longest_run(played, line, slice(0, line.time_s.size))
    tempo_bpm = _tempo_asked(sections)
    surface = _main_surface(line)
    meetings = _meetings(played, line)
    accents = accent_places(played, line, meetings)
    limbs = _limbs(played)
    return Demand(
        duration_s=played.duration_s,
        limbs=limbs,
        leading_hand=leading,
        sections=sections,
        longest_run=whole,
        tempo_asked_bpm=tempo_bpm,
        main_surface=surface,
        accents=int(np.count_nonzero(line.accent)),
        backbeats=int(np.count_nonzero(meetings.on_backbeat)),
        kicks=int(np.count_nonzero(meetings.on_kick)),
        techniques=tuple(
            _technique(
                line,
                meetings,
                technique,
                _Asked(played.duration_s, whole, tempo_bpm, surface, accents),
            )
            for technique in techniques.values()
            if leading is not None
        ),
        level_of_hand=next((each.level for each in limbs if each.limb == leading), None),
        level_of_kit=_level_of_all(limbs),
        re_entries=entries,
        together=_together(played),
    )


def _leading_hand(played: UnrolledPart) -> Limb | None:
    strokes = np.bincount(played.limb, minlength=len(LIMBS))
    right, left = strokes[LIMBS.index("right hand")], strokes[LIMBS.index("left hand")]
    if right == 0 and left == 0:
        return None
    return "right hand" if right >= left else "left hand"


def _limbs(played: UnrolledPart) -> tuple[LimbDemand, ...]:
    bars = played.bar_length.size
    bar_s = np.diff(played.bar_start_s)
    steps = _levels(played)
    found = []
    for number, limb in enumerate(LIMBS):
        of_limb = played.limb == number
        strokes = int(np.count_nonzero(of_limb))
        if strokes:
            in_bar = np.bincount(played.bar[of_limb], minlength=bars)
            densest = float((in_bar / bar_s).max())
            level = _level(int(steps[of_limb].min()), int(steps[of_limb].max()))
            a_second = strokes / played.duration_s
            found.append(LimbDemand(limb, strokes, a_second, densest, level))
    return tuple(found)


def _sections(
    played: UnrolledPart, line: HandLine, entries: tuple[ReEntry, ...]
) -> tuple[SectionDemand, ...]:
    by_section: dict[int, list[ReEntry]] = {}
    for entry in entries:
        by_section.setdefault(entry.at.section_number, []).append(entry)
    return tuple(
        _section(played, line, number, tuple(by_section.get(number + 1, ())))
        for number in range(len(played.sections))
    )


def _section(
    played: UnrolledPart, line: HandLine, number: int, entries: tuple[ReEntry, ...]
) -> SectionDemand:
    section = played.sections[number]
    within = section_slice(line, number)
    return SectionDemand(
        name=section.name,
        duration_s=float(section.end_s - section.start_s),
        strokes=within.stop - within.start,
        longest_run=longest_run(played, line, within),
        rests=rests_of_section(played, line, within),
        re_entries=entries,
    )


def _tempo_asked(sections: tuple[SectionDemand, ...]) -> float | None:
    rates = [
        section.longest_run.strokes_a_second
        for section in sections
        if section.longest_run is not None
        and section.longest_run.strokes >= FEWEST_FOR_TEMPO
        and section.longest_run.strokes_a_second is not None
    ]
    return 15 * max(rates) if rates else None


def _main_surface(line: HandLine) -> str | None:
    if not line.surface.size:
        return None
    return SURFACE_NAMES[int(np.argmax(np.bincount(line.surface)))]


def _place_keys(played: UnrolledPart, chosen: BoolArray) -> IntArray:
    """Numbers that are equal for strokes at the same place of the tune."""
    return played.bar[chosen] * _MOST_PLACES + played.bar_place[chosen]


def _meetings(played: UnrolledPart, line: HandLine) -> Meetings:
    of_line = line.bar * _MOST_PLACES + line.bar_place
    other = LIMBS.index("left hand" if line.limb == "right hand" else "right hand")
    backbeat = np.isin(played.instrument, [INSTRUMENT_NAMES.index(name) for name in _BACKBEAT])
    kick = played.instrument == INSTRUMENT_NAMES.index("kick")
    bar_starts = np.cumsum(played.bar_length) - played.bar_length
    return Meetings(
        bar_position=line.position - bar_starts[line.bar],
        on_backbeat=np.isin(
            of_line, _place_keys(played, backbeat & (played.limb == other) & ~played.ghost)
        ),
        on_kick=np.isin(of_line, _place_keys(played, kick)),
    )


@dataclass(frozen=True)
class _Asked:
    """What the line asks of any technique."""

    duration_s: float
    longest_run: Run | None
    tempo_bpm: float | None
    surface: str | None
    accents: AccentPlaces


def _technique(
    line: HandLine, meetings: Meetings, technique: Technique, asked: _Asked
) -> TechniqueDemand:
    starts = cycle_costs(line, meetings, technique)
    best = least_cost(starts)
    rate = asked.longest_run.strokes_a_second if asked.longest_run else None
    return TechniqueDemand(
        technique=technique.name,
        why_not=_why_not(technique, asked),
        drives=best.drives,
        drives_a_second=best.drives / asked.duration_s,
        drives_a_second_in_run=None if rate is None else rate / technique.strokes_per_drive,
        best=best,
        starts=starts,
        phases=phase_demands(line, meetings, technique, best, asked.accents),
    )


def _why_not(technique: Technique, asked: _Asked) -> tuple[str, ...]:
    low, high = technique.tempo_range_bpm
    tempo_bpm = asked.tempo_bpm
    reasons = []
    if tempo_bpm is not None and not low <= tempo_bpm <= high:
        outside = not (isclose(tempo_bpm, low) or isclose(tempo_bpm, high))
        if outside:
            reasons.append(
                f"the part asks for sixteenths at {tempo_bpm:.0f}, "
                f"{technique.name} are used from {low} to {high}"
            )
    if asked.surface is not None and asked.surface not in technique.surfaces:
        reasons.append(
            f"the part is played on the {asked.surface}, "
            f"{technique.name} on {', '.join(technique.surfaces)}"
        )
    return tuple(reasons)


def _levels(played: UnrolledPart) -> IntArray:
    """Steps of each stroke: its section's dynamic, its accent, its ghost note."""
    of_section = np.array([DYNAMICS.index(section.dynamic) for section in played.sections])
    steps: IntArray = of_section[played.bar_section[played.bar]]
    steps = steps + ACCENT_STEPS * played.accent + GHOST_STEPS * played.ghost
    return steps


def _level(lowest: int, highest: int) -> LevelDemand:
    return LevelDemand(lowest, highest, (highest - lowest) * DB_A_STEP)


def _level_of_all(limbs: tuple[LimbDemand, ...]) -> LevelDemand | None:
    if not limbs:
        return None
    levels = [limb.level for limb in limbs]
    return _level(min(each.lowest for each in levels), max(each.highest for each in levels))


def _together(played: UnrolledPart) -> tuple[Together, ...]:
    keys = {limb: _place_keys(played, played.limb == n) for n, limb in enumerate(LIMBS)}
    return tuple(
        Together(
            hand=hand,
            foot=foot,
            same_side=hand.split()[0] == foot.split()[0],
            times=int(np.intersect1d(keys[hand], keys[foot], assume_unique=True).size),
        )
        for hand in LIMBS[:2]
        for foot in LIMBS[2:]
    )
