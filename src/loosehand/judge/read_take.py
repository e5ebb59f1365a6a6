"""From what was heard to the reading of a take."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.band_levels import with_levels_by_band
from loosehand.hear.heard import Background, CountGrid, Heard, ListenRequest, Strokes
from loosehand.judge.alignment import NO_STROKE
from loosehand.judge.confidence import chance_within_one
from loosehand.judge.ending import how_it_ended
from loosehand.judge.evenness import (
    Evenness,
    HandsEvenness,
    HeldStrokes,
    interlock,
    measure_evenness,
    measure_hands,
)
from loosehand.judge.hands import (
    Alternation,
    HandNames,
    alternate,
    lean_of_sound,
    name_hands,
)
from loosehand.judge.hold import LEEWAY, Hold, HoldGrid, judge_hold
from loosehand.judge.reading import Ending, Reading, StrokePlaces
from loosehand.judge.technique import HandsTechnique, TechniqueHeard, hear_technique
from loosehand.judge.tiring import Tiring, find_tiring
from loosehand.judge.unheard import audibility_db, chance_missed, presumed_played
from loosehand.judge.variability import SplitRequest

__all__ = ["JudgedHand", "judge_hands", "read_take"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
OneHand = Literal["left", "right"]

_DOUBTFUL = 0.3
_GALLOP_NOTE = "Held, but it gallops: the places of the count are uneven; see the place profile."
_PRESUMED_NOTE = (
    "At {} places no stroke was heard, and none would have been over what else sounds there; "
    "they are taken as played."
)
_RELATIVE_NOTE = (
    "No click was heard, so the grid is taken from the strokes and asynchrony is relative."
)


@dataclass(frozen=True)
class JudgedHand:
    """One hand's strokes, by their index in the take, and its hold."""

    strokes: IntArray
    grid: HoldGrid
    hold: Hold
    first_place: int
    """Place of both hands together at which this hand's grid starts."""
    stride: int
    """Places of both hands together from one place of this hand to the next."""
    presumed: NDArray[np.bool_]
    """Places taken as played though no stroke was heard there."""


def read_take(
    heard: Heard, request: ListenRequest, *, leads_with: OneHand, measurement_sd_s: float
) -> Reading:
    """Judge a take.

    Parameters
    ----------
    heard : what the ear says
    request : what was asked of it
    leads_with : the hand that plays place 0 in an alternating take
    measurement_sd_s : standard deviation of the ear's error in a stroke's time

    Returns
    -------
    reading : the reading, judged or with the reason why not
    """
    if heard.quality.refusal is not None:
        return _not_judged(heard, request)
    if heard.grid is None:
        return _nobody_plays(heard, request)
    split = _split_request(heard.grid, measurement_sd_s)
    judged, told = judge_hands(heard, request)
    strokes = with_levels_by_band(heard.strokes, [hand.strokes for hand in judged])
    heard = replace(heard, strokes=strokes)
    if told is not None:
        return _read_alternating(heard, request, judged, told, leads_with, split)
    (whole,) = judged
    held = _held(heard.strokes, whole)
    hand = None if request.hand == "alternating" else request.hand
    names = (hand,) * len(heard.strokes)
    return _reading(
        heard,
        request,
        [whole],
        names=names,
        evenness=measure_evenness(held, split_request=split),
        hands=None,
        technique=hear_technique(held),
        tiring=find_tiring(held),
        notes=(),
    )


def judge_hands(
    heard: Heard, request: ListenRequest
) -> tuple[list[JudgedHand], Alternation | None]:
    """Judge each hand on its own grid; the leading one first.

    Parameters
    ----------
    heard : what the ear says; its grid must be there
    request : what was asked of it

    Returns
    -------
    judged : one hand, or both of an alternating take
    told : whose strokes they are, None unless the take is alternating
    """
    grid, strokes = heard.grid, heard.strokes
    assert grid is not None, "hands are judged on a grid"
    if request.hand != "alternating":
        return [_judge_one(heard, grid, np.arange(len(strokes)), 0, 1)], None

    def told_with(lean: FloatArray | None) -> tuple[list[JudgedHand], Alternation]:
        told = alternate(
            strokes.time_s, place_s=grid.place_s, first_place_s=grid.first_count_s, lean=lean
        )
        return [_judge_one(heard, grid, told.of(side), side, 2) for side in (0, 1)], told

    judged, told = told_with(None)
    lean = lean_of_sound(
        told,
        sound_db=np.column_stack((strokes.level_db, strokes.timbre_db)),
        held_strokes=_strokes_before_break(strokes, judged),
    )
    return (judged, told) if lean is None else told_with(lean)


