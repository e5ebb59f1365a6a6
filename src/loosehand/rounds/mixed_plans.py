"""Plans that mix: another technique by section, bars shared with the other hand, bars thinned out.

Each is priced in chance of lasting and in reserve gained, and says what is lost in the music. The
search is small: techniques are changed section by section as long as that helps; every eighth,
fourth, second or each bar is shared or thinned, of the whole tune or of the section where the hand
most likely ends; of these the mildest that is fairly sure is proposed, else the surest, and beside
it one that changes half as much. Other plans may be as good.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.rounds.hand_load import HandLoad, stretches_of
from loosehand.rounds.tune_reserve import HandDraws, TunePlayed, play_tune
from loosehand.rounds.way_lasting import (
    LikelyEnd,
    SectionReserve,
    likely_end,
    section_reserves,
)

__all__ = ["MixedPlan", "MixedTask", "OtherHand", "SectionPlan", "mixed_plans"]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Change = Literal["shared", "thinned"]

_EVERY = (8, 4, 2, 1)
_SURE = 0.8
"""A plan is fairly sure from this chance on. Ours."""
_WORTH = 0.02
"""A plan that gains less, in chance and in reserve, is not proposed. Ours."""
_SURE_ANYWAY = 1.0 - _WORTH
"""What lasts as surely as this as written has no bars shared or thinned out. Ours."""
_HALF_WORTH = 0.1
"""A milder change is proposed beside a surer one if it gains as much in chance. Ours."""
_ROUNDS_OF_SEARCH = 2
_MOST_PLANS = 6
_MOST_SECTIONS_SEARCHED = 16


@dataclass(frozen=True)
class OtherHand:
    """The hand that does not lead.

    Attributes
    ----------
    line : what it plays as written
    technique, hand : what it would take over with, and its draws; None where it was never heard
    """

    line: HandLoad
    technique: str | None
    hand: HandDraws | None


@dataclass(frozen=True)
class MixedTask:
    """What plans are made from.

    Attributes
    ----------
    line : what the leading hand plays as written
    hands : draws of each technique that may be used
    base : technique of these against which plans are priced
    fit : by technique and section, share of the strokes at which it need not work against its own
        motion, in [0, 1]
    other : the other hand
    """

    line: HandLoad
    hands: Mapping[str, HandDraws]
    base: str
    fit: Mapping[str, Sequence[float]]
    other: OtherHand


@dataclass(frozen=True)
class SectionPlan:
    """What is done in a section.

    Attributes
    ----------
    section : its name
    technique : that is played
    change : shared with the other hand or thinned out, None as written
    every : the last of so many bars is changed; None as written
    """

    section: str
    technique: str
    change: Change | None
    every: int | None


@dataclass(frozen=True)
class MixedPlan:
    """A plan, its price and what it loses.

    Attributes
    ----------
    name : in words
    base : technique that it is compared with, throughout and as written
    sections : what is done in each
    chance : that the reserve lasts to the end, of both hands where bars are shared and both known
    base_chance : of the base
    reserve_gained : mean share of the reserve at the end, over the base's
    other_chance : that the other hand lasts with what it takes over; None where it takes over
        nothing or was never heard
    loses : in the music, in sentences
    likely_end : where the leading hand most likely ends
    reserve : of the leading hand by section
    """

    name: str
    base: str
    sections: tuple[SectionPlan, ...]
    chance: float
    base_chance: float
    reserve_gained: float
    other_chance: float | None
    loses: tuple[str, ...]
    likely_end: LikelyEnd | None
    reserve: tuple[SectionReserve, ...]


@dataclass(frozen=True)
class _Draft:
    """A plan before it is told: a technique a section, a change, and of which section alone."""

    technique: tuple[str, ...]
    change: Change | None = None
    every: int | None = None
    only: str | None = None


@dataclass(frozen=True)
class _Priced:
    draft: _Draft
    played: TunePlayed
    chance: float
    mean_left: float
    other_chance: float | None
    fit: float

    @property
    def score(self) -> float:
        """What the search goes by: chance, fit, reserve, few changes. The weights are ours."""
        changes = _changes(self.draft)
        return self.chance + 0.2 * self.fit + 0.1 * self.mean_left - 0.01 * changes


def mixed_plans(task: MixedTask) -> tuple[MixedPlan, ...]:
    """A few plans that gain something over one technique throughout, the better fitting first.

    Parameters
    ----------
    task : hands of one player, all drawn on the same days

    Returns
    -------
    plans : may be empty: where the base lasts anyway, or nothing helps
    """
    if not len(task.line.at_s):
        return ()
    base = _price(task, _Draft((task.base,) * len(task.line.sections)))
    switched = _switched(task, base)
    found = [switched] if _changes(switched.draft) else []
    changes: tuple[Change, ...] = ("thinned", "shared")
    starts = (base,) if switched is base else (base, switched)
    for start in (each for each in starts if each.chance < _SURE_ANYWAY):
        tried = [each for change in changes for each in _changed(task, start, change)]
        found += [each for each in tried if _gains(each, start)]
    worth = [each for each in found if _gains(each, base) or _fits_better(each, base)]
    worth.sort(key=lambda each: -each.score)
    return tuple(_told(task, each, base) for each in worth[:_MOST_PLANS])


def _gains(plan: _Priced, base: _Priced) -> bool:
    return max(plan.chance - base.chance, plan.mean_left - base.mean_left) > _WORTH


def _fits_better(plan: _Priced, base: _Priced) -> bool:
    return plan.fit > base.fit + _WORTH and plan.chance > base.chance - _WORTH


def _switched(task: MixedTask, base: _Priced) -> _Priced:
    """Change the technique section by section as long as that helps, the longest first."""
    if len(task.hands) < 2:
        return base
    lengths = [float(each.end_s - each.start_s) for each in task.line.sections]
    places = sorted(range(len(lengths)), key=lambda place: -lengths[place])
    best = base
    for _ in range(_ROUNDS_OF_SEARCH):
        before = best
        for place in places[:_MOST_SECTIONS_SEARCHED]:
            for technique in task.hands:
                if technique == best.draft.technique[place]:
                    continue
                mix = list(best.draft.technique)
                mix[place] = technique
                tried = _price(task, _Draft(tuple(mix)))
                if tried.score > best.score + 1e-9:
                    best = tried
        if best is before:
            break
    return best


def _changed(task: MixedTask, start: _Priced, change: Change) -> list[_Priced]:
    """The mildest change that is fairly sure, else the surest; and one of half as many strokes."""
    end = likely_end(task.line, start.played)
    onlys = dict.fromkeys((end.section if end else None, None))
    drafts = [
        replace(start.draft, change=change, every=every, only=only)
        for every in _EVERY
        for only in onlys
    ]
    given = {draft: int((~_plays(task.line, draft)).sum()) for draft in drafts}
    tried: list[_Priced] = []
    for draft in sorted(filter(given.__getitem__, drafts), key=given.__getitem__):
        tried.append(_price(task, draft))
        if tried[-1].chance >= _SURE:
            break
    if not tried:
        return []
    best = max(tried, key=lambda each: each.chance)
    milder = [each for each in tried if 2 * given[each.draft] <= given[best.draft]]
    half = max(milder, key=lambda each: each.chance, default=best)
    worth = half.chance > start.chance + _HALF_WORTH
    return [best, half] if half is not best and worth else [best]


def _price(task: MixedTask, draft: _Draft) -> _Priced:
    used = tuple(dict.fromkeys(draft.technique))
    which = np.array([used.index(each) for each in draft.technique], dtype=np.int64)
    plays = _plays(task.line, draft)
    stretches = stretches_of(task.line, plays=plays, technique=which)
    played = play_tune(stretches, [task.hands[each] for each in used])
    lasts = np.isinf(played.ended_s)
    other_chance = None
    if draft.change == "shared" and task.other.hand is not None:
        taken = _with_taken(task.other.line, task.line, ~plays)
        theirs = play_tune(stretches_of(taken), [task.other.hand])
        other_chance = theirs.chance
        lasts = lasts & np.isinf(theirs.ended_s)
    fit = [task.fit[each][place] for place, each in enumerate(draft.technique)]
    sections = np.array([float(each.end_s - each.start_s) for each in task.line.sections])
    return _Priced(
        draft=draft,
        played=played,
        chance=float(lasts.mean()),
        mean_left=float(played.left[-1].mean()),
        other_chance=other_chance,
        fit=float(np.average(fit, weights=sections)),
    )


def _plays(line: HandLoad, draft: _Draft) -> BoolArray:
    """Which strokes the leading hand keeps.

    Only bars with more than eighths are changed; what falls between the places that stay is given
    away, accents only where the other hand takes them.
    """
    if draft.change is None or draft.every is None:
        return np.ones(len(line.at_s), dtype=np.bool_)
    bars = len(line.bar_start_s)
    is_dense = np.bincount(line.bar, minlength=bars) > line.bar_eighths + 0.5
    first_bar = np.repeat(
        [each.first_bar for each in line.sections], [each.bars for each in line.sections]
    )
    is_last = (np.arange(bars) - first_bar + 1) % draft.every == 0
    is_odd = line.bar_place % 2 == 1
    has_odd = np.bincount(line.bar, weights=is_odd, minlength=bars) > 0
    between = np.where(has_odd[line.bar], is_odd, line.order % 2 == 1)
    is_named = np.repeat(
        [draft.only in (None, each.name) for each in line.sections],
        [each.bars for each in line.sections],
    )
    given = between & (is_dense & is_last & is_named)[line.bar]
    if draft.change == "thinned":
        given &= ~line.is_accent
    return np.asarray(~given)


def _with_taken(own: HandLoad, leading: HandLoad, taken: BoolArray) -> HandLoad:
    """What the other hand plays with the strokes that it takes over."""
    at_s = np.concatenate([own.at_s, leading.at_s[taken]])
    at_s, first = np.unique(np.round(at_s, 9), return_index=True)
    bar = np.concatenate([own.bar, leading.bar[taken]])[first]
    return replace(
        own,
        at_s=at_s,
        bar=bar,
        bar_place=np.concatenate([own.bar_place, leading.bar_place[taken]])[first],
        order=np.arange(len(bar)) - np.searchsorted(bar, bar, side="left"),
        is_accent=np.zeros(len(bar), dtype=np.bool_),
    )


def _told(task: MixedTask, plan: _Priced, base: _Priced) -> MixedPlan:
    draft = plan.draft
    changed = _changed_sections(task.line, draft)
    which = np.zeros(len(draft.technique), dtype=np.int64)
    stretches = stretches_of(task.line, plays=_plays(task.line, draft), technique=which)
    return MixedPlan(
        name=_name(task, draft),
        base=task.base,
        sections=tuple(
            SectionPlan(
                section.name,
                draft.technique[place],
                draft.change if place in changed else None,
                draft.every if place in changed else None,
            )
            for place, section in enumerate(task.line.sections)
        ),
        chance=plan.chance,
        base_chance=base.chance,
        reserve_gained=plan.mean_left - base.mean_left,
        other_chance=plan.other_chance,
        loses=tuple(_losses(task, draft)),
        likely_end=likely_end(task.line, plan.played),
        reserve=section_reserves(task.line, stretches, plan.played),
    )


def _changed_sections(line: HandLoad, draft: _Draft) -> set[int]:
    """Places of the sections in which strokes are given away."""
    bars = line.bar[~_plays(line, draft)]
    first_bars = np.array([each.first_bar for each in line.sections])
    return set((np.searchsorted(first_bars, bars, side="right") - 1).tolist())


def _changes(draft: _Draft) -> int:
    """How often the technique changes."""
    return sum(one != other for one, other in pairwise(draft.technique))


def _name(task: MixedTask, draft: _Draft) -> str:
    """Say a plan in words."""
    by_technique: dict[str, list[str]] = {}
    for section, technique in zip(task.line.sections, draft.technique, strict=True):
        names = by_technique.setdefault(technique, [])
        if section.name not in names:
            names.append(section.name)
    if len(by_technique) == 1:
        words = next(iter(by_technique))
    else:
        words = "; ".join(f"{each} in {', '.join(names)}" for each, names in by_technique.items())
    if draft.change is None or draft.every is None:
        return words
    what = "thinned out"
    if draft.change == "shared":
        what = f"shared with the {task.other.line.limb}"
    where = f" of {draft.only}" if draft.only else ""
    return f"{words}; {_bars_words(draft.every)}{where} {what}"


def _bars_words(every: int) -> str:
    """Name the bars that are changed.

    Examples
    --------
    >>> _bars_words(4), _bars_words(1)
    ('the last of every 4 bars', 'every bar')
    """
    return "every bar" if every == 1 else f"the last of every {every} bars"


def _losses(task: MixedTask, draft: _Draft) -> Iterator[str]:
    """What is lost in the music."""
    if changes := _changes(draft):
        times = "once" if changes == 1 else f"{changes} times"
        yield f"The technique changes {times}, and the sound of the strokes with it."
    given = ~_plays(task.line, draft)
    strokes = int(given.sum())
    bars = len(set(task.line.bar[given].tolist()))
    if draft.change == "thinned":
        yield f"{strokes} strokes are left out, in {_many(bars, 'bar')}; no accent is."
    if draft.change == "shared":
        yield from _sharing_losses(task, given, bars)


def _sharing_losses(task: MixedTask, given: BoolArray, bars: int) -> Iterator[str]:
    line, other = task.line, task.other
    yield (
        f"The {other.line.limb} takes over {int(given.sum())} strokes in {_many(bars, 'bar')}, "
        "and must sound like the other hand there."
    )
    if accents := int((given & line.is_accent).sum()):
        yield f"{_many(accents, 'accent')} of them are its own then."
    their_s = np.round(other.line.at_s, 9)
    taken_s = np.round(line.at_s[given], 9)
    if clashes := int(np.isin(taken_s, their_s).sum()):
        verbs = ("falls", "gives") if clashes == 1 else ("fall", "give")
        yield (
            f"{_many(clashes, 'stroke')} of its own {verbs[0]} on the same places and "
            f"{verbs[1]} way."
        )
    in_bars = np.isin(other.line.bar, np.unique(line.bar[given]))
    if kept := int(in_bars.sum()) - clashes:
        yield f"{_many(kept, 'stroke')} of its own there must be reached in between."
    if other.hand is None:
        yield f"Whether the {other.line.limb} lasts with that is not known: it was not heard."


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
