"""Plans that mix techniques, share bars or thin them out: what they gain and what they lose."""

import pytest

from loosehand.rounds.mixed_plans import MixedTask, OtherHand, mixed_plans
from loosehand.rounds.tune_reserve import hand_draws
from tests.rounds.tunes import BACKBEAT, SIXTEENTHS, a_line, a_right_hand, a_tune, verses


def plans(part, reaches, *, base="whip fours", fit=None, other=True):
    """Mixed plans of a right hand, whose other hand is as good as its base."""
    line = a_line(part)
    hands = {name: hand_draws(reach) for name, reach in reaches.items()}
    every = {name: [1.0] * len(line.sections) for name in reaches}
    left = OtherHand(a_line(part, "left hand"), base, hands[base] if other else None)
    return mixed_plans(MixedTask(line, hands, base, fit or every, left))


def test_thinning_and_sharing_raise_the_chance():
    """A tune that is lost as written is likelier lasted through with either."""
    found = plans(verses(40), {"whip fours": a_right_hand(98.0)})
    assert {each.sections[0].change for each in found} == {"shared", "thinned"}
    for each in found:
        assert each.chance > each.base_chance + 0.2
        assert each.reserve_gained > 0.1


def test_the_mildest_that_is_fairly_sure_is_proposed():
    """A tune that is nearly lasted through needs less thinning than one that is far from it."""

    def left_out(times):
        found = plans(verses(times), {"whip fours": a_right_hand(100.0)})
        thinned = next(each for each in found if each.sections[0].change == "thinned")
        return thinned.sections[0].every

    assert left_out(24) > left_out(120)


def test_what_is_lost_is_counted():
    """Every second bar of 40 with 8 strokes each, and the backbeat that stays."""
    found = plans(verses(40), {"whip fours": a_right_hand(98.0)})
    for each in found:
        every = each.sections[0].every
        bars = 40 // every
        told = " ".join(each.loses)
        assert f"{8 * bars} strokes" in told
        assert f"{bars} bars" in told
        if each.sections[0].change == "shared":
            assert f"{2 * bars} strokes of its own there" in told
            assert each.other_chance is not None


def test_accents_stay_when_bars_are_thinned():
    """A stroke between the places that stay is kept where it is an accent."""
    lines = "RH hat xXxx xxxx xxxx xxxx\n" + BACKBEAT
    found = plans(verses(60, lines), {"whip fours": a_right_hand(98.0)})
    thinned = next(each for each in found if each.sections[0].change == "thinned")
    bars = 60 // thinned.sections[0].every
    assert f"{7 * bars} strokes are left out" in " ".join(thinned.loses)


def test_techniques_change_where_each_is_better():
    """One that lasts at a slow rate and one with a large reserve for a fast one."""
    part = a_tune(
        ("verse", " x40 tempo 96", SIXTEENTHS + BACKBEAT),
        ("chorus", " x12 tempo 112", SIXTEENTHS + BACKBEAT),
    )
    reaches = {"whip fours": a_right_hand(98.0, 150.0), "push-pull": a_right_hand(90.0, 800.0)}
    found = plans(part, reaches)
    switched = next(
        each for each in found if all(section.change is None for section in each.sections)
    )
    assert [each.technique for each in switched.sections] == ["whip fours", "push-pull"]
    assert switched.chance > switched.base_chance
    assert "whip fours in verse; push-pull in chorus" in switched.name
    assert "changes once" in switched.loses[0]


def test_a_technique_that_fits_the_accents_is_taken_for_its_section():
    """Of two that last alike, the one that need not fight the accents there."""
    verse = ("verse", " x4", SIXTEENTHS)
    part = a_tune(verse, ("chorus", " x4", SIXTEENTHS))
    reaches = {"whip fours": a_right_hand(110.0), "wrist singles": a_right_hand(110.0)}
    fit = {"whip fours": [1.0, 0.5], "wrist singles": [0.5, 1.0]}
    found = plans(part, reaches, fit=fit)
    assert [each.technique for each in found[0].sections] == ["whip fours", "wrist singles"]
    throughout = {"whip fours": [0.7, 0.7], "wrist singles": [1.0, 1.0]}
    assert plans(part, reaches, fit=throughout) == ()


