"""Ways of playing a part: what each technique gives and costs, and whether the hand lasts with it.

Several ways may be right. They are ordered by how well they fit, and none is called the only one:
first those that are used at this tempo and on this surface, then by the chance of lasting times the
share of strokes at which the hand need not work against its own motion (ours).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from loosehand.parts.demand import Demand, TechniqueDemand, demand_of
from loosehand.parts.part import Bar, Limb, Part, Section
from loosehand.parts.techniques import TECHNIQUES, WEAK_KINDS, Technique
from loosehand.parts.unroll import UnrolledPart, unrolled
from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind
from loosehand.rounds.believed_reach import is_heard, reach_of_nobody
from loosehand.rounds.hand_load import HandLoad, hand_load
from loosehand.rounds.mixed_plans import MixedPlan, MixedTask, OtherHand, mixed_plans
from loosehand.rounds.tune_reserve import HandDraws, hand_draws
from loosehand.rounds.way_lasting import Lasting, lasting_of

__all__ = [
    "LOUDNESS_OF_DYNAMIC",
    "Way",
    "WaysOfPlaying",
    "kind_asked",
    "other_kind_asked",
    "ways_of_playing",
]

LOUDNESS_OF_DYNAMIC: Mapping[str, str] = {
    "pp": "soft",
    "p": "soft",
    "mp": "medium",
    "mf": "medium",
    "f": "loud",
    "ff": "loud",
}
"""Loudness of the chart that a dynamic of a part stands for. Ours."""

_FOUR_PLACES = 4
_MINUTE_S = 60.0
_SIXTEENTHS_A_MINUTE = 15.0


@dataclass(frozen=True)
class Way:
    """One technique, throughout the tune.

    Attributes
    ----------
    technique : its name
    why_not : why it is not used at this tempo or on this surface; empty where it is
    heard : how it is known whether this hand lasts with it
    gives, costs : in general and in this part
    drives_a_second : in the fastest run; None without one
    against : share of the strokes at which the hand works against its own motion
    lasting : the chance, where it ends, and how that was worked out
    price : what the part asks of the technique, stroke of the drive by stroke
    """

    technique: str
    why_not: tuple[str, ...]
    heard: tuple[str, ...]
    gives: tuple[str, ...]
    costs: tuple[str, ...]
    drives_a_second: float | None
    against: float
    lasting: Lasting
    price: TechniqueDemand


@dataclass(frozen=True)
class WaysOfPlaying:
    """All ways of playing a part.

    Attributes
    ----------
    hand : that leads, None where no hand plays
    surface : which it strikes most
    loudness : soft, medium or loud, by the dynamic under most of the tune
    asks : what the part asks of that hand, in sentences
    ways : those that fit better first
    mixed : plans that mix, likewise; may be empty
    notes : what to know with it
    """

    hand: str | None
    surface: str | None
    loudness: str | None
    asks: tuple[str, ...]
    ways: tuple[Way, ...]
    mixed: tuple[MixedPlan, ...]
    notes: tuple[str, ...]


def kind_asked(part: Part, demand: Demand) -> HandKind | None:
    """What a chart must tell of for this part: hand, surface, loudness; None without a hand."""
    if demand.leading_hand is None:
        return None
    hand = demand.leading_hand.split()[0]
    return HandKind(hand, None, demand.main_surface, _loudness(part, demand), _FOUR_PLACES)


def other_kind_asked(part: Part, demand: Demand) -> HandKind | None:
    """The same of the hand that may take over strokes of the leading one."""
    kind = kind_asked(part, demand)
    if kind is None:
        return None
    return replace(kind, hand="left" if kind.hand == "right" else "right")


def ways_of_playing(
    part: Part,
    demand: Demand,
    reaches: Mapping[str, Reach | None],
    *,
    other: Mapping[str, Reach | None] | None = None,
    techniques: Mapping[str, Technique] = TECHNIQUES,
) -> WaysOfPlaying:
    """Every technique for the leading hand, and plans that mix.

    Parameters
    ----------
    part : one that four limbs can play
    demand : of the part, with the same techniques
    reaches : of the leading hand by technique; None, or one without rounds, where it was not heard
        on this surface
    other : likewise of the other hand, for bars that are shared; None where nothing is known
    techniques : by name; our own table, or a teacher's

    Raises
    ------
    InputError   if the tune is longer than four hours
    """
    kind = kind_asked(part, demand)
    if kind is None or demand.leading_hand is None:
        note = "No hand plays in this part, so there is nothing to choose."
        return WaysOfPlaying(None, None, None, (), (), (), (note,))
    tune = unrolled(part)
    line = hand_load(tune, demand.leading_hand)
    known = {name: reaches.get(name) or reach_of_nobody() for name in techniques}
    draws = _draws_of(known)
    by_name = {each.technique: each for each in demand.techniques}
    ways = [
        _way(
            technique,
            _Asked(by_name[technique.name], kind, len(line.at_s), demand.tempo_asked_bpm),
            known[name],
            lasting_of(line, known[name], draws[name]),
        )
        for name, technique in techniques.items()
    ]
    ways.sort(key=_fit, reverse=True)
    mixed = mixed_plans(_mixed_task(part, _Known(tune, line, techniques, draws), ways, other))
    return WaysOfPlaying(
        hand=demand.leading_hand,
        surface=demand.main_surface,
        loudness=kind.loudness,
        asks=tuple(_asks(demand)),
        ways=tuple(ways),
        mixed=mixed,
        notes=tuple(_notes(ways)),
    )


def _loudness(part: Part, demand: Demand) -> str:
    """Loudness under most of the leading hand's strokes."""
    strokes: dict[str, int] = {}
    dynamic = "mf"
    for section, asked in zip(part.sections, demand.sections, strict=True):
        dynamic = section.dynamic or dynamic
        loudness = LOUDNESS_OF_DYNAMIC[dynamic]
        strokes[loudness] = strokes.get(loudness, 0) + asked.strokes
    return max(strokes, key=strokes.__getitem__)


