"""What a part asks for, held to the figures worked out by hand in docs/demand.md."""

import re
import time
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from loosehand.parts.demand import DB_A_STEP, demand_of
from loosehand.parts.demand_strip import hand_strips
from loosehand.parts.part import LIMBS
from loosehand.parts.techniques import TECHNIQUES
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled
from tests.parts.random_parts import parts
from tests.parts.tunes import five_minutes
from tests.project_files import ROOT

HEADING = "tempo: 120\nmeter: 4/4\ngrid: 4\n"
PAGE = (ROOT / "docs" / "demand.md").read_text("utf-8")


def worked_examples():
    """Return the parts of the page, each with the lines of its table."""
    for block in re.split(r"\n## ", PAGE)[2:]:
        text = re.search(r"```\n(.*?)```", block, re.DOTALL)[1]
        rows = re.findall(r"^\| ([^|]+) \| [^|]*\| (-?\d[\d.]*) \|$", block, re.MULTILINE)
        for what, figure in rows:
            yield pytest.param(text, what, figure, id=f"{block.splitlines()[0]}: {what}")


def of_technique(demand, name, what):
    """Return a figure of a technique."""
    technique = next(it for it in demand.techniques if it.technique == name)
    best = technique.best
    return {
        "drives": technique.drives,
        "drives a second": technique.drives_a_second,
        "drives a second in the run": technique.drives_a_second_in_run,
        "given": best.accents_given,
        "fought": best.accents_fought,
        "held back": best.held_back,
        "weak on backbeat": best.weak_on_backbeat,
        "weak on kick": best.weak_on_kick,
        "starts with bar": best.starts_with == "bar",
        "first stroke": best.first_stroke,
        "fits": technique.fits,
    }[what]


def of_phase(demand, name, stroke, what):
    """Return a figure of one stroke of a technique's drive."""
    technique = next(it for it in demand.techniques if it.technique == name)
    phase = technique.phases[int(stroke) - 1]
    assert sum(place.times for place in phase.accents_at) == phase.accents
    return {
        "strokes": phase.strokes,
        "accents": phase.accents,
        "on backbeat": phase.on_backbeat,
        "on kick": phase.on_kick,
    }[what]


def of_section(demand, name, what):
    """Return a figure of a section."""
    section = next(it for it in demand.sections if it.name == name)
    run = section.longest_run
    longest = max(section.rests, key=lambda rest: rest.gap_s, default=None)
    return {
        "strokes": section.strokes,
        "longest run: strokes": run.strokes,
        "longest run: seconds": run.duration_s,
        "longest run: bar": run.start.bar,
        "longest run: count": run.start.count,
        "rests": sum(rest.times for rest in section.rests),
        "longest rest in seconds": longest and longest.gap_s,
        "longest rest: after count": longest and longest.after.count,
        "re-entries": sum(entry.times for entry in section.re_entries),
        "strokes of a re-entry": max((entry.strokes for entry in section.re_entries), default=0),
    }[what]


def of_strip(text, limb, what):
    """Return a figure of a hand through the tune."""
    strip = next(it for it in hand_strips(unrolled(parse_part(text))) if it.limb == limb)
    return {"runs": strip.run_s, "fills": strip.fill_s, "rest": strip.rest_s}[what]


def of_limb(demand, limb, what):
    """Return a figure of a limb."""
    found = next(it for it in demand.limbs if it.limb == limb)
    return {
        "strokes": found.strokes,
        "strokes a second": found.strokes_a_second,
        "densest bar": found.densest_bar_strokes_a_second,
        "level in dB": found.level.range_db,
    }[what]


def of_all(demand, what):
    """Return a figure of the whole demand."""
    rests = [rest for section in demand.sections for rest in section.rests]
    return {
        "duration": demand.duration_s,
        "longest run: strokes": demand.longest_run.strokes,
        "longest run: seconds": demand.longest_run.duration_s,
        "tempo asked": demand.tempo_asked_bpm,
        "accents": demand.accents,
        "rests": sum(rest.times for rest in rests),
        "longest rest in seconds": max((rest.gap_s for rest in rests), default=0),
        "hand's level in dB": demand.level_of_hand.range_db,
        "kit's level in dB": demand.level_of_kit.range_db,
        "re-entries": sum(entry.times for entry in demand.re_entries),
        "strokes of a re-entry": max((entry.strokes for entry in demand.re_entries), default=0),
        **{f"{it.hand} and {it.foot} together": it.times for it in demand.together},
    }[what]


