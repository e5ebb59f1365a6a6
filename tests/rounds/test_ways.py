"""Ways of playing a part: what they give and cost, the chance of lasting, and the order."""

import statistics
import time

import pytest

from loosehand.errors import InputError
from loosehand.parts.demand import demand_of
from loosehand.parts.techniques import TECHNIQUES
from loosehand.rounds.believed_reach import believed_reach
from loosehand.rounds.ways import kind_asked, other_kind_asked, ways_of_playing
from tests.rounds.tunes import BACKBEAT, ON_THE_COUNT, SIXTEENTHS, a_right_hand, a_tune, verses


def ways(part, reaches=None, **words):
    """All ways of playing a part."""
    return ways_of_playing(part, demand_of(part), reaches or {}, **words)


def by_name(table):
    """Ways by their technique."""
    return {each.technique: each for each in table.ways}


def test_every_technique_is_told_of():
    """Also those that were not heard, with what they give and cost in general."""
    table = ways(verses(16))
    assert set(by_name(table)) == set(TECHNIQUES)
    for each in table.ways:
        assert each.gives[0] == TECHNIQUES[each.technique].gives
        assert each.costs[0] == TECHNIQUES[each.technique].costs
        assert each.lasting.steps


def test_accents_on_the_count_come_for_nothing_with_fours():
    """In 16 bars of 4 accents fours fight none; finger singles fight them all."""
    table = by_name(ways(verses(16, ON_THE_COUNT + BACKBEAT)))
    assert any("64 of 64 accents come for nothing" in each for each in table["whip fours"].gives)
    assert table["whip fours"].against == 0.0
    assert any("64 accents must be fought" in each for each in table["finger singles"].costs)
    assert table["finger singles"].against == pytest.approx(0.25)


def test_an_even_line_makes_fours_hold_back():
    """Every fourth stroke would stand out, and weak strokes meet the backbeat or they do not."""
    found = by_name(ways(verses(16)))["whip fours"]
    assert any("64 strokes would stand out unasked" in each for each in found.costs)
    assert found.drives_a_second == pytest.approx(104 / 60)


def test_the_chance_comes_from_the_reach_of_the_technique():
    """A heard technique says how often; its chance is its own."""
    reaches = {"whip fours": a_right_hand(98.0), "wrist singles": a_right_hand(90.0)}
    table = by_name(ways(verses(20), reaches))
    assert table["whip fours"].lasting.chance > table["wrist singles"].lasting.chance + 0.3
    assert table["whip fours"].lasting.is_known
    assert "30 rounds heard on the pad" in table["whip fours"].heard[0]
    assert "Not heard yet on the hat." in table["whip fours"].heard


def test_a_technique_that_was_not_heard_is_said_to_be():
    """None, left out, and a belief without rounds are all 'not heard yet'."""
    belief = believed_reach(kind_asked(verses(8), demand_of(verses(8))), a_right_hand(98.0))
    table = by_name(ways(verses(8), {"whip fours": None, "push-pull": belief}))
    for name in ("whip fours", "push-pull", "wrist singles"):
        assert not table[name].lasting.is_known
        assert table[name].heard[0].startswith("Not heard yet on the hat")
    assert "right hand, whip fours, pad" in table["push-pull"].heard[1]
    assert any("No technique" in each for each in ways(verses(8)).notes)


def test_what_is_unfit_comes_after_what_is_fit():
    """Techniques that are not used at the tempo stand last, whatever their chance."""
    strong = dict.fromkeys(("forearm singles", "whip fours"), a_right_hand(150.0))
    table = ways(verses(8), strong)
    order = [each.technique for each in table.ways]
    unfit = [bool(each.why_not) for each in table.ways]
    assert unfit == sorted(unfit)
    assert order.index("forearm singles") > order.index("whip fours")


