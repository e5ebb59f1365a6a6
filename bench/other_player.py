"""A second, independent player: when and how hard the strokes fall.

Written apart from ``loosehand.players`` so that the ear is judged by more than one view of how
people play. Asynchronies are a sum of first-order autoregressions with time constants of 1.5 to
90 strokes (close to 1/f over the range that matters) and a white part; levels walk likewise.
Ways to lose the click: see ``FAILURES``. Sizes chosen by us within what is published and
measured on people: spread 0.03 to 0.13 of a place, lag-1 correlation of asynchronies positive.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["FAILURES", "Played", "Round", "play"]

FloatArray = NDArray[np.float64]
Generator = np.random.Generator


@dataclass(frozen=True)
class Round:
    """What is to be played.

    ``places`` is counted a count, over both hands; ``failure`` a name in ``FAILURES``.
    """

    tempo_bpm: float
    counts: int
    places: int
    hands: str
    failure: str
    fails_at_count: float
    spread_share: float


@dataclass(frozen=True)
class Played:
    """Strokes: time from the first place, level, hand (0 left, 1 right) and place meant (or -1)."""

    time_s: FloatArray
    level_db: FloatArray
    hand: NDArray[np.int64]
    place: NDArray[np.int64]
    place_shift_ms: FloatArray
    place_level_db: FloatArray


@dataclass(frozen=True)
class _Bend:
    """What a failure does: phase added and spread multiplied by place, and which places sound."""

    phase: FloatArray
    spread: FloatArray
    sounds: NDArray[np.bool_]
    stray: FloatArray


def _wander(rng: Generator, count: int, time_constants: tuple[float, ...]) -> FloatArray:
    """Sum of autoregressions, one for each time constant in strokes, scaled to spread 1."""
    total = np.zeros(count)
    for tau in time_constants:
        keep = float(np.exp(-1.0 / tau))
        noise = rng.standard_normal(count) * np.sqrt(1.0 - keep**2)
        state = float(rng.standard_normal())
        walk = np.empty(count)
        for index in range(count):
            state = keep * state + noise[index]
            walk[index] = state
        total += walk * rng.uniform(0.5, 1.0)
    return total / max(float(np.std(total)), 1e-9)


def _plain(count: int) -> _Bend:
    return _Bend(np.zeros(count), np.ones(count), np.ones(count, dtype=bool), np.zeros(0))


def _slide(rng: Generator, count: int, start: int, sign: float) -> _Bend:
    bend = _plain(count)
    ramp = np.clip((np.arange(count) - start) / rng.uniform(1, 40), 0.0, 1.0)
    bend.phase[:] = sign * np.cumsum(ramp) * rng.uniform(0.01, 0.06)
    return bend


def drags(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Get slower and slide behind the click."""
    return _slide(rng, count, start, 1.0)


