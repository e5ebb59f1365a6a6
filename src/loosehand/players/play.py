"""Playing a round: a player and a plan give a performance with its truth."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.click import ClickRole
from loosehand.errors import BadTempo
from loosehand.players.failing import HandLine, Lost, draw_lost, lose_click, slip
from loosehand.players.people import HandTraits, PlayerTraits, correction_variance
from loosehand.players.performance import Failure, Hand, HandAsked, Performance
from loosehand.players.truth import HandTruth, hand_truth

__all__ = ["TakePlan", "asynchrony_series", "nobody", "play"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
_KNEE_SHARE, _LIMIT_SHARE = 0.16, 0.26
_GROUP = {"singles": 1, "whip fours": 4, "whip threes": 3, "whip twos": 2, "push-pull": 2}


@dataclass(frozen=True)
class TakePlan:
    """What a round asks, and what is to go wrong.

    Attributes
    ----------
    tempo_bpm : counts a minute, as told
    places_per_count : places in a count, of both hands together
    hand : hand asked for
    counts : counts of the round
    failure : how the click is to be lost, or None
    failure_count : count, from 0, in which that begins; None where it is not
    slips : slips to be made before it, which ought to be forgiven
    count_in_counts : clicks before count 1
    downbeat_every : counts between clicks with another sound, 0 for none
    clicks_per_count : 1 for counts alone, more for a click on subdivisions too
    before_s : length of the recording before the first click
    clock_ppm : how much slower the recorder's clock is, parts a million
    """

    tempo_bpm: float
    places_per_count: int
    hand: HandAsked
    counts: int
    failure: Failure | None
    failure_count: int | None
    slips: int
    count_in_counts: int
    downbeat_every: int
    clicks_per_count: int
    before_s: float
    clock_ppm: float


@dataclass(frozen=True)
class _Grid:
    """The grid of one hand: its first place, its own places, and the unit of its spread."""

    first_s: float
    own_place_s: float
    places_per_count: int
    places: int
    end_s: float
    spread_unit_s: float


def asynchrony_series(
    hand: HandTraits, *, places: int, places_per_count: int, rng: np.random.Generator
) -> FloatArray:
    """Asynchrony of a hand that holds the click, lead and place profile apart.

    Parameters
    ----------
    hand : traits
    places, places_per_count : places of this hand
    rng : source of all chance

    Returns
    -------
    late : float array, shape (places,), mean 0 and spread 1 in the long run

    Source
    ------
    Linear phase correction (Vorberg and Wing 1996) plus a first-order slow drift (ours).
    """
    timer = rng.normal(0.0, 1.0, places)
    motor = np.diff(rng.normal(0.0, hand.motor_ratio, places + 1))
    steps = timer + motor
    late = np.empty(places)
    variance = correction_variance(timer=1.0, motor=hand.motor_ratio, correction=hand.correction)
    state = rng.normal(0.0, np.sqrt(variance))
    drift = np.empty(places)
    keep = np.exp(-1.0 / (hand.drift_counts * places_per_count))
    shocks = rng.normal(0.0, np.sqrt(1 - keep**2), places)
    wander = rng.normal()
    for index in range(places):
        state = (1 - hand.correction) * state + steps[index]
        wander = keep * wander + shocks[index]
        late[index], drift[index] = state, wander
    share = hand.drift_share
    series: FloatArray = np.sqrt(1 - share) * late / np.sqrt(variance) + np.sqrt(share) * drift
    return series


def play(player: PlayerTraits, plan: TakePlan, rng: np.random.Generator) -> Performance:
    """Play a round.

    Parameters
    ----------
    player : who plays
    plan : what the round asks and what is to go wrong
    rng : source of all chance

    Returns
    -------
    performance : strokes, clicks and the truth about the hold

    Raises
    ------
    BadTempo    if the tempo, the places or the counts cannot be played

    Examples
    --------
    >>> from loosehand.players.people import draw_player
    >>> rng = np.random.default_rng(1)
    >>> plan = TakePlan(100.0, 4, "left", 20, "stop", 12, 0, 4, 4, 1, 1.0, 0.0)
    >>> play(draw_player(rng), plan, rng).count_held
    12
    """
    _check_plan(plan)
    period_s = 60.0 / plan.tempo_bpm * (1 + plan.clock_ppm * 1e-6)
    first_s = plan.before_s + plan.count_in_counts * period_s
    hands: tuple[Hand, ...] = (
        ("right", "left") if plan.hand == "alternating" else (_one_hand(plan.hand),)
    )
    if plan.hand == "alternating" and rng.random() < 0.3:
        hands = ("left", "right")
    grids = [_hand_grid(plan, first_s, period_s, index, len(hands)) for index in range(len(hands))]
    lost = _draw_failure(plan, grids[0], rng)
    failing = _failing_hands(len(hands), lost, rng)
    slip_hand = int(rng.integers(0, len(hands)))
    lines: list[HandLine] = []
    slips: list[int] = []
    for index, (hand, grid) in enumerate(zip(hands, grids, strict=True)):
        line = _held_line(player, hand, grid, lost, rng)
        if lost is not None and index in failing:
            line = lose_click(line, lost, rng=rng)
        if index == slip_hand:
            line, slips = _add_slips(line, plan, grid, lost, rng)
            slips = [place * len(hands) + index for place in slips]
        lines.append(line)
    truths = [_truth_of(line, grid) for line, grid in zip(lines, grids, strict=True)]
    return _assemble(player, plan, hands, grids, lines, truths, lost, slips, rng)


def _check_plan(plan: TakePlan) -> None:
    if not 20.0 <= plan.tempo_bpm <= 400.0:
        raise BadTempo(f"tempo_bpm = {plan.tempo_bpm}: want 20 to 400")
    if plan.places_per_count < 1 or plan.counts < 1:
        raise BadTempo(
            f"places_per_count = {plan.places_per_count}, counts = {plan.counts}: want 1 or more"
        )
    if plan.hand == "alternating" and plan.places_per_count % 2:
        raise BadTempo(
            f"places_per_count = {plan.places_per_count} cannot be shared by two hands: want even"
        )


def _one_hand(hand: HandAsked) -> Hand:
    return "left" if hand == "left" else "right"


def _hand_grid(plan: TakePlan, first_s: float, period_s: float, index: int, hands: int) -> _Grid:
    place_s = period_s / plan.places_per_count
    per_count = plan.places_per_count // hands
    return _Grid(
        first_s=first_s + index * place_s,
        own_place_s=place_s * hands,
        places_per_count=per_count,
        places=plan.counts * per_count,
        end_s=first_s + plan.counts * period_s,
        spread_unit_s=min(place_s * hands, period_s / 3),
    )


def _draw_failure(plan: TakePlan, grid: _Grid, rng: np.random.Generator) -> Lost | None:
    if plan.failure is None or plan.failure_count is None:
        return None
    place = plan.failure_count * grid.places_per_count
    place += int(rng.integers(0, grid.places_per_count))
    place = min(place, grid.places - 1)
    return draw_lost(plan.failure, place, places_per_count=grid.places_per_count, rng=rng)


def _failing_hands(hands: int, lost: Lost | None, rng: np.random.Generator) -> set[int]:
    """Both hands mostly; one alone where the other can go on without it."""
    alone = lost is not None and lost.failure not in ("slowing", "ahead")
    if hands == 2 and alone and rng.random() < 0.4:
        return {int(rng.integers(0, 2))}
    return set(range(hands))


def _tiring(player: PlayerTraits, grid: _Grid, lost: Lost | None) -> FloatArray:
    """How tired the hand is at each place, 0 to 1."""
    end = grid.places if lost is None else lost.own_place
    length = player.tiring_counts * grid.places_per_count
    return np.clip(1 - (end - np.arange(grid.places)) / length, 0.0, 1.0)


def _limited(share: FloatArray) -> FloatArray:
    """Pull harder the further the hand is off, as one that holds the click does."""
    over = np.maximum(np.abs(share) - _KNEE_SHARE, 0.0)
    room = _LIMIT_SHARE - _KNEE_SHARE
    return np.sign(share) * np.minimum(np.abs(share), _KNEE_SHARE) + np.sign(
        share
    ) * room * np.tanh(over / room)


def _held_line(
    player: PlayerTraits, hand: Hand, grid: _Grid, lost: Lost | None, rng: np.random.Generator
) -> HandLine:
    """Play the line as it would be if the click were never lost."""
    traits = player.left if hand == "left" else player.right
    place = np.arange(grid.places, dtype=np.int64)
    tired = _tiring(player, grid, lost)
    late = asynchrony_series(
        traits, places=grid.places, places_per_count=grid.places_per_count, rng=rng
    )
    share = late * traits.spread_share * (1 + tired * (player.tiring_spread - 1))
    profile_s = traits.place_offset_s[place % grid.places_per_count]
    after_accent = (place % _GROUP[player.technique] == 1) & (player.technique != "singles")
    profile_s = profile_s + np.where(after_accent, player.accent_stretch_s, 0.0)
    profile_s = profile_s - np.median(profile_s)
    share = _limited(share + profile_s / grid.spread_unit_s)
    time_s = grid.first_s + place * grid.own_place_s + traits.lead_s
    return HandLine(
        own_place=place,
        time_s=time_s + share * grid.spread_unit_s,
        level_db=_levels_db(player, traits, grid, tired, rng),
        own_place_s=grid.own_place_s,
        places_per_count=grid.places_per_count,
        end_s=grid.end_s,
    )


def _levels_db(
    player: PlayerTraits,
    traits: HandTraits,
    grid: _Grid,
    tired: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    place = np.arange(grid.places)
    in_group = place % _GROUP[player.technique]
    tap_db = np.where(in_group > 0, -player.accent_db - player.decay_db * (in_group - 1), 0.0)
    wander = np.cumsum(rng.normal(0.0, 0.08, grid.places))
    wander -= np.linspace(0.0, wander[-1], grid.places)
    return (
        traits.level_db
        + traits.place_level_db[place % grid.places_per_count]
        + np.maximum(tap_db, -16.0)
        + rng.normal(0.0, traits.level_spread_db, grid.places)
        + wander
        - player.tiring_level_db * tired
    )


def _add_slips(
    line: HandLine,
    plan: TakePlan,
    grid: _Grid,
    lost: Lost | None,
    rng: np.random.Generator,
) -> tuple[HandLine, list[int]]:
    """Slips far enough apart, from the break and from the ends to be forgiven."""
    apart = 2 * grid.places_per_count + 2
    end = grid.places if lost is None else lost.own_place
    free = np.arange(apart, end - apart)
    chosen: list[int] = []
    for _ in range(plan.slips):
        if free.size == 0:
            break
        place = int(rng.choice(free))
        line = slip(line, place, rng=rng)
        chosen.append(place)
        free = free[np.abs(free - place) > apart]
    return line, sorted(chosen)


def _truth_of(line: HandLine, grid: _Grid) -> HandTruth:
    late = np.full(grid.places, np.nan)
    meant = line.own_place >= 0
    places = line.own_place[meant]
    late[places] = (line.time_s[meant] - grid.first_s) / grid.own_place_s - places
    return hand_truth(late, places_per_count=grid.places_per_count)


@dataclass(frozen=True)
class _Strokes:
    time_s: FloatArray
    level_db: FloatArray
    hand: tuple[Hand, ...]
    place: IntArray


def _assemble(
    player: PlayerTraits,
    plan: TakePlan,
    hands: tuple[Hand, ...],
    grids: list[_Grid],
    lines: list[HandLine],
    truths: list[HandTruth],
    lost: Lost | None,
    slips: list[int],
    rng: np.random.Generator,
) -> Performance:
    strokes = _merge(player, hands, lines, grids, rng)
    good = np.stack([truth.good for truth in truths], axis=1).reshape(-1)
    breaks = [
        truth.first_bad * len(hands) + index
        for index, truth in enumerate(truths)
        if truth.first_bad is not None
    ]
    first_bad = min(breaks, default=None)
    held = plan.counts if first_bad is None else first_bad // plan.places_per_count
    by_count = good.reshape(plan.counts, plan.places_per_count)
    locked: NDArray[np.bool_] = np.logical_and.reduce(by_count, axis=1)
    later = np.flatnonzero(locked)
    period_s = grids[0].own_place_s * grids[0].places_per_count
    click_time_s, click_role = _clicks(plan, grids[0].first_s, period_s)
    return Performance(
        stroke_time_s=strokes.time_s,
        level_db=strokes.level_db,
        stroke_hand=strokes.hand,
        stroke_place=strokes.place,
        first_count_s=grids[0].first_s,
        count_period_s=period_s,
        places_per_count=plan.places_per_count,
        counts_offered=plan.counts,
        hand_asked=plan.hand,
        technique=player.technique,
        failure=None if lost is None else lost.failure,
        failure_place=None if lost is None else lost.own_place * len(hands),
        slip_places=tuple(slips),
        first_bad_place=first_bad,
        clean_counts=int(np.count_nonzero(locked[:held])),
        last_locked_count=max(held, int(later[-1]) + 1 if later.size else 0),
        click_time_s=click_time_s,
        click_role=click_role,
    )


def _merge(
    player: PlayerTraits,
    hands: tuple[Hand, ...],
    lines: list[HandLine],
    grids: list[_Grid],
    rng: np.random.Generator,
) -> _Strokes:
    """All strokes of all hands in order of time, bounces and the closing stroke included."""
    time_s, level_db, hand_index, place = [], [], [], []
    for index, (hand, line) in enumerate(zip(hands, lines, strict=True)):
        traits = player.left if hand == "left" else player.right
        whole = _with_bounces(line, traits.bounce_share, rng)
        if index == 0:
            whole = _with_closing(whole, grids[0], player.closing_chance, rng)
        lost_place = _far_off(whole, grids[index])
        time_s.append(whole.time_s)
        level_db.append(whole.level_db)
        hand_index.append(np.full(whole.time_s.size, index))
        own = np.where(lost_place, -1, whole.own_place)
        place.append(np.where(own < 0, -1, own * len(hands) + index))
    times = np.concatenate(time_s)
    order = np.argsort(times, kind="stable")
    times = _increasing(times[order])
    which = np.concatenate(hand_index)[order]
    return _Strokes(
        time_s=times,
        level_db=np.concatenate(level_db)[order],
        hand=tuple(hands[int(index)] for index in which),
        place=np.concatenate(place)[order].astype(np.int64),
    )


def _far_off(line: HandLine, grid: _Grid) -> NDArray[np.bool_]:
    """Tell the strokes that lie more than half a place from the place they were meant for."""
    late = (line.time_s - grid.first_s) / grid.own_place_s - line.own_place
    far: NDArray[np.bool_] = (line.own_place >= 0) & (np.abs(late) > 0.5)
    return far


def _increasing(time_s: FloatArray) -> FloatArray:
    """No two strokes at the same instant: a tenth of a millisecond at least."""
    gap_s = 1e-4
    index = np.arange(time_s.size)
    shifted: FloatArray = np.maximum.accumulate(time_s - gap_s * index) + gap_s * index
    return shifted


def _with_bounces(line: HandLine, share: float, rng: np.random.Generator) -> HandLine:
    """Double bounces: a softer stroke 25 to 60 ms after, well before the next."""
    size = line.time_s.size
    if share <= 0 or size == 0:
        return line
    after_s = rng.uniform(0.025, 0.060, size)
    room_s: FloatArray = np.diff(line.time_s, append=np.inf)
    bounce = np.logical_and(rng.random(size) < share, after_s < 0.6 * room_s)
    softer_db = rng.uniform(8.0, 20.0, size)
    return line.with_strokes(
        np.concatenate((line.own_place, np.full(int(bounce.sum()), -1))),
        np.concatenate((line.time_s, (line.time_s + after_s)[bounce])),
        np.concatenate((line.level_db, (line.level_db - softer_db)[bounce])),
    )


def _with_closing(line: HandLine, grid: _Grid, chance: float, rng: np.random.Generator) -> HandLine:
    """One more stroke on the count after the round, if the hand still plays."""
    playing = line.time_s.size > 0 and grid.end_s - line.time_s.max() < 2 * grid.own_place_s
    if rng.random() >= chance or not playing:
        return line
    return line.with_strokes(
        np.append(line.own_place, -1),
        np.append(line.time_s, grid.end_s + rng.normal(0.0, 0.01)),
        np.append(line.level_db, rng.uniform(0.0, 4.0)),
    )


def _clicks(
    plan: TakePlan, first_s: float, period_s: float
) -> tuple[FloatArray, tuple[ClickRole, ...]]:
    """Click times and roles, count-in first, to the end of the round."""
    index = np.arange(
        -plan.count_in_counts * plan.clicks_per_count, plan.counts * plan.clicks_per_count
    )
    roles = tuple(_role(int(click), plan) for click in index)
    return (first_s + index * (period_s / plan.clicks_per_count)).astype(np.float64), roles


def _role(click: int, plan: TakePlan) -> ClickRole:
    count, within = divmod(click, plan.clicks_per_count)
    if within:
        return "subdivision"
    if plan.downbeat_every and count % plan.downbeat_every == 0:
        return "downbeat"
    return "count-in" if count < 0 else "count"


def nobody(plan: TakePlan) -> Performance:
    """Let the click run through a round in which nobody plays.

    Parameters
    ----------
    plan : what the round asks

    Returns
    -------
    performance : no strokes, nothing held
    """
    _check_plan(plan)
    period_s = 60.0 / plan.tempo_bpm * (1 + plan.clock_ppm * 1e-6)
    first_s = plan.before_s + plan.count_in_counts * period_s
    click_time_s, click_role = _clicks(plan, first_s, period_s)
    return Performance(
        stroke_time_s=np.zeros(0),
        level_db=np.zeros(0),
        stroke_hand=(),
        stroke_place=np.zeros(0, dtype=np.int64),
        first_count_s=first_s,
        count_period_s=period_s,
        places_per_count=plan.places_per_count,
        counts_offered=plan.counts,
        hand_asked=plan.hand,
        technique="singles",
        failure=None,
        failure_place=None,
        slip_places=(),
        first_bad_place=0,
        clean_counts=0,
        last_locked_count=0,
        click_time_s=click_time_s,
        click_role=click_role,
    )