def _split_request(grid: CountGrid, measurement_sd_s: float) -> SplitRequest:
    """The click sounds at every count."""
    return SplitRequest(
        places_per_count=grid.places_per_count,
        click_every_places=grid.places_per_count,
        click_phase_places=0,
        measurement_sd_s=measurement_sd_s,
    )


def _judge_one(
    heard: Heard, grid: CountGrid, index: IntArray, first_place: int, stride: int
) -> JudgedHand:
    """Judge the strokes ``index`` on every ``stride``-th place from ``first_place`` on."""
    own = grid.places_per_count // stride
    place_s = grid.place_s * stride
    hold_grid = HoldGrid(
        first_place_s=grid.first_count_s + first_place * grid.place_s,
        place_s=place_s,
        places=grid.counts_offered * own,
        places_per_count=own,
        leeway=LEEWAY,
    )
    own_strokes = heard.strokes.some(index)
    hold = judge_hold(own_strokes.time_s, hold_grid)
    presumed = _presumed(own_strokes, hold, hold_grid, heard.background)
    if np.any(presumed):
        hold = judge_hold(own_strokes.time_s, hold_grid, presumed=presumed)
    return JudgedHand(index, hold_grid, hold, first_place, stride, presumed)


def _presumed(
    strokes: Strokes, hold: Hold, grid: HoldGrid, background: Background | None
) -> NDArray[np.bool_]:
    """Places that the recording may have hidden, and that were most likely played."""
    empty = hold.stroke_of_place == NO_STROKE
    if background is None or not len(strokes):
        return np.zeros(grid.places, dtype=np.bool_)
    place_of_stroke = (strokes.time_s - grid.first_place_s - hold.lead_s) / grid.place_s
    figure = np.round(place_of_stroke).astype(np.int64) % grid.places_per_count
    due_s = grid.first_place_s + hold.lead_s + grid.place_s * np.arange(grid.places, dtype=float)
    missed = chance_missed(audibility_db(strokes, figure, due_s, background))
    # A faint sound off its place may be no stroke: then nothing was heard there.
    has = np.flatnonzero(~empty)
    doubt = np.zeros(grid.places)
    doubt[has] = 1.0 - strokes.confidence[hold.stroke_of_place[has]]
    faint = ~hold.good & (doubt > _DOUBTFUL)
    missed[faint] = np.maximum(missed[faint], np.minimum(doubt[faint], 0.5))
    return presumed_played(hold.good, empty | faint, missed, places_per_count=grid.places_per_count)


def _held(strokes: Strokes, judged: JudgedHand) -> HeldStrokes:
    """Strokes of one hand that were matched before its break."""
    hold, grid = judged.hold, judged.grid
    place = np.flatnonzero(hold.stroke_of_place[: hold.held_places] != NO_STROKE)
    index = judged.strokes[hold.stroke_of_place[place]]
    place_at_s = grid.first_place_s + grid.place_s * place
    return HeldStrokes(
        place_index=place,
        time_s=strokes.time_s[index],
        asynchrony_s=strokes.time_s[index] - place_at_s,
        level_db=strokes.level_db[index],
        places_per_count=grid.places_per_count,
        place_s=grid.place_s,
    )


def _read_alternating(
    heard: Heard,
    request: ListenRequest,
    hands: list[JudgedHand],
    told: Alternation,
    leads_with: OneHand,
    split: SplitRequest,
) -> Reading:
    """Read a take of two hands: the hold ends when either loses the click."""
    names, note = name_hands(
        told, leads_with=leads_with, held_strokes=_strokes_before_break(heard.strokes, hands)
    )
    held = [_held(heard.strokes, hand) for hand in hands]
    left, right = held if leads_with == "left" else held[::-1]
    technique = HandsTechnique(hear_technique(left), hear_technique(right))
    soonest = min(range(2), key=lambda side: hands[side].hold.count_held)
    return _reading(
        heard,
        request,
        hands,
        names=names,
        evenness=measure_evenness(interlock(held[0], held[1]), split_request=split),
        hands=measure_hands(left, right) if note is None else None,
        technique=technique if note is None else None,
        tiring=find_tiring(held[soonest]),
        notes=() if note is None else (note,),
    )


def _strokes_before_break(strokes: Strokes, hands: list[JudgedHand]) -> int:
    """How many strokes come before either hand loses the click."""
    breaks_s = [
        hand.grid.first_place_s + hand.grid.place_s * (hand.hold.first_bad_place - 0.5)
        for hand in hands
        if hand.hold.first_bad_place is not None
    ]
    return int(np.searchsorted(strokes.time_s, min(breaks_s, default=np.inf)))