def test_only_the_section_where_it_ends_may_be_enough():
    """A short fast chorus is thinned and the verses are left alone."""
    part = a_tune(
        ("verse", " x20 tempo 90", SIXTEENTHS),
        ("chorus", " x40 tempo 106", SIXTEENTHS),
        ("end", " x20 tempo 90", SIXTEENTHS),
    )
    thinned = next(
        each
        for each in plans(part, {"whip fours": a_right_hand(98.0)})
        if any(section.change == "thinned" for section in each.sections)
    )
    assert [each.change for each in thinned.sections] == [None, "thinned", None]
    assert "of chorus" in thinned.name


def test_an_unheard_other_hand_is_said_to_be():
    """What it takes over is told, whether it lasts is not."""
    found = plans(verses(40), {"whip fours": a_right_hand(98.0)}, other=False)
    shared = next(each for each in found if each.sections[0].change == "shared")
    assert shared.other_chance is None
    assert "not heard" in shared.loses[-1]


def test_the_other_hand_may_be_the_one_that_does_not_last():
    """Both hands must last where bars are shared."""
    part = verses(60, SIXTEENTHS + "LH snare xxx. xxx. xxx. xxx.\n")
    line = a_line(part)
    hand = hand_draws(a_right_hand(98.0))
    weak = OtherHand(a_line(part, "left hand"), "whip fours", hand_draws(a_right_hand(70.0)))
    task = MixedTask(line, {"whip fours": hand}, "whip fours", {"whip fours": [1.0]}, weak)
    assert all(each.sections[0].change != "shared" for each in mixed_plans(task))


def test_nothing_is_proposed_where_nothing_is_gained():
    """A tune that is lasted through anyway, and one of eighths that cannot be thinned."""
    assert plans(verses(4), {"whip fours": a_right_hand(110.0)}) == ()
    eighths = verses(400, "RH hat x.x. x.x. x.x. x.x.\n")
    assert plans(eighths, {"whip fours": a_right_hand(50.0)}) == ()


def test_what_lasts_as_written_is_left_as_written():
    """A tune of eight bars that this hand holds in 999 of 1000 needs no stroke left out."""
    reaches = {"whip fours": a_right_hand(100.0)}
    assert plans(verses(8), reaches) == ()
    assert plans(verses(14), reaches) != ()


@pytest.mark.parametrize(
    ("count", "words"),
    [(".x..", "1 stroke of its own falls"), (".x.x", "2 strokes of its own fall")],
)
def test_strokes_that_give_way_are_told_in_their_number(count, words):
    """Of 40 bars the eighth alone has strokes of the other hand where it takes over."""
    rest = ".... .... .... ...."
    snare = [rest] * 7 + [f"{count} .... .... ...."] + [rest] * 32
    hat = ["xxxx xxxx xxxx xxxx"] * 40
    lines = f"RH hat {' | '.join(hat)}\nLH snare {' | '.join(snare)}\n"
    found = plans(a_tune(("verse", "", lines)), {"whip fours": a_right_hand(98.0)})
    told = [" ".join(each.loses) for each in found if "shared" in each.name]
    assert told
    assert f"{words} on the same places and give" in told[0]


def test_the_plans_are_ordered_and_few():
    """The likelier first; at most six."""
    found = plans(
        verses(60), {"whip fours": a_right_hand(98.0), "push-pull": a_right_hand(97.0, 600.0)}
    )
    assert 1 <= len(found) <= 6
    assert found[0].chance >= max(each.chance for each in found) - 0.1
    assert all(each.base_chance == pytest.approx(found[0].base_chance) for each in found)