def figure_of(text, what):
    """Return the figure that a line of the page names."""
    demand = demand_of(parse_part(text))
    name, _, rest = what.partition(": ")
    technique, _, stroke = name.partition(" stroke ")
    if rest.startswith("seconds of "):
        return of_strip(text, name, rest.removeprefix("seconds of "))
    if stroke:
        return of_phase(demand, technique, stroke, rest)
    if name in TECHNIQUES:
        return of_technique(demand, name, rest)
    if name in {section.name for section in demand.sections}:
        return of_section(demand, name, rest)
    if name in LIMBS:
        return of_limb(demand, name, rest)
    return of_all(demand, what)


def test_the_page_works_out_four_parts():
    """Four parts with enough figures to mean something."""
    examples = list(worked_examples())
    assert len({example.values[0] for example in examples}) == 4
    assert len(examples) > 120


@pytest.mark.parametrize(("text", "what", "figure"), list(worked_examples()))
def test_figures_are_those_worked_out_by_hand(text, what, figure):
    """Each figure of docs/demand.md agrees to half a unit of its last digit."""
    places = len(figure.partition(".")[2])
    got = float(figure_of(text, what))
    assert abs(got - float(figure)) <= (0.5 * 10.0**-places if places else 1e-9)


def test_rests_and_re_entries_say_where_they_are():
    """A run is broken by one place left out; the hand comes back after a half bar on a tom."""
    part = parse_part(
        HEADING + "[a] x2\nRH hat       xxxx x.xx xxxx xxxx | xxxx xxxx .... ....\n"
        "RH high tom  .... .... .... .... | .... .... x.x. x..."
    )
    demand = demand_of(part)
    first = demand.sections[0].rests[0]
    assert (first.after.bar, first.after.count, first.after.place) == (1, 2, 0)
    assert (first.gap_s, first.times) == (0.25, 2)
    (entry,) = demand.re_entries
    assert (entry.at.bar, entry.at.count, entry.at.place) == (1, 1, 0)
    assert (entry.surface, entry.after, entry.strokes, entry.times) == (
        "hat", "other surface", 5, 1,
    )  # fmt: skip


def test_a_hand_comes_back_after_a_rest():
    """A rest of half a bar before a row of strokes is a re-entry, one of a sixteenth is not."""
    part = parse_part(HEADING + "[a] x2\nRH hat xxxx xxxx x.xx ....")
    (entry,) = demand_of(part).re_entries
    assert (entry.after, entry.times, entry.at.count) == ("rest", 1, 1)


def test_open_and_closed_hat_are_one_surface():
    """An open hat in a row of the hat is no re-entry."""
    assert demand_of(parse_part(HEADING + "RH hat xxxx xxox xxxx xxxx")).re_entries == ()


def test_quarters_are_a_run_and_half_notes_are_not():
    """The step is a quarter at most."""
    quarters = demand_of(parse_part(HEADING + "RH ride x... x... x... x..."))
    halves = demand_of(parse_part(HEADING + "RH ride x... .... x... ...."))
    assert quarters.longest_run.strokes == 4
    assert halves.longest_run.strokes == 1
    assert halves.longest_run.strokes_a_second is None
    assert halves.tempo_asked_bpm is None


def test_a_run_goes_on_through_sections():
    """The longest run of the tune may be longer than that of any section."""
    demand = demand_of(
        parse_part(HEADING + "[a] x2\nRH hat xxxx xxxx xxxx xxxx\n[b]\nRH ride x.x. x.x. x.x. x.x.")
    )
    assert [section.longest_run.strokes for section in demand.sections] == [32, 8]
    assert demand.longest_run.strokes == 40
    assert demand.tempo_asked_bpm == pytest.approx(120)


def test_swing_breaks_no_run():
    """At 75 percent the long gap is still no rest, and the rate over pairs stays."""
    demand = demand_of(parse_part(HEADING + "swing: 75\nRH hat xxxx xxxx xxxx xxxx"))
    assert demand.longest_run.strokes == 16


def test_the_left_hand_may_lead():
    """The hand of more strokes leads, and the right hand's snare is the backbeat."""
    demand = demand_of(
        parse_part(HEADING + "LH hat xxxx xxxx xxxx xxxx\nRH snare .... x... .... x..g")
    )
    assert demand.leading_hand == "left hand"
    assert demand.backbeats == 2


