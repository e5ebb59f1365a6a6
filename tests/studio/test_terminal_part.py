"""Ways of playing drawn in a terminal."""

import io
from dataclasses import replace

from rich.console import Console

from loosehand.parts.demand import demand_of
from loosehand.rounds.ways import ways_of_playing
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.terminal_part import part_tables
from tests.rounds.tunes import a_right_hand, a_tune, verses


def drawn(part, reaches, *, player="Ines", width=80):
    """What a terminal of so many columns shows, in one line."""
    console = Console(width=width, file=io.StringIO())
    ways = ways_of_playing(part, demand_of(part), reaches, other=reaches)
    console.print(part_tables(part, ways, player=player))
    return console.file.getvalue()


def words(text):
    """Text without its line breaks."""
    return " ".join(text.split())


def test_the_ways_are_told():
    """Title and player, a row a technique, what mixing gains, the care."""
    text = drawn(verses(60), {"whip fours": a_right_hand(98.0)})
    assert text.startswith("Slow train, for Ines\n")
    assert "whip fours" in text
    assert "not yet" in text
    told = words(text)
    assert "Mixed, against whip fours throughout:" in told
    assert "of the reserve left" in told
    assert "the other hand lasts" in told
    assert CARE_SHORT in told
    assert max(map(len, text.splitlines())) <= 80


def test_a_belief_is_told_once():
    """What six techniques that were not heard rest on stands there a single time."""
    told = words(drawn(verses(60), {"whip fours": a_right_hand(98.0)}))
    assert told.count("Not heard yet on the hat: the chance") == 1


def test_no_chance_is_told_as_certain():
    """Neither 0 nor 100 percent."""
    slow = a_tune(("slow", " x4 tempo 40", "RH hat xxxx xxxx xxxx xxxx\n"))
    told = drawn(slow, {"whip fours": a_right_hand(98.0)})
    assert "99 %" in told
    assert "100 %" not in told


def test_a_part_for_feet_is_told():
    """There is no table, and a sentence says why."""
    told = words(drawn(a_tune(("feet", "", "RF kick x... x... x... x...\n")), {}, player=None))
    assert told.startswith("Slow train No hand plays in this part")


def test_swing_is_told_in_one_line():
    """After what the part asks; a straight part has no such line."""
    swung = replace(verses(1), swing_percent=71)
    assert "the short note, a sixteenth, lasts" in words(drawn(swung, {}))
    assert "short note" not in words(drawn(verses(1), {}))
