"""Cycles of a technique laid over a hand's line."""

import numpy as np
import pytest

from loosehand.parts.demand_cycles import (
    CycleCost,
    Meetings,
    accent_places,
    cycle_costs,
    least_cost,
    phase_demands,
)
from loosehand.parts.demand_runs import hand_line
from loosehand.parts.techniques import TECHNIQUES
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled


def costs_of(pattern, technique, *, backbeat=(), kick=()):
    """Return the costs of a technique over sixteenths of the right hand, in one bar of 4/4."""
    played = unrolled(parse_part(f"tempo: 90\nmeter: 4/4\ngrid: 4\nRH hat {pattern}"))
    line = hand_line(played, "right hand")
    meetings = Meetings(
        bar_position=line.position % 1.0,
        on_backbeat=np.isin(line.bar_place, backbeat),
        on_kick=np.isin(line.bar_place, kick),
    )
    return cycle_costs(line, meetings, TECHNIQUES[technique])


def test_every_start_is_tried():
    """A cycle of three has six starts, a cycle of one has one."""
    threes = costs_of("xxxx xxxx xxxx xxxx", "whip threes")
    assert [(cost.starts_with, cost.first_stroke) for cost in threes] == [
        ("run", 0), ("run", 1), ("run", 2), ("bar", 0), ("bar", 1), ("bar", 2),
    ]  # fmt: skip
    assert len(costs_of("xxxx xxxx xxxx xxxx", "wrist singles")) == 1


@pytest.mark.parametrize(
    ("first", "drives", "given", "held_back"), [(0, 4, 4, 0), (1, 5, 0, 4), (2, 5, 0, 4)]
)
def test_a_shifted_cycle_misses_the_accents(first, drives, given, held_back):
    """Fours on the count give all accents; shifted they begin one cycle more and give none."""
    cost = costs_of("Xxxx Xxxx Xxxx Xxxx", "whip fours")[first]
    assert (cost.drives, cost.accents_given, cost.held_back) == (drives, given, held_back)
    assert cost.accents_fought == 4 - given
    assert cost.cost == cost.accents_fought + held_back


def test_a_rest_begins_the_cycle_anew():
    """Runs of three strokes cost one drive each; with the bar, the phase is that of the bar."""
    costs = costs_of("xxx. .xxx xxx. ....", "whip fours")
    assert costs[0].drives == 3
    by_bar = costs[4]
    assert (by_bar.starts_with, by_bar.first_stroke) == ("bar", 0)
    assert by_bar.drives == 3
    assert by_bar.held_back == 2


def test_weak_strokes_under_backbeat_and_kick_are_counted():
    """With twos from the first stroke, odd places are up strokes."""
    cost = costs_of("xxxx xxxx xxxx xxxx", "whip twos", backbeat=(4, 5), kick=(1, 3, 8))[0]
    assert (cost.weak_on_backbeat, cost.weak_on_kick) == (1, 2)


def test_the_cheapest_start_fights_least_of_equals():
    """Of equal costs the one with fewer accents fought, then the first."""
    dear = CycleCost("run", 0, 4, 0, 3, 1, 0, 0)
    held = CycleCost("run", 1, 4, 3, 0, 4, 0, 0)
    later = CycleCost("bar", 0, 4, 3, 0, 4, 0, 0)
    assert least_cost((dear, held, later)) is held


def phases_of(pattern, technique, **met):
    """Return what each stroke of a technique's cycle meets at its cheapest start."""
    played = unrolled(parse_part(f"tempo: 90\nmeter: 4/4\ngrid: 4\nRH hat {pattern}"))
    line = hand_line(played, "right hand")
    meetings = Meetings(
        bar_position=line.position % 1.0,
        on_backbeat=np.isin(line.bar_place, met.get("backbeat", ())),
        on_kick=np.isin(line.bar_place, met.get("kick", ())),
    )
    best = least_cost(cycle_costs(line, meetings, TECHNIQUES[technique]))
    accents = accent_places(played, line, meetings)
    return phase_demands(line, meetings, TECHNIQUES[technique], best, accents)


def test_accents_are_told_by_the_stroke_they_fall_on():
    """Fours on the count: one accent on a drive is free, the one on the & is fought on a tap."""
    down, tap, second_tap, up = phases_of("Xxxx Xxxx XxXx xxxx", "whip fours", kick=(10, 15))
    assert [it.kind for it in (down, tap, second_tap, up)] == ["down", "tap", "tap", "up"]
    assert (down.is_free, down.accents, down.held_back) == (True, 3, 1)
    assert (second_tap.is_free, second_tap.accents, second_tap.on_kick) == (False, 1, 1)
    assert (tap.accents, up.accents, up.on_kick) == (0, 0, 1)
    (fought,) = second_tap.accents_at
    assert (fought.at.count, fought.at.place, fought.times) == (3, 2, 1)
    assert [(it.at.count, it.times) for it in down.accents_at] == [(1, 1), (2, 1), (3, 1)]
    assert (down.is_weak, up.is_weak) == (False, True)


def test_accents_of_one_place_are_told_together():
    """Two bars of the same accent are one place, told as it is first written."""
    down, _ = phases_of("x.x. x.x. X.x. x.x. | x.x. x.x. X.x. x.x.", "push-pull")
    (place,) = down.accents_at
    assert (place.at.bar, place.at.count, place.times) == (1, 3, 2)


def test_a_hand_without_accents_has_none_to_tell():
    """Every stroke is counted, no place is told."""
    phases = phases_of("xxxx xxxx xxxx xxxx", "whip threes")
    assert sum(it.strokes for it in phases) == 16
    assert [it.accents_at for it in phases] == [(), (), ()]