def test_feet_alone_have_no_leading_hand():
    """A part without hands asks for no technique."""
    demand = demand_of(parse_part(HEADING + "RF kick x... x... x... x..."))
    assert (demand.leading_hand, demand.techniques, demand.longest_run) == (None, (), None)
    assert (demand.main_surface, demand.level_of_hand, demand.re_entries) == (None, None, ())
    assert demand.level_of_kit.range_db == 0


def test_silence_asks_for_nothing():
    """Bars of rest have a length and no limb."""
    demand = demand_of(parse_part(HEADING + "rest 4"))
    assert demand.duration_s == 8.0
    assert (demand.limbs, demand.level_of_kit) == ((), None)


def test_a_technique_that_does_not_fit_says_why():
    """Tempo and surface each have their sentence."""
    demand = demand_of(
        parse_part("tempo: 60\nmeter: 4/4\ngrid: 4\nRH cross-stick xxxx xxxx xxxx xxxx")
    )
    fours = next(it for it in demand.techniques if it.technique == "whip fours")
    assert not fours.fits
    assert "sixteenths at 60" in fours.why_not[0]
    assert "cross-stick" in fours.why_not[1]


def test_a_teachers_own_techniques_are_asked():
    """Only what is handed in is looked at."""
    own = {"mine": replace(TECHNIQUES["whip twos"], name="mine")}
    demand = demand_of(parse_part(HEADING + "RH hat xxxx xxxx xxxx xxxx"), techniques=own)
    assert [technique.technique for technique in demand.techniques] == ["mine"]
    assert DB_A_STEP == 4.0


def check_phases(technique):
    """Check that the strokes of a drive add up to what its start gives and costs."""
    best, phases = technique.best, technique.phases
    weak = [it for it in phases if it.is_weak]
    assert sum(it.accents for it in phases if it.is_free) == best.accents_given
    assert sum(it.accents for it in phases if not it.is_free) == best.accents_fought
    assert sum(it.held_back for it in phases) == best.held_back
    assert sum(it.on_backbeat for it in weak) == best.weak_on_backbeat
    assert sum(it.on_kick for it in weak) == best.weak_on_kick
    assert [sum(at.times for at in it.accents_at) for it in phases] == [it.accents for it in phases]


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(parts)
def test_figures_agree_with_each_other(part):
    """Strokes add up, every accent is given or fought, and no start is cheaper than the best."""
    demand = demand_of(part)
    strokes = {limb.limb: limb.strokes for limb in demand.limbs}
    written = sum(
        len(bar.strokes) * section.times for section in part.sections for bar in section.bars
    )
    assert sum(strokes.values()) == written
    assert sum(it.strokes for it in demand.sections) == strokes.get(demand.leading_hand, 0)
    for technique in demand.techniques:
        best = technique.best
        assert best.accents_given + best.accents_fought == demand.accents
        assert best.cost == min(start.cost for start in technique.starts)
        assert 0 < technique.drives <= strokes[demand.leading_hand]
        assert max(best.weak_on_backbeat - demand.backbeats, best.weak_on_kick - demand.kicks) <= 0
        check_phases(technique)
    if demand.longest_run:
        longest = max(it.longest_run.strokes for it in demand.sections if it.longest_run)
        assert demand.longest_run.strokes >= longest


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(parts)
def test_twice_the_tempo_is_twice_the_rate(part):
    """Strokes in all, runs and accents do not know the tempo; strokes a second follow it."""
    sections = tuple(replace(section, tempo_bpm=None) for section in part.sections)
    slow = demand_of(replace(part, sections=sections, tempo_bpm=Fraction(60)))
    fast = demand_of(replace(part, sections=sections, tempo_bpm=Fraction(120)))
    assert slow.duration_s == pytest.approx(2 * fast.duration_s)
    assert [limb.strokes for limb in slow.limbs] == [limb.strokes for limb in fast.limbs]
    assert [it.best for it in slow.techniques] == [it.best for it in fast.techniques]
    for one, other in zip(slow.limbs, fast.limbs, strict=True):
        assert other.strokes_a_second == pytest.approx(2 * one.strokes_a_second)


@pytest.mark.timing
def test_a_tune_of_five_minutes_is_quickly_asked():
    """Five minutes of a kit in sixteenths, every bar written out, take 20 ms at most."""
    part = five_minutes()
    spent_s = []
    for _ in range(7):
        began = time.perf_counter()
        demand_of(part)
        spent_s.append(time.perf_counter() - began)
    assert min(spent_s) <= 0.020
