"""A modelled kit: a voice for every instrument of a part.

Parameters follow rules of thumb about the size of drums and the ringing of cymbals: chosen
without a source, not validated.
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from loosehand.parts import INSTRUMENTS
from loosehand.players.drums import (
    DrumPlan,
    ModelledDrum,
    NoiseBand,
    draw_drum,
    drawn_partials,
    hat_plan,
    planned_drum,
)

__all__ = ["BALANCE_DB", "HAT_FAMILY", "RINGING_HATS", "draw_kit"]

HAT_FAMILY = frozenset({"hat", "half-open hat", "open hat", "foot hat"})
RINGING_HATS = frozenset({"half-open hat", "open hat"})
_HAT_FALLS_S = {"hat": 0.035, "half-open hat": 0.16, "open hat": 0.40, "foot hat": 0.022}
_TOMS_HZ = {"high tom": 170.0, "mid tom": 125.0, "floor tom": 82.0}
_CYMBAL_RINGS_S = {"crash": 1.1, "china": 0.7, "splash": 0.35}
BALANCE_DB: Mapping[str, float] = MappingProxyType(
    {
        "hat": -9.0,
        "half-open hat": -8.0,
        "open hat": -8.0,
        "foot hat": -12.0,
        "ride": -10.0,
        "ride bell": -9.0,
        "crash": -6.0,
        "china": -7.0,
        "splash": -8.0,
        "snare": 0.0,
        "cross-stick": -6.0,
        "high tom": -1.0,
        "mid tom": -1.0,
        "floor tom": 0.0,
        "kick": 3.0,
        "cowbell": -7.0,
        "pad": 0.0,
    }
)
"""Level of an instrument beside the snare when both are struck alike."""


def draw_kit(names: frozenset[str], rng: np.random.Generator) -> dict[str, ModelledDrum]:
    """Draw the drums and cymbals of a kit.

    Parameters
    ----------
    names : which instruments are wanted, keys of INSTRUMENTS
    rng : source of all chance; the same seed gives each instrument the same sound whichever
        others are wanted

    Returns
    -------
    kit : a voice for each
    """
    seeds = dict(zip(INSTRUMENTS, rng.integers(0, 2**32, len(INSTRUMENTS)), strict=True))
    return {
        name: _drum(name, np.random.default_rng(int(seeds[name])))
        for name in INSTRUMENTS
        if name in names
    }


def _drum(name: str, rng: np.random.Generator) -> ModelledDrum:
    if name in ("pad", "snare", "ride"):
        return draw_drum(name, rng)
    if name in _HAT_FALLS_S:
        return planned_drum(name, hat_plan(rng, _HAT_FALLS_S[name]), rng)
    if name in _TOMS_HZ:
        return planned_drum(name, _tom(rng, _TOMS_HZ[name]), rng)
    if name in _CYMBAL_RINGS_S:
        return planned_drum(name, _cymbal(rng, _CYMBAL_RINGS_S[name]), rng)
    plans = {
        "kick": _kick,
        "ride bell": _bell,
        "cross-stick": _cross_stick,
        "cowbell": _cowbell,
    }
    return planned_drum(name, plans[name](rng), rng)


def _kick(rng: np.random.Generator) -> DrumPlan:
    return DrumPlan(
        drawn_partials(rng, (52.0, 160.0), 4, (0.04, 0.14), 8e-4),
        (
            NoiseBand(1500.0, 5000.0, 0.25, 1e-4, 0.004),
            NoiseBand(90.0, 400.0, 0.30, 5e-4, 0.020),
        ),
        0.5,
        0.3,
    )


def _tom(rng: np.random.Generator, low_hz: float) -> DrumPlan:
    return DrumPlan(
        drawn_partials(rng, (low_hz, 3.5 * low_hz), 5, (0.06, 0.30), 4e-4),
        (
            NoiseBand(800.0, 4000.0, 0.25, 1e-4, 0.005),
            NoiseBand(200.0, 900.0, 0.25, 3e-4, 0.030),
        ),
        0.9,
        0.35,
    )


def _cymbal(rng: np.random.Generator, ring_s: float) -> DrumPlan:
    return DrumPlan(
        drawn_partials(rng, (420.0, 11e3), 30, (ring_s / 4, ring_s), 1e-3),
        (
            NoiseBand(2500.0, 14e3, 1.6, 1e-3, ring_s / 2),
            NoiseBand(900.0, 5000.0, 0.8, 5e-4, ring_s / 4),
            NoiseBand(4000.0, 16e3, 0.8, 5e-5, 0.004),
        ),
        min(3.0 * ring_s, 3.0),
        0.3,
    )


def _bell(rng: np.random.Generator) -> DrumPlan:
    return DrumPlan(
        drawn_partials(rng, (780.0, 6500.0), 9, (0.15, 0.75), 2e-4),
        (
            NoiseBand(3000.0, 12e3, 0.5, 5e-5, 0.004),
            NoiseBand(3000.0, 12e3, 0.15, 2e-3, 0.25),
        ),
        2.0,
        0.3,
    )


def _cross_stick(rng: np.random.Generator) -> DrumPlan:
    return DrumPlan(
        drawn_partials(rng, (430.0, 2600.0), 5, (0.008, 0.030), 1e-4),
        (NoiseBand(1500.0, 7000.0, 0.5, 5e-5, 0.004),),
        0.2,
        0.3,
    )


def _cowbell(rng: np.random.Generator) -> DrumPlan:
    return DrumPlan(
        drawn_partials(rng, (560.0, 3200.0), 5, (0.04, 0.16), 1e-4),
        (NoiseBand(2000.0, 9000.0, 0.25, 5e-5, 0.004),),
        0.6,
        0.3,
    )