def _draws_of(known: Mapping[str, Reach]) -> dict[str, HandDraws]:
    """Draws of every reach; reaches that are one and the same are drawn once."""
    once = {id(reach): hand_draws(reach) for reach in known.values()}
    return {name: once[id(reach)] for name, reach in known.items()}


def _fit(way: Way) -> tuple[bool, float]:
    return not way.why_not, way.lasting.chance * (1.0 - way.against)


@dataclass(frozen=True)
class _Asked:
    """What the part asks of a technique, on what, of how many strokes, how fast."""

    demand: TechniqueDemand
    kind: HandKind
    strokes: int
    tempo_bpm: float | None

    def drives_a_second(self, technique: Technique) -> float | None:
        """In the fastest of the sections' longest runs."""
        if self.tempo_bpm is None:
            return None
        return self.tempo_bpm / _SIXTEENTHS_A_MINUTE / technique.strokes_per_drive


def _way(technique: Technique, asked: _Asked, reach: Reach, lasting: Lasting) -> Way:
    demand = asked.demand
    return Way(
        technique=technique.name,
        why_not=demand.why_not,
        heard=tuple(_heard(reach, asked.kind)),
        gives=(technique.gives, *_gives_here(technique, asked)),
        costs=(technique.costs, *_costs_here(technique, demand)),
        drives_a_second=asked.drives_a_second(technique),
        against=demand.best.cost / asked.strokes,
        lasting=lasting,
        price=demand,
    )


def _heard(reach: Reach, kind: HandKind) -> Iterator[str]:
    """How it is known what the hand holds."""
    where = f" on the {kind.surface}" if kind.surface else ""
    if not is_heard(reach):
        yield f"Not heard yet{where}: the chance rests on what is believed beforehand."
        yield from reach.notes
        return
    last = "" if reach.last_day is None else f", the last on {reach.last_day}"
    heard_on = reach.kind.surface
    place = f" on the {heard_on}" if heard_on else ""
    yield f"{_many(reach.rounds, 'round')} heard{place}{last}."
    if heard_on != kind.surface:
        yield f"Not heard yet{where}."
    own = reach.kind.loudness
    if own is not None and kind.loudness is not None and own != kind.loudness:
        yield f"They were played {own}, and this part is {kind.loudness}."


def _gives_here(technique: Technique, asked: _Asked) -> Iterator[str]:
    best = asked.demand.best
    drives = asked.drives_a_second(technique)
    if drives is not None:
        yield f"{drives:.1f} drives a second in the fastest run."
    if accents := best.accents_given + best.accents_fought:
        start = (
            f" where each {best.starts_with} starts on stroke {best.first_stroke + 1} of the drive"
        )
        where = start if len(asked.demand.starts) > 1 else ""
        yield f"{best.accents_given} of {_many(accents, 'accent')} come for nothing{where}."


def _costs_here(technique: Technique, asked: TechniqueDemand) -> Iterator[str]:
    best = asked.best
    yield from (f"{reason[0].upper()}{reason[1:]}." for reason in asked.why_not)
    if best.accents_fought:
        yield f"{_many(best.accents_fought, 'accent')} must be fought for."
    if best.held_back:
        yield f"{_many(best.held_back, 'stroke')} would stand out unasked and must be held back."
    weak = ", ".join(dict.fromkeys(kind for kind in technique.cycle if kind in WEAK_KINDS))
    meets = {"the backbeat": best.weak_on_backbeat, "a kick": best.weak_on_kick}
    if told := " and ".join(f"{n} with {what}" for what, n in meets.items() if n):
        yield f"Of its weak strokes ({weak}), {told} must be kept up under a louder one."