def _reading(
    heard: Heard,
    request: ListenRequest,
    judged: list[JudgedHand],
    *,
    names: HandNames,
    evenness: Evenness | None,
    hands: HandsEvenness | None,
    technique: TechniqueHeard | HandsTechnique | None,
    tiring: Tiring | None,
    notes: tuple[str, ...],
) -> Reading:
    grid = heard.grid
    assert grid is not None, "a judged take has a grid"
    first = min(judged, key=lambda hand: hand.hold.count_held)
    count_held = first.hold.count_held
    if any(hand.hold.gallops for hand in judged):
        notes = (*notes, _GALLOP_NOTE)
    presumed = sum(int(np.count_nonzero(_presumed_in_hold(hand))) for hand in judged)
    if presumed:
        notes = (*notes, _PRESUMED_NOTE.format(presumed))
    if grid.source == "strokes":
        notes = (*notes, _RELATIVE_NOTE)
    good = np.all([_good_counts(hand) for hand in judged], axis=0)
    locked = np.flatnonzero(good)
    return Reading(
        tempo_bpm=request.tempo_bpm if request.tempo_bpm is not None else grid.tempo_bpm,
        places_per_count=request.places_per_count,
        hand=request.hand,
        grid=grid,
        strokes=heard.strokes,
        places=_places(heard.strokes, grid, judged, names),
        count_held=count_held,
        last_locked_count=max(count_held, int(locked[-1]) + 1 if locked.size else 0),
        clean_counts=int(np.count_nonzero(good[:count_held])),
        ended=_ending(heard.strokes, grid, first, request),
        confidence=chance_within_one(
            heard, [(hand.grid, hand.hold, hand.strokes) for hand in judged]
        ),
        evenness=evenness,
        hands=hands,
        technique=technique,
        tiring=tiring,
        quality=replace(heard.quality, notes=(*heard.quality.notes, *notes)),
    )


def _presumed_in_hold(judged: JudgedHand) -> NDArray[np.bool_]:
    empty = judged.hold.stroke_of_place == NO_STROKE
    return np.asarray((judged.presumed & empty)[: judged.hold.held_places])


def _good_counts(judged: JudgedHand) -> NDArray[np.bool_]:
    """Which counts have every place good."""
    own = judged.grid.places_per_count
    whole: NDArray[np.bool_] = np.all(judged.hold.good.reshape(-1, own), axis=1)
    return whole


def _ending(
    strokes: Strokes, grid: CountGrid, judged: JudgedHand, request: ListenRequest
) -> Ending:
    ended = how_it_ended(strokes.time_s[judged.strokes], judged.grid, judged.hold)
    planned = request.counts_planned
    if ended == "held to the end" and planned is not None and planned > grid.counts_offered:
        return "recording ended"
    return ended


def _places(
    strokes: Strokes, grid: CountGrid, judged: list[JudgedHand], names: HandNames
) -> StrokePlaces:
    """Place, asynchrony and hand of every stroke."""
    place_index = np.full(len(strokes), -1, dtype=np.int64)
    for hand in judged:
        own = np.flatnonzero(hand.hold.stroke_of_place != NO_STROKE)
        stroke = hand.strokes[hand.hold.stroke_of_place[own]]
        place_index[stroke] = hand.first_place + hand.stride * own
    place_s = grid.first_count_s + place_index * grid.place_s
    lateness = np.where(place_index >= 0, strokes.time_s - place_s, 0.0)
    return StrokePlaces(place_index=place_index, asynchrony_s=lateness, hand=names)


def _nowhere(strokes: Strokes) -> StrokePlaces:
    size = len(strokes)
    return StrokePlaces(np.full(size, -1, dtype=np.int64), np.zeros(size), (None,) * size)


def _not_judged(heard: Heard, request: ListenRequest) -> Reading:
    """A take that can't be judged: the reason is in the notes."""
    return Reading(
        tempo_bpm=request.tempo_bpm,
        places_per_count=request.places_per_count,
        hand=request.hand,
        grid=heard.grid,
        strokes=heard.strokes,
        places=_nowhere(heard.strokes),
        count_held=None,
        last_locked_count=None,
        clean_counts=None,
        ended="not judged",
        confidence=None,
        evenness=None,
        hands=None,
        technique=None,
        tiring=None,
        quality=heard.quality,
    )


def _nobody_plays(heard: Heard, request: ListenRequest) -> Reading:
    """No strokes at all: nought is held."""
    return replace(
        _not_judged(heard, request),
        count_held=0,
        last_locked_count=0,
        clean_counts=0,
        ended="stopped",
    )