def test_the_order_is_by_chance_and_fit():
    """Among the fit ones the product of both never rises."""
    table = ways(verses(12, ON_THE_COUNT), {"whip fours": a_right_hand(98.0)})
    fit = [each.lasting.chance * (1 - each.against) for each in table.ways if not each.why_not]
    assert fit == sorted(fit, reverse=True)


def test_mixed_plans_use_techniques_that_were_heard():
    """What was not heard is never taken into a plan while something was."""
    reaches = {"whip fours": a_right_hand(98.0), "push-pull": a_right_hand(97.0, 600.0)}
    table = ways(verses(60), reaches, other={"whip fours": a_right_hand(98.0)})
    assert table.mixed
    for plan in table.mixed:
        assert {each.technique for each in plan.sections} <= set(reaches)
        assert plan.chance > plan.base_chance or plan.reserve_gained > 0
        assert plan.loses


def test_other_kinds_are_asked_of_the_chart():
    """The leading hand, its surface, the loudness of most strokes; the other hand likewise."""
    part = a_tune(("verse", " x2 p", SIXTEENTHS), ("chorus", " x8 ff", SIXTEENTHS))
    kind = kind_asked(part, demand_of(part))
    assert (kind.hand, kind.surface, kind.loudness) == ("right", "hat", "loud")
    assert other_kind_asked(part, demand_of(part)).hand == "left"


def test_another_loudness_is_said():
    """Rounds at medium tell of a loud part with a sentence that says so."""
    part = a_tune(("verse", " x8 ff", SIXTEENTHS))
    found = by_name(ways(part, {"whip fours": a_right_hand(98.0)}))["whip fours"]
    assert "They were played medium, and this part is loud." in found.heard


def test_a_part_for_feet_has_no_ways():
    """It is said in a sentence, and nothing fails."""
    table = ways(a_tune(("verse", "", "RF kick x... x... x... x...\n")))
    assert (table.hand, table.ways, table.mixed) == (None, (), ())
    assert "No hand plays" in table.notes[0]


def test_the_part_is_summed_up():
    """Who leads, how long, how fast."""
    told = " ".join(ways(verses(16)).asks)
    assert "The right hand leads: 256 strokes in 37 s, mostly on the hat." in told
    assert "sixteenths of one hand at 104" in told


def test_too_long_a_tune_is_refused():
    """Over four hours, in a sentence."""
    with pytest.raises(InputError, match="four hours"):
        ways(verses(7000))


@pytest.mark.timing
def test_five_minutes_in_a_fraction_of_a_second():
    """Seven techniques and the search for mixed plans together, in under half a second."""
    part = a_tune(
        *[
            (name, " x16", SIXTEENTHS.replace("\n", " | xxxx xxxx xxxx xx..\n"))
            for name in ("verse", "chorus", "verse two", "chorus two")
        ]
    )
    demand = demand_of(part)
    reaches = {"whip fours": a_right_hand(98.0), "push-pull": a_right_hand(97.0, 600.0)}
    took_s = []
    for _ in range(5):
        begin = time.perf_counter()
        ways_of_playing(part, demand, reaches)
        took_s.append(time.perf_counter() - begin)
    assert statistics.median(took_s) < 0.5


def test_what_the_hand_meets_is_said():
    """Accents, backbeats and kicks of the leading hand; a line without any has no such sentence."""
    asks = ways(verses(16, ON_THE_COUNT + BACKBEAT)).asks
    assert "It has 64 accents, and meets the backbeat 32 times and a kick 32 times." in asks
    asks = ways(verses(1, SIXTEENTHS + "RF kick x... .... .... ....\n")).asks
    assert "It has no accent, and meets a kick 1 time." in asks
    assert not any(each.startswith("It has") for each in ways(verses(1, SIXTEENTHS)).asks)


def test_the_price_is_that_of_the_technique():
    """Each way has the demand of its own technique, stroke by stroke of the drive."""
    for each in ways(verses(2, ON_THE_COUNT)).ways:
        assert each.price.technique == each.technique
        assert [phase.kind for phase in each.price.phases] == list(TECHNIQUES[each.technique].cycle)
