"""Whether a hand lasts through a tune: the chance, where it most likely ends, and the computation.

What is told rests on simulated tunes (``loosehand.rounds.tune_reserve``). A technique that was
never heard is told of by the stated prior of a hand that nobody knows, and said to be.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.reach.laws import LAWS
from loosehand.reach.reach import Interval, Reach
from loosehand.reach.reserve import RECOVERY_S
from loosehand.reach.seen import hand_rate_factor
from loosehand.rounds.believed_reach import is_heard
from loosehand.rounds.hand_load import HandLoad, fast_stretch, stretches_of
from loosehand.rounds.tune_reserve import HandDraws, Stretches, TunePlayed, play_tune

__all__ = [
    "Lasting",
    "LikelyEnd",
    "SectionReserve",
    "Step",
    "lasting_of",
    "likely_end",
    "section_reserves",
]

FloatArray = NDArray[np.float64]
_HARDLY_EVER = 0.01


@dataclass(frozen=True)
class Step:
    """One line of a computation, for whoever asks how a chance came about.

    Attributes
    ----------
    what : in words
    figure : None where there is none, or no end to it
    unit : of the figure, or what stands in its place
    low80, high80 : bounds with 80 chances in 100, None where there are none
    """

    what: str
    figure: float | None
    unit: str
    low80: float | None = None
    high80: float | None = None


@dataclass(frozen=True)
class SectionReserve:
    """A section: what it asks of the hand, and what is left of the reserve at its end.

    Attributes
    ----------
    name : of the section
    length_s : with its repeats
    rate_bpm : mean while the hand plays, as sixteenths of one hand; 0 where it rests throughout
    rest_s : in which the hand rests
    left : share of the reserve at its end; 0 in tunes that were lost
    """

    name: str
    length_s: float
    rate_bpm: float
    rest_s: float
    left: Interval


@dataclass(frozen=True)
class LikelyEnd:
    """Where the reserve ends most often.

    Attributes
    ----------
    section : its name
    section_place : its place in the part, from 0
    bar : of the section, repeats played out, from 1: the middle one of those in which it ended
    bar_of_tune : the same, from the beginning, from 1
    at_s : seconds from the beginning
    share : share of all tunes that end in this section
    """

    section: str
    section_place: int
    bar: int
    bar_of_tune: int
    at_s: float
    share: float


@dataclass(frozen=True)
class Lasting:
    """Whether a hand lasts.

    Attributes
    ----------
    chance : that the reserve lasts to the end, on a day like any other
    is_known : whether rounds of this technique were heard at all
    beyond_seen : sentences: longer or faster than anything that was heard
    likely_end : None where it hardly ever ends
    sections : in order
    mean_left : mean share of the reserve at the end of the tune, 0 in tunes that were lost
    why : the reason in a sentence or two
    steps : the computation
    """

    chance: float
    is_known: bool
    beyond_seen: tuple[str, ...]
    likely_end: LikelyEnd | None
    sections: tuple[SectionReserve, ...]
    mean_left: float
    why: str
    steps: tuple[Step, ...]


def lasting_of(line: HandLoad, reach: Reach, hand: HandDraws) -> Lasting:
    """Whether a hand lasts with one technique throughout.

    Parameters
    ----------
    line : what the hand plays
    reach : of the technique; one without rounds was never heard
    hand : draws of it
    """
    stretches = stretches_of(line)
    played = play_tune(stretches, [hand])
    run_s, rate_bpm = fast_stretch(stretches)
    run = _Run(run_s, rate_bpm, Interval.of_draws(hand.hold_s(rate_bpm)) if rate_bpm else None)
    end = likely_end(line, played)
    sections = section_reserves(line, stretches, played)
    return Lasting(
        chance=played.chance,
        is_known=is_heard(reach),
        beyond_seen=_beyond_seen(reach, run_s=run_s, rate_bpm=rate_bpm),
        likely_end=end,
        sections=sections,
        mean_left=float(played.left[-1].mean()),
        why=_why(run, end, is_all=run_s > line.end_s - 1.0),
        steps=_steps(line, reach, hand, played, run),
    )


def likely_end(line: HandLoad, played: TunePlayed) -> LikelyEnd | None:
    """Where simulated tunes end most often; None where hardly any does."""
    ended_s = np.sort(played.ended_s[np.isfinite(played.ended_s)])
    if len(ended_s) < _HARDLY_EVER * len(played.ended_s):
        return None
    bar = np.searchsorted(line.bar_start_s, ended_s + 1e-9, side="right") - 1
    first_bars = np.array([each.first_bar for each in line.sections])
    section = np.searchsorted(first_bars, bar, side="right") - 1
    place = int(np.argmax(np.bincount(section)))
    inside = np.flatnonzero(section == place)
    middle = inside[(len(inside) - 1) // 2]
    found = line.sections[place]
    return LikelyEnd(
        section=found.name,
        section_place=place,
        bar=int(bar[middle]) - found.first_bar + 1,
        bar_of_tune=int(bar[middle]) + 1,
        at_s=float(ended_s[middle]),
        share=len(inside) / len(played.ended_s),
    )


def section_reserves(
    line: HandLoad, stretches: Stretches, played: TunePlayed
) -> tuple[SectionReserve, ...]:
    """What each section asks, and what is left after it."""
    found: list[SectionReserve] = []
    for place, section in enumerate(line.sections):
        own = stretches.section == place
        plays = own & (stretches.rate_bpm > 0.0)
        played_s = float(stretches.length_s[plays].sum())
        strokes = float((stretches.length_s * stretches.rate_bpm)[plays].sum())
        found.append(
            SectionReserve(
                name=section.name,
                length_s=float(section.end_s - section.start_s),
                rate_bpm=strokes / played_s if played_s else 0.0,
                rest_s=float(stretches.length_s[own & ~plays].sum()),
                left=Interval.of_draws(played.left[place]),
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class _Run:
    """The longest fast stretch, and for how long its rate is held fresh."""

    length_s: float
    rate_bpm: float
    hold: Interval | None


def _beyond_seen(reach: Reach, *, run_s: float, rate_bpm: float) -> tuple[str, ...]:
    if not is_heard(reach) or not run_s:
        return ()
    told: list[str] = []
    if reach.is_beyond_seen(run_s):
        told.append(
            f"The longest fast stretch is {_seconds(run_s)}, and the longest hold that was "
            f"seen is {_seconds(reach.longest_held_s)}: beyond what was seen."
        )
    fastest_bpm = reach.highest_seen_bpm * hand_rate_factor(reach.kind)
    if rate_bpm > fastest_bpm + 0.5:
        told.append(
            f"Its rate is {rate_bpm:.0f}, and {fastest_bpm:.0f} is the fastest that was heard: "
            "beyond what was seen."
        )
    return tuple(told)


def _why(run: _Run, end: LikelyEnd | None, *, is_all: bool) -> str:
    if run.hold is None:
        return "This hand plays nothing here."
    rests = " Nothing in it lets the hand recover." if is_all else ""
    return (
        f"The longest fast stretch takes {_seconds(run.length_s)} at {run.rate_bpm:.0f}, as "
        f"sixteenths of one hand; fresh, this hand holds that for {_hold_words(run.hold)}."
        f"{rests} {_end_words(end)}"
    )


def _end_words(end: LikelyEnd | None) -> str:
    if end is None:
        return "The reserve hardly ever ends."
    of_tune = "" if end.bar == end.bar_of_tune else f" (bar {end.bar_of_tune} of the tune)"
    return f"Where it ends, it most often ends in {end.section}, around bar {end.bar}{of_tune}."


def _hold_words(hold: Interval) -> str:
    if np.isinf(hold.low80):
        return "as long as it likes"
    if np.isinf(hold.median):
        return f"as long as it likes, or at worst for {_seconds(hold.low80)}"
    if np.isinf(hold.high80):
        return f"{_seconds(hold.median)} ({_seconds(hold.low80)} to without end)"
    return f"{_seconds(hold.median)} ({_seconds(hold.low80)} to {_seconds(hold.high80)})"


def _seconds(time_s: float) -> str:
    if time_s < 1.0:
        return "less than a second"
    if time_s < 300.0:
        return f"{time_s:.0f} s"
    if time_s < 7200.0:
        return f"{time_s / 60.0:.0f} min"
    return "hours"


def _steps(
    line: HandLoad, reach: Reach, hand: HandDraws, played: TunePlayed, run: _Run
) -> tuple[Step, ...]:
    heard = Step("rounds heard of this technique", float(reach.rounds), "rounds")
    steps = [
        Step(f"strokes of the {line.limb}", float(len(line.at_s)), "strokes"),
        Step("length of the tune", line.end_s, "s"),
        Step(
            "longest stretch without rest at four fifths of the highest rate or more",
            run.length_s,
            "s",
        ),
        Step("mean rate in it, as sixteenths of one hand", run.rate_bpm, "counts a minute"),
        heard,
    ]
    if is_heard(reach):
        steps.append(Step("longest hold that was seen", reach.longest_held_s, "s"))
    if run.hold is not None:
        steps.append(_interval_step("time for which that rate is held fresh", run.hold, "s"))
    edge = _edge(hand)
    if edge is not None:
        steps.append(_interval_step("rate held without end", edge, "counts a minute"))
    usual_s, short_s, long_s = RECOVERY_S
    lasted = int(np.isinf(played.ended_s).sum())
    return (
        *steps,
        Step("time constant of recovery in rests, a prior of ours", usual_s, "s", short_s, long_s),
        Step("tunes that were simulated, each on a day of its own", float(len(hand.law)), "tunes"),
        Step("of these the reserve lasted in", float(lasted), "tunes"),
        _interval_step(
            "share of the reserve left at the end", Interval.of_draws(played.left[-1]), ""
        ),
    )


def _edge(hand: HandDraws) -> Interval | None:
    """Rate held without end, from the laws that have one; None where they weigh less."""
    has_edge = hand.law != LAWS.index("log-linear")
    if has_edge.mean() <= 0.5:
        return None
    return Interval.of_draws((hand.minute_bpm - hand.steepness_bpm)[has_edge])


def _interval_step(what: str, found: Interval, unit: str) -> Step:
    """Line of a figure with its bounds; what has no end is None."""
    median, low, high = (
        each if np.isfinite(each) else None for each in (found.median, found.low80, found.high80)
    )
    return Step(what, median, unit if median is not None else "without end", low, high)
