"""Tests of engraved parts: every stroke drawn, nothing that a strict page forbids."""

import re
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loosehand.errors import BadNotation
from loosehand.parts import INSTRUMENTS, Bar, Meter, Section, Stroke
from loosehand.sheets.part_engraving import StaffWords, part_to_svg
from tests.sheets.some_parts import groove, parts

SVG = "{http://www.w3.org/2000/svg}"
FORBIDDEN = re.compile(
    r"<style|<script|\sstyle=|\son\w+=|javascript:|https?://(?!www\.w3\.org)|data:"
)


def drawn(systems):
    """Return (bar, place, limb, instrument) of every stroke that is drawn."""
    for system in systems:
        for group in ElementTree.fromstring(system).iter(f"{SVG}g"):
            if group.get("class") == "staff-stroke":
                told = (
                    group.get(f"data-{name}") for name in ("bar", "place", "limb", "instrument")
                )
                bar, place, limb, instrument = told
                yield int(bar), int(place), limb, instrument


def written(part):
    """Return the same of every stroke of a part."""
    bars = [bar for section in part.sections for bar in section.bars]
    for number, bar in enumerate(bars, start=1):
        for stroke in bar.strokes:
            yield number, stroke.place, stroke.limb, stroke.instrument


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(part=parts(), width_px=st.integers(280, 1500), has_words=st.booleans())
def test_any_part_is_drawn_whole_and_fit_for_a_strict_page(part, width_px, has_words):
    """Every stroke is drawn once, and nothing that the content policy forbids."""
    words = StaffWords(sticking=has_words, counts=has_words)
    systems = part_to_svg(part, width_px=width_px, words=words)
    assert sorted(drawn(systems)) == sorted(written(part))
    assert not any(FORBIDDEN.search(system) for system in systems)


def test_every_instrument_is_drawn():
    """Each head and sign of the table is known to the engraver's font or drawn by us."""
    bars = tuple(
        Bar(Meter((1,), 4), 1, (Stroke(0, "left foot" if each.by_foot else "left hand", name),))
        for name, each in INSTRUMENTS.items()
    )
    part = replace(groove(), sections=(Section("all", bars, 1, None, None),))
    assert {name for *_, name in drawn(part_to_svg(part, width_px=600))} == set(INSTRUMENTS)


def test_the_same_part_gives_the_same_picture():
    """Engraving is deterministic."""
    assert part_to_svg(groove(), width_px=700) == part_to_svg(groove(), width_px=700)


def test_systems_have_titles_and_take_the_ink_of_the_page():
    """Each system says what it is, and is drawn in the current colour."""
    systems = part_to_svg(groove(), width_px=400)
    assert len(systems) > 1
    for number, system in enumerate(systems, start=1):
        root = ElementTree.fromstring(system)
        assert root.get("role") == "img"
        title = root.findtext(f"{SVG}title")
        assert title == f"Morning round, drum notation, system {number} of {len(systems)}"
        inks = set(re.findall(r'(?:fill|stroke|color)="([^"]*)"', system))
        assert inks <= {"currentColor", "none"}


def test_ids_are_unique_over_systems_and_parts():
    """Two parts on one page share no id, and every glyph that is used is there."""
    systems = [
        *part_to_svg(groove(), width_px=400),
        *part_to_svg(groove(), width_px=400, prefix="b"),
    ]
    ids = [name for system in systems for name in re.findall(r' id="([^"]*)"', system)]
    assert len(ids) == len(set(ids))
    assert {name for s in systems for name in re.findall(r'href="#([^"]*)"', s)} <= set(ids)


def test_names_are_text_and_nothing_else():
    """Markup in a title or a name is shown, not obeyed."""
    name = "<script>x</script>"
    part = replace(groove(), title=name, feel=(name,))
    part = replace(part, sections=(replace(part.sections[0], name=name),))
    assert not any("<script" in system for system in part_to_svg(part, width_px=700))


@pytest.mark.parametrize("width_px", [100, 5000])
def test_a_width_that_cannot_be_is_refused(width_px):
    """A system is 280 to 4,000 pixels wide."""
    with pytest.raises(BadNotation, match="want 280 to 4000"):
        part_to_svg(groove(), width_px=width_px)


def test_too_many_bars_are_refused():
    """More than 2,000 written bars are not engraved."""
    section = replace(groove().sections[0], bars=groove().sections[0].bars * 1001)
    with pytest.raises(BadNotation, match="2002 written bars"):
        part_to_svg(replace(groove(), sections=(section,)), width_px=700)


@pytest.mark.timing
def test_a_bar_of_sixteenths_takes_few_milliseconds():
    """A page of 24 full bars is engraved at 25 ms a bar or better."""
    part = groove()
    part = replace(part, tempo_bpm=Fraction(90), sections=part.sections * 4)
    part_to_svg(part, width_px=900)
    start_s = time.perf_counter()
    part_to_svg(part, width_px=900)
    assert (time.perf_counter() - start_s) / 24 < 0.025


def test_any_thread_engraves_the_same():
    """Threads that did not import the engraver draw what the one that did draws."""
    here = part_to_svg(groove(), width_px=900)
    with ThreadPoolExecutor(4) as threads:
        found = list(threads.map(lambda _: part_to_svg(groove(), width_px=900), range(8)))
    assert found == [here] * 8
