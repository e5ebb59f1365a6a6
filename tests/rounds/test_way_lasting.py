"""Whether a hand lasts through a tune, where it ends, and how that was worked out."""

import math

import pytest

from loosehand.rounds.believed_reach import reach_of_nobody
from loosehand.rounds.tune_reserve import hand_draws
from loosehand.rounds.way_lasting import lasting_of
from tests.rounds.tunes import BACKBEAT, SIXTEENTHS, a_line, a_right_hand, a_tune, verses


def lasting(part, reach):
    """What is told of a right hand."""
    return lasting_of(a_line(part), reach, hand_draws(reach))


def test_the_chance_falls_with_the_length_of_the_tune():
    """Longer verses are lasted through less often."""
    reach = a_right_hand(98.0)
    chances = [lasting(verses(times), reach).chance for times in (8, 16, 32, 64)]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.8 > 0.3 > chances[-1]


def test_the_chance_rises_with_rests():
    """Bars of rest between the same verses help."""
    verse = SIXTEENTHS + BACKBEAT
    reach = a_right_hand(98.0)

    def with_rest(bars):
        rest = [("stop", "", f"rest {bars}\n")] if bars else []
        part = a_tune(("one", " x16", verse), *rest, ("two", " x16", verse))
        return lasting(part, reach).chance

    chances = [with_rest(bars) for bars in (0, 2, 8, 30)]
    assert chances == sorted(chances)
    assert chances[-1] > chances[0] + 0.1


def test_the_likely_end_is_where_the_hold_time_says():
    """A hand of almost no spread that holds 104 for 43 s ends at bar 19 of 2.31 s."""
    found = lasting(verses(64), a_right_hand(97.0, levels=None))
    end = found.likely_end
    assert end.section == "verse"
    assert end.bar == end.bar_of_tune == math.floor(end.at_s / (240.0 / 104.0)) + 1
    hold = next(each for each in found.steps if "held fresh" in each.what)
    assert hold.low80 < end.at_s < hold.high80
    assert end.share == pytest.approx(1.0 - found.chance)
    assert f"around bar {end.bar}" in found.why


def test_the_end_is_told_in_bars_of_its_section():
    """Bars are counted from the section's start, and from the tune's."""
    slow = ("slow", " x10 tempo 60", SIXTEENTHS)
    part = a_tune(slow, ("fast", " x60 tempo 110", SIXTEENTHS))
    end = lasting(part, a_right_hand(98.0)).likely_end
    assert (end.section, end.section_place) == ("fast", 1)
    assert end.bar_of_tune == end.bar + 10


def test_the_reserve_is_told_by_section():
    """It falls in a verse, comes back in a rest, and each section says what it asks."""
    part = a_tune(("one", " x8", SIXTEENTHS), ("stop", "", "rest 8\n"), ("two", " x8", SIXTEENTHS))
    one, stop, two = lasting(part, a_right_hand(98.0)).sections
    assert one.left.median < stop.left.median > two.left.median
    assert (one.rate_bpm, stop.rate_bpm) == (pytest.approx(104.0), 0.0)
    assert (one.rest_s, stop.rest_s) == (0.0, pytest.approx(8 * 240 / 104))
    assert one.left.low80 <= one.left.median <= one.left.high80


def test_what_goes_beyond_what_was_seen_is_marked():
    """Longer than the longest hold, faster than the fastest round."""
    seen = a_right_hand(98.0, longest_held_s=60.0)
    assert "beyond what was seen" in " ".join(lasting(verses(40), seen).beyond_seen)
    assert lasting(verses(20), seen).beyond_seen == ()
    fast = a_tune(("verse", " x4 tempo 130", SIXTEENTHS))
    assert "120 is the fastest" in " ".join(lasting(fast, seen).beyond_seen)


def test_a_hand_that_was_not_heard_is_told_of_by_the_prior():
    """Its chance is neither sure nor none, and nothing is said of what was seen."""
    found = lasting(verses(16), reach_of_nobody())
    assert not found.is_known
    assert 0.02 < found.chance < 0.9
    assert found.beyond_seen == ()
    assert {each.what: each.figure for each in found.steps}["rounds heard of this technique"] == 0


def test_the_steps_lead_to_the_chance():
    """The computation ends with tunes that lasted, and they are the chance."""
    found = lasting(verses(24), a_right_hand(98.0))
    figures = {each.what: each.figure for each in found.steps}
    tunes = figures["tunes that were simulated, each on a day of its own"]
    assert figures["of these the reserve lasted in"] / tunes == found.chance
    assert figures["strokes of the right hand"] == 24 * 16
    assert figures[
        "longest stretch without rest at four fifths of the highest rate or more"
    ] == pytest.approx(24 * 240 / 104)


def test_a_slow_tune_is_lasted_through():
    """Far under the edge nothing ends, and the time is without end."""
    slow = a_tune(("verse", " x60 tempo 60", SIXTEENTHS))
    found = lasting(slow, a_right_hand(98.0))
    assert (found.chance, found.likely_end) == (1.0, None)
    assert "as long as it likes" in found.why
    hold = next(each for each in found.steps if "held fresh" in each.what)
    assert (hold.figure, hold.unit) == (None, "without end")


def test_a_hand_that_plays_nothing_lasts():
    """No stroke, no price."""
    found = lasting(a_tune(("verse", "", "RF kick x... x... x... x...\n")), a_right_hand(98.0))
    assert found.chance == 1.0
    assert found.why == "This hand plays nothing here."