def rushes(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Get faster and slide ahead of the click."""
    return _slide(rng, count, start, -1.0)


def halts(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Stop, perhaps after a last fumble."""
    bend = _plain(count)
    bend.sounds[start:] = False
    bend.spread[max(0, start - 3) : start] = rng.uniform(1.0, 3.0)
    return bend


def thins(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Leave out one place of each count, or some at random, staying in place."""
    bend = _plain(count)
    index = np.arange(count)
    if rng.random() < 0.6:
        gone = (index % places == rng.integers(1, places)) & (index >= start)
    else:
        gone = (rng.random(count) < rng.uniform(0.25, 0.5)) & (index >= start)
    bend.sounds[gone] = False
    return bend


def unravels(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Keep the tempo more or less, but the strokes scatter ever more."""
    bend = _plain(count)
    late = np.clip(np.arange(count) - start, 0, None) / places
    bend.spread[:] = np.minimum(np.exp(late * rng.uniform(0.1, 0.6)), 6.0)
    return bend


def stumbles(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Trip, come back off the grid, and find it again or not."""
    bend = _plain(count)
    gap = int(rng.integers(2, 6))
    bend.sounds[start : start + gap] = False
    after = np.clip(np.arange(count) - start - gap, 0, None)
    back = rng.uniform(6, 60) if rng.random() < 0.6 else 1e9
    offset = rng.choice([-1.0, 1.0]) * rng.uniform(0.35, 0.6)
    bend.phase[start + gap :] = (offset * np.exp(-after / back))[start + gap :]
    return bend


def shifts(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Glide by a whole place and lock there, one place wrong."""
    bend = _plain(count)
    length = rng.uniform(6, 30)
    glide = np.clip((np.arange(count) - start) / length, 0.0, 1.0)
    bend.phase[:] = rng.choice([-1.0, 1.0]) * (0.5 - 0.5 * np.cos(np.pi * glide))
    return bend


def regroups(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Fall into another subdivision: threes for fours, or one less."""
    bend = _plain(count)
    first_count = -(-start // places)
    bend.sounds[first_count * places :] = False
    counts_left = count // places - first_count
    if counts_left <= 0:
        return bend
    steps = np.arange(counts_left * (places - 1)) / (places - 1)
    stray = (first_count + steps) * places
    return _Bend(bend.phase, bend.spread, bend.sounds, stray)


def breathes(rng: Generator, count: int, start: int, places: int) -> _Bend:
    """Swing ahead and behind, wider each time."""
    bend = _plain(count)
    late = np.clip(np.arange(count) - start, 0, None)
    swing = np.sin(2 * np.pi * late / (places * rng.uniform(4, 14)))
    bend.phase[:] = swing * np.minimum(late / (places * rng.uniform(10, 30)), 1.0) * 0.9
    return bend


FAILURES: dict[str, Callable[[Generator, int, int, int], _Bend]] = {
    "drags": drags,
    "rushes": rushes,
    "halts": halts,
    "thins": thins,
    "unravels": unravels,
    "stumbles": stumbles,
    "shifts": shifts,
    "regroups": regroups,
    "breathes": breathes,
}


def _profile(rng: Generator, places: int, place_s: float) -> tuple[FloatArray, FloatArray]:
    """Steady timing (s) and level (dB) of the places, each around its own mean."""
    shift_s = rng.normal(0.0, rng.choice([0.002, 0.006]), places)
    shift_s = np.clip(shift_s, -0.12 * place_s, 0.12 * place_s)
    level_db = rng.normal(0.0, rng.choice([0.5, 1.5]), places)
    level_db[0] += rng.choice([0.0, 0.0, 2.0, 5.0])
    return shift_s - shift_s.mean(), level_db - level_db.mean()


def _bounces(rng: Generator, time_s: FloatArray, level_db: FloatArray) -> tuple[FloatArray, ...]:
    """Draw times and levels of bounces: softer strokes soon after a few of the strokes."""
    doubled = rng.random(time_s.size) < rng.choice([0.0, 0.0, 0.004, 0.012])
    delay_s = rng.uniform(0.025, 0.055, int(doubled.sum()))
    softer_db = rng.uniform(6.0, 14.0, int(doubled.sum()))
    return time_s[doubled] + delay_s, level_db[doubled] - softer_db, np.flatnonzero(doubled)


def _levels(rng: Generator, count: int, start: int, places: int) -> FloatArray:
    """Level of each place in dB: a walk, a scatter, a slow decline, a sag before the failure."""
    walk = _wander(rng, count, (20.0, 90.0)) * rng.uniform(0.3, 1.2)
    scatter = rng.standard_normal(count) * rng.uniform(0.6, 2.2)
    decline = -rng.choice([0.0, 2.0, 5.0]) * np.arange(count) / count
    sag = -rng.choice([0.0, 3.0, 6.0]) * np.clip(
        (np.arange(count) - start + 8 * places) / (8 * places), 0.0, 1.0
    )
    return walk + scatter + decline + sag


def _gives_up(rng: Generator, sounds: NDArray[np.bool_], start: int, places: int) -> None:
    """Stop some players a few counts after they lost it."""
    if rng.random() < 0.4:
        sounds[start + int(rng.uniform(2, 12) * places) :] = False


def play(rng: Generator, wanted: Round) -> Played:
    """Play a round: times from the first place on, levels, hands and places meant."""
    count = wanted.counts * wanted.places
    place_s = 60.0 / wanted.tempo_bpm / wanted.places
    start = min(count, round(wanted.fails_at_count * wanted.places))
    failing = wanted.failure in FAILURES and start < count
    bend = FAILURES[wanted.failure](rng, count, start, wanted.places) if failing else _plain(count)
    if failing:
        _gives_up(rng, bend.sounds, start, wanted.places)
    missed = rng.random(count) < rng.choice([0.0, 0.0, 0.003])
    missed[0] = False
    two_hands = wanted.hands == "alternating"
    hand = (
        (np.arange(count) + int(rng.random() < 0.3) + 1) % 2
        if two_hands
        else np.full(count, int(wanted.hands == "right"))
    )
    shift_s, profile_db = _profile(rng, wanted.places, place_s)
    white = rng.uniform(0.3, 0.8)
    noise = (1 - white) * _wander(rng, count, (1.5, 5.0, 20.0, 90.0)) + (
        white * rng.standard_normal(count)
    )
    noise *= wanted.spread_share / max(float(np.std(noise)), 1e-9)
    lead_s = rng.normal(-0.004, 0.01) + (hand == 0) * (rng.normal(0, 0.005) if two_hands else 0.0)
    lead_s = np.clip(lead_s, -0.2 * place_s, 0.2 * place_s)
    index = np.arange(count)
    phase = index + bend.phase + noise * bend.spread
    time_s = phase * place_s + lead_s + shift_s[index % wanted.places]
    level_db = _levels(rng, count, start, wanted.places) + profile_db[index % wanted.places]
    level_db = level_db - (hand == 0) * (rng.uniform(0, 4) if two_hands else 0.0)
    keep = bend.sounds & ~missed
    bounce_s, bounce_db, bounced = _bounces(rng, time_s[keep], level_db[keep])
    stray_s = bend.stray * place_s + float(np.mean(lead_s))
    stray_s = stray_s + rng.normal(0, wanted.spread_share * place_s, stray_s.size)
    stray_hand = (np.arange(stray_s.size) % 2) if two_hands else np.full(stray_s.size, hand[0])
    parts = (
        (time_s[keep], level_db[keep], hand[keep], index[keep]),
        (bounce_s, bounce_db, hand[keep][bounced], np.full(bounce_s.size, -1)),
        (stray_s, _like(rng, level_db, stray_s.size), stray_hand, np.full(stray_s.size, -1)),
    )
    return _in_order(parts, shift_s * 1e3, profile_db)


def _like(rng: Generator, level_db: FloatArray, count: int) -> FloatArray:
    """Levels for strokes off the grid, as spread as those on it."""
    return rng.normal(level_db.mean(), max(float(level_db.std()), 0.5), count)


def _in_order(
    parts: tuple[tuple[NDArray, ...], ...], shift_ms: FloatArray, profile_db: FloatArray
) -> Played:
    """Join the parts by time; of two strokes closer than 15 ms only the first can happen."""
    time_s, level_db, hand, place = (
        np.concatenate([part[column] for part in parts]) for column in range(4)
    )
    order = np.argsort(time_s, kind="stable")
    kept: list[int] = []
    for item in order:
        if not kept or time_s[item] - time_s[kept[-1]] >= 0.015:
            kept.append(int(item))
    pick = np.array(kept, dtype=np.int64)
    return Played(
        time_s[pick],
        level_db[pick],
        hand[pick].astype(np.int64),
        place[pick].astype(np.int64),
        shift_ms,
        profile_db,
    )
