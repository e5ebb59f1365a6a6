"""Whole takes with their truth: a file's bytes, what the ear is told, what was played."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from loosehand.errors import BadNotation
from loosehand.players.codec import encode
from loosehand.players.drums import DrumVoice
from loosehand.players.people import draw_player
from loosehand.players.performance import (
    FAILURES,
    Failure,
    HandAsked,
    Performance,
    recorded_part,
)
from loosehand.players.play import TakePlan, nobody, play
from loosehand.players.recipe import TIERS, Bleed, Recipe, draw_recipe
from loosehand.players.sound import render

__all__ = ["TAKE_TIERS", "UNJUDGEABLE", "Take", "TakeKind", "draw_plan", "make_take"]

Unjudgeable = Literal["clipped", "buried", "wrong tempo", "cut off", "inseparable"]
TakeKind = Literal["played", "nobody", "clipped", "buried", "wrong tempo", "cut off", "inseparable"]
UNJUDGEABLE: tuple[Unjudgeable, ...] = (
    "clipped",
    "buried",
    "wrong tempo",
    "cut off",
    "inseparable",
)
"""Why a take cannot be judged."""
TAKE_TIERS: tuple[str, ...] = (*TIERS, "nobody", "unjudgeable")
"""What ``make_take`` can make."""


@dataclass(frozen=True)
class Take:
    """A take with its truth.

    Attributes
    ----------
    coded : the bytes of the file
    suffix : of the file, with its dot
    tempo_bpm, places_per_count, hand : what the ear is told
    counts_planned : counts of the round as told, or None
    performance : the truth
    kind : "played", "nobody", or why it cannot be judged
    tier : what was asked for
    recipe : how it sounds
    """

    coded: bytes
    suffix: str
    tempo_bpm: float
    places_per_count: int
    hand: HandAsked
    counts_planned: int | None
    performance: Performance
    kind: TakeKind
    tier: str
    recipe: Recipe


def _failure(rng: np.random.Generator) -> Failure | None:
    if rng.random() < 0.25:
        return None
    return FAILURES[int(rng.integers(0, len(FAILURES)))]


def _grid(rng: np.random.Generator) -> tuple[HandAsked, int, float]:
    """Hand, places in a count, and the highest tempo that is asked of them."""
    hands: tuple[HandAsked, ...] = ("left", "right", "alternating")
    hand = hands[int(rng.choice(3, p=[0.4, 0.4, 0.2]))]
    if hand == "alternating":
        places = int(rng.choice([4, 6, 8], p=[0.4, 0.1, 0.5]))
        return hand, places, 140.0
    places = int(rng.choice([4, 3, 6], p=[0.82, 0.11, 0.07]))
    return hand, places, 95.0 if places == 6 else 140.0


def draw_plan(rng: np.random.Generator, *, round_s: float) -> TakePlan:
    """Draw what a round asks and what goes wrong in it.

    Parameters
    ----------
    rng : source of all chance
    round_s : length of the round

    Returns
    -------
    plan : tempo of 60 to 140, any hand, any failure at any count
    """
    hand, places, highest = _grid(rng)
    tempo_bpm = float(rng.integers(60, int(highest) + 1))
    if rng.random() < 0.4:
        tempo_bpm = 5.0 * round(tempo_bpm / 5)
    counts = int(tempo_bpm * round_s / 60)
    return TakePlan(
        tempo_bpm=tempo_bpm,
        places_per_count=places,
        hand=hand,
        counts=counts,
        failure=_failure(rng),
        failure_count=int(rng.integers(0, max(counts - 2, 1))),
        slips=int(rng.choice([0, 1, 2, 3], p=[0.6, 0.2, 0.12, 0.08])),
        count_in_counts=int(rng.choice([4, 8, 2, 0], p=[0.55, 0.2, 0.12, 0.13])),
        downbeat_every=int(rng.choice([0, 2, 3, 4], p=[0.35, 0.1, 0.1, 0.45])),
        clicks_per_count=1,
        before_s=rng.uniform(0.2, 4.0),
        clock_ppm=rng.uniform(-50.0, 50.0),
    )


def make_take(
    tier: str,
    seed: int,
    *,
    round_s: float = 60.0,
    voices: tuple[DrumVoice, DrumVoice] | None = None,
) -> Take:
    """Make a take.

    Parameters
    ----------
    tier : one of TAKE_TIERS
    seed : the same seed gives the same take
    round_s : length of the round
    voices : drums of the left and of the right hand, in place of modelled ones

    Returns
    -------
    take : file, request and truth

    Raises
    ------
    BadNotation    if there is no such tier

    Examples
    --------
    >>> take = make_take("clean_pad", 1, round_s=4.0)
    >>> take.kind, len(take.coded) > 1000
    ('played', True)
    """
    if tier not in TAKE_TIERS:
        raise BadNotation(f"tier = {tier!r}: want one of {', '.join(TAKE_TIERS)}")
    rng = np.random.default_rng([seed, TAKE_TIERS.index(tier)])
    plan = draw_plan(rng, round_s=round_s)
    if tier == "nobody":
        return _nobody(plan, voices, rng)
    if tier == "unjudgeable":
        return _unjudgeable(plan, voices, rng)
    return _finish(tier, "played", _played(plan, rng), draw_recipe(tier, rng), plan, voices, rng)


def _played(plan: TakePlan, rng: np.random.Generator) -> Performance:
    return play(draw_player(rng), plan, rng)


def _finish(
    tier: str,
    kind: TakeKind,
    performance: Performance,
    recipe: Recipe,
    plan: TakePlan,
    voices: tuple[DrumVoice, DrumVoice] | None,
    rng: np.random.Generator,
) -> Take:
    samples, rate = render(performance, recipe, rng, voices=voices)
    performance = performance if recipe.cut_s is None else recorded_part(performance, recipe.cut_s)
    return Take(
        coded=encode(samples, rate, suffix=recipe.file.suffix, bit_rate=recipe.file.bit_rate),
        suffix=recipe.file.suffix,
        tempo_bpm=plan.tempo_bpm,
        places_per_count=plan.places_per_count,
        hand=plan.hand,
        counts_planned=None,
        performance=performance,
        kind=kind,
        tier=tier,
        recipe=recipe,
    )


def _any_tier(rng: np.random.Generator) -> str:
    return TIERS[int(rng.integers(0, len(TIERS)))]


def _with_bleed(tier: str, rng: np.random.Generator) -> tuple[Recipe, Bleed]:
    """Draw a recipe until its click is in the recording."""
    while True:
        recipe = draw_recipe(tier, rng)
        if recipe.bleed is not None:
            return recipe, recipe.bleed


def _nobody(
    plan: TakePlan, voices: tuple[DrumVoice, DrumVoice] | None, rng: np.random.Generator
) -> Take:
    recipe = draw_recipe(_any_tier(rng), rng)
    return _finish("nobody", "nobody", nobody(plan), recipe, plan, voices, rng)


def _unjudgeable(
    plan: TakePlan, voices: tuple[DrumVoice, DrumVoice] | None, rng: np.random.Generator
) -> Take:
    kind = UNJUDGEABLE[int(rng.integers(0, len(UNJUDGEABLE)))]
    if kind == "inseparable":
        plan = replace(plan, clicks_per_count=plan.places_per_count)
    performance = _played(plan, rng)
    recipe = _spoilt(kind, performance, rng)
    told = plan
    if kind == "wrong tempo":
        share = rng.uniform(0.05, 0.25) * rng.choice([-1.0, 1.0])
        told = replace(plan, tempo_bpm=float(round(plan.tempo_bpm * (1 + share))))
    return _finish("unjudgeable", kind, performance, recipe, told, voices, rng)


def _spoilt(kind: Unjudgeable, performance: Performance, rng: np.random.Generator) -> Recipe:
    """Draw how a take sounds that cannot be judged."""
    recipe, bleed = _with_bleed(_any_tier(rng), rng)
    if kind == "clipped":
        return _crushed(recipe, rng)
    if kind == "buried":
        return _buried(recipe, rng)
    if kind == "cut off":
        counts = rng.uniform(0.1, 1.9)
        return replace(
            recipe, cut_s=performance.first_count_s + counts * performance.count_period_s
        )
    if kind == "inseparable":
        same = replace(bleed.click, kind="drum")
        loud = replace(
            bleed,
            click=same,
            level_db=rng.uniform(8.0, 16.0),
            speaker_low_hz=60.0,
            speaker_high_hz=18e3,
            room=recipe.room,
        )
        return replace(recipe, bleed=loud)
    return recipe


def _crushed(recipe: Recipe, rng: np.random.Generator) -> Recipe:
    """So much gain that noise and room fill the scale between the strokes."""
    noise = replace(recipe.noise, pink_db=rng.uniform(-30.0, -20.0), white_db=-30.0)
    return replace(
        recipe,
        noise=noise,
        room=replace(recipe.room, tail_db=max(recipe.room.tail_db, -8.0)),
        peak_dbfs=rng.uniform(50.0, 60.0),
        is_soft_clipped=False,
    )


def _buried(recipe: Recipe, rng: np.random.Generator) -> Recipe:
    """Noise far above the strokes in every band; the click may still come through."""
    level_db = rng.uniform(16.0, 24.0)
    noise = replace(recipe.noise, white_db=level_db, pink_db=level_db)
    return replace(recipe, noise=noise, pumping=None)