def _asks(demand: Demand) -> Iterator[str]:
    """What the part asks of the leading hand."""
    strokes = sum(each.strokes for each in demand.sections)
    yield (
        f"The {demand.leading_hand} leads: {_many(strokes, 'stroke')} in "
        f"{_length(demand.duration_s)}, mostly on the {demand.main_surface}."
    )
    if demand.tempo_asked_bpm is not None:
        tempo_bpm = demand.tempo_asked_bpm
        yield f"Its fastest run is as fast as sixteenths of one hand at {tempo_bpm:.0f}."
    run = demand.longest_run
    if run is not None:
        yield (
            f"Its longest unbroken run has {_many(run.strokes, 'stroke')}, from bar "
            f"{run.start.bar} of {run.start.section}."
        )
    if demand.accents or demand.backbeats or demand.kicks:
        met = {"the backbeat": demand.backbeats, "a kick": demand.kicks}
        accents = _many(demand.accents, "accent") if demand.accents else "no accent"
        told = " and ".join(
            f"{what} {_many(times, 'time')}" for what, times in met.items() if times
        )
        yield f"It has {accents}{f', and meets {told}' if told else ''}."
    level = demand.level_of_hand
    if level is not None and level.range_db > 0.0:
        yield (
            f"From its softest to its loudest stroke it asks for {level.range_db:.0f} dB, as we "
            "assume."
        )
    if times := sum(each.times for each in demand.re_entries):
        yield f"It comes back {_many(times, 'time')} after a rest or another surface."


def _notes(ways: list[Way]) -> Iterator[str]:
    if not any(way.lasting.is_known for way in ways):
        yield "No technique of this hand was heard on this surface: all chances are wide beliefs."
    yield (
        "How fast a reserve comes back is a belief of ours, not measured. That one reserve serves "
        "all techniques is one too. The reach is of even strokes: accents cost more than it says."
    )


@dataclass(frozen=True)
class _Known:
    """The tune, the leading hand's strokes, and what that hand holds by technique."""

    tune: UnrolledPart
    line: HandLoad
    techniques: Mapping[str, Technique]
    draws: Mapping[str, HandDraws]


def _mixed_task(
    part: Part, known: _Known, ways: list[Way], other: Mapping[str, Reach | None] | None
) -> MixedTask:
    """Mix the techniques that were heard; where none was, only the one that fits best."""
    usable = [way.technique for way in ways if way.lasting.is_known and not way.why_not]
    usable = usable or [way.technique for way in ways if way.lasting.is_known]
    usable = usable or [ways[0].technique]
    chosen = {name: known.techniques[name] for name in usable}
    return MixedTask(
        line=known.line,
        hands={name: known.draws[name] for name in usable},
        base=usable[0],
        fit=_fit_by_section(part, known.line.limb, chosen),
        other=_other_hand(known, other),
    )


def _other_hand(known: _Known, other: Mapping[str, Reach | None] | None) -> OtherHand:
    """The hand that does not lead, with the technique in which it holds most for a minute."""
    line = hand_load(known.tune, "left hand" if known.line.limb == "right hand" else "right hand")
    heard = {name: each for name, each in (other or {}).items() if each is not None}
    heard = {name: each for name, each in heard.items() if is_heard(each)}
    if not heard:
        return OtherHand(line, None, None)
    best = max(heard, key=lambda name: heard[name].tempo_held_bpm(_MINUTE_S).median)
    return OtherHand(line, best, hand_draws(heard[best]))


def _fit_by_section(
    part: Part, hand: Limb, techniques: Mapping[str, Technique]
) -> dict[str, list[float]]:
    """Share of each section's strokes at which a technique need not fight its own motion."""
    found: dict[str, list[float]] = {name: [] for name in techniques}
    seen: dict[Section, dict[str, float]] = {}
    for section in part.sections:
        bars = tuple(_only(bar, hand) for bar in section.bars)
        alone = Section("alone", bars, times=1, dynamic=None, tempo_bpm=None)
        if alone not in seen:
            asked = demand_of(replace(part, sections=(alone,)), techniques=techniques)
            strokes = sum(each.strokes for each in asked.sections)
            seen[alone] = {
                each.technique: 1.0 - each.best.cost / strokes for each in asked.techniques
            }
        for name, fit in found.items():
            fit.append(seen[alone].get(name, 1.0))
    return found


def _only(bar: Bar, hand: Limb) -> Bar:
    """Keep a hand's strokes of a bar."""
    return replace(bar, strokes=tuple(each for each in bar.strokes if each.limb == hand))


def _length(time_s: float) -> str:
    """Say a length in minutes and seconds.

    Examples
    --------
    >>> _length(45.2), _length(185.0)
    ('45 s', '3 min 5 s')
    """
    minutes, seconds = divmod(round(time_s), 60)
    return f"{minutes} min {seconds} s" if minutes else f"{seconds} s"


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
