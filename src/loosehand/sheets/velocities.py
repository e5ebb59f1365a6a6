"""How hard a stroke is, in MIDI: from dynamic and marks to velocity, and back.

The table is ours: common practice, no source.
"""

from collections.abc import Collection, Mapping
from types import MappingProxyType

from loosehand.parts import Mark

__all__ = ["GRACE_SHARE", "VELOCITIES", "mark_of_velocity", "nearest_dynamic", "velocity_of"]

VELOCITIES: Mapping[str, int] = MappingProxyType(
    {"pp": 36, "p": 48, "mp": 60, "mf": 72, "f": 84, "ff": 96}
)
"""Velocity of a plain stroke."""
ACCENT_STEP = 28
GHOST_SHARE = 0.5
GRACE_SHARE = 0.5


def velocity_of(dynamic: str, marks: Collection[Mark]) -> int:
    """Velocity of a stroke: an accent is 28 above a plain one, a ghost note half of it.

    Examples
    --------
    >>> velocity_of("mf", ()), velocity_of("mf", ("accent",)), velocity_of("mf", ("ghost",))
    (72, 100, 36)
    """
    plain = VELOCITIES[dynamic]
    if "accent" in marks:
        return plain + ACCENT_STEP
    return round(plain * GHOST_SHARE) if "ghost" in marks else plain


def mark_of_velocity(velocity: int, *, plain: int) -> tuple[Mark, ...]:
    """Accent or ghost note, by the half way to what they would be.

    Examples
    --------
    >>> mark_of_velocity(100, plain=72), mark_of_velocity(40, plain=72)
    (('accent',), ('ghost',))
    """
    if velocity >= plain + ACCENT_STEP / 2:
        return ("accent",)
    return ("ghost",) if velocity <= plain * (1 + GHOST_SHARE) / 2 else ()


def nearest_dynamic(velocity: int) -> str:
    """The dynamic whose plain strokes come nearest.

    Examples
    --------
    >>> nearest_dynamic(80)
    'f'
    """
    return min(VELOCITIES, key=lambda dynamic: abs(VELOCITIES[dynamic] - velocity))
