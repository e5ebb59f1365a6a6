"""Tests of velocities."""

import pytest

from loosehand.parts import DYNAMICS
from loosehand.sheets.velocities import (
    VELOCITIES,
    mark_of_velocity,
    nearest_dynamic,
    velocity_of,
)


@pytest.mark.parametrize("dynamic", DYNAMICS)
@pytest.mark.parametrize("marks", [(), ("accent",), ("ghost",)])
def test_marks_come_back_from_velocities(dynamic, marks):
    """In every dynamic an accent, a plain stroke and a ghost note stay apart."""
    velocity = velocity_of(dynamic, marks)
    assert 1 <= velocity <= 127
    assert mark_of_velocity(velocity, plain=VELOCITIES[dynamic]) == marks


@pytest.mark.parametrize("dynamic", DYNAMICS)
def test_a_dynamic_is_nearest_to_itself(dynamic):
    """The velocity of a plain stroke tells its dynamic."""
    assert nearest_dynamic(VELOCITIES[dynamic]) == dynamic
