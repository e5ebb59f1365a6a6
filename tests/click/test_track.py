"""Which clicks sound when."""

from dataclasses import replace
from fractions import Fraction

import pytest

from loosehand.click.track import ClickPlan, click_track, round_clicks
from loosehand.errors import BadNotation
from loosehand.parts.grid import Meter, TempoChange, TempoMap, steady_tempo

AT_60 = steady_tempo(Fraction(60))
PLAN = ClickPlan(Meter((1, 1, 1, 1), 4), 2, None, 4, 1, frozenset())


def test_a_round_of_sixty_counts():
    """Four clicks of count-in, then counts 1 to 60, the first of each four a downbeat."""
    clicks = round_clicks(AT_60, counts=60, count_in_counts=4, counts_per_bar=4)
    assert [c.at_s for c in clicks] == list(range(-4, 60))
    assert [c.count for c in clicks] == list(range(-3, 61))
    assert {c.role for c in clicks[:4]} == {"count-in"}
    assert [c.count for c in clicks if c.role == "downbeat"] == list(range(1, 61, 4))


def test_a_round_cut_short_in_a_bar():
    """Ten counts in bars of four end in the third bar."""
    clicks = round_clicks(AT_60, counts=10, count_in_counts=0, counts_per_bar=4)
    assert [c.count for c in clicks] == list(range(1, 11))


def test_clicks_follow_a_change_of_tempo():
    """From bar 2 on at half the tempo, clicks lie twice as far apart."""
    quarter = Fraction(1, 4)
    slower = TempoMap(
        [
            TempoChange(Fraction(0), Fraction(60), quarter),
            TempoChange(Fraction(1), Fraction(30), quarter),
        ]
    )
    assert [c.at_s for c in click_track(PLAN, slower)] == [-4, -3, -2, -1, 0, 1, 2, 3, 4, 6, 8, 10]


def test_count_in_of_grouped_counts():
    """Two counts before 7/8 as 2 2 3 are a 2 and a 3: five eighths before count 1."""
    plan = replace(PLAN, meter=Meter((2, 2, 3), 8), count_in_counts=2, bars=1)
    counts = [c.at_s for c in click_track(plan, AT_60) if c.role != "subdivision"]
    assert counts == [
        Fraction(-5, 2),
        Fraction(-3, 2),
        0,
        1,
        2,
    ]


def test_silent_bars_keep_their_counts():
    """In a silent bar every click is there and none is audible; the count goes on."""
    clicks = click_track(replace(PLAN, bars=3, silent_bars=frozenset({2})), AT_60)
    assert [c.count for c in clicks if not c.audible] == [5, 6, 7, 8]
    assert [c.count for c in clicks if c.audible and c.count > 4] == [9, 10, 11, 12]


def test_subdivisions_fill_each_count():
    """Triplets give two soft clicks after each count, a third of a count apart."""
    clicks = click_track(replace(PLAN, bars=1, count_in_counts=0, subdivision_places=3), AT_60)
    assert [c.at_s for c in clicks] == [Fraction(k, 3) for k in range(12)]
    assert [c.role for c in clicks[:4]] == ["downbeat", "subdivision", "subdivision", "count"]
    assert [c.count for c in clicks] == [1 + k // 3 for k in range(12)]


@pytest.mark.parametrize("wrong", [{"bars": 0}, {"count_in_counts": -1}, {"subdivision_places": 0}])
def test_plans_that_cannot_be_played(wrong):
    """No bar, a negative count-in and no subdivision are refused by name."""
    with pytest.raises(BadNotation, match=f"{next(iter(wrong))} = "):
        click_track(replace(PLAN, **wrong), AT_60)
