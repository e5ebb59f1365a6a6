"""Ways of playing drawn in a terminal."""

import io
import re
from dataclasses import replace

from rich.console import Console

from loosehand.parts.demand import demand_of
from loosehand.rounds.ways import ways_of_playing
from loosehand.studio.care import CARE_SHORT
from loosehand.studio.terminal_part import part_tables
from tests.rounds.tunes import ON_THE_COUNT, a_right_hand, a_tune, verses


def drawn(part, reaches, *, player="Ines", width=80):
    """What a terminal of so many columns shows, in one line."""
    console = Console(width=width, file=io.StringIO())
    demand = demand_of(part)
    ways = ways_of_playing(part, demand, reaches, other=reaches)
    console.print(part_tables(part, demand, ways, player=player))
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
    assert told.startswith("Slow train limb strokes a second fullest bar level")
    assert "right foot 4 1.7 1.7 mf throughout No hand plays in this part" in told


def test_swing_is_told_in_one_line():
    """After what the part asks; a straight part has no such line."""
    swung = replace(verses(1), swing_percent=71)
    assert "the short note, a sixteenth, lasts" in words(drawn(swung, {}))
    assert "short note" not in words(drawn(verses(1), {}))


def row_of(text, name):
    """The cells of a row, by the first of them, where every cell fits into one line."""
    (line,) = (line for line in text.splitlines() if line.startswith(name))
    return re.split(r"  +", line.strip())


OTHERS = "LH snare .... x... .... x...\nRF kick x... .... ..x. ....\n"
FILL = """\
RH hat      Xxxx xxxx xxxx xxxx | xxxx xxxx .... ....
RH high tom .... .... .... .... | .... .... x.x. ....
LH snare    .... x... .... x... | .... x... .... ....
RF kick     x... ..x. x... .... | x... .... .... ....
LF foot hat .... x... .... x... | .... x... .... ....
"""


def test_each_limb_is_told():
    """Strokes in all and a second, in the fullest bar, and the level: 8 counts at 104."""
    text = drawn(a_tune(("verse", " p", FILL)), {}, width=200)
    assert row_of(text, "right hand ") == ["right hand", "26", "5.6", "6.9", "p to mf, 8 dB"]
    assert row_of(text, "left foot ") == ["left foot", "3", "0.7", "0.9", "p throughout"]


def test_each_section_is_told():
    """The longest run, where the rests are, and where the hand comes back."""
    text = drawn(a_tune(("verse", " x2 p", FILL)), {}, width=200)
    assert row_of(text, "verse ") == [
        "verse",
        "52",
        "25 in 3.5 s, from bar 1 on 1",
        "0.87 s: bar 2 after 3 &",
        "bar 1 on 1: hat, after another surface",
    ]
    assert "0.29 s: bar 2 after 3 (2 times)" in text


def test_hands_and_feet_at_once_are_told():
    """Those of one side, and those crossed."""
    told = words(drawn(a_tune(("verse", "", FILL)), {}, width=200))
    assert "At once, of one side: right hand and right foot 4, left hand and left foot 3." in told
    assert "At once, crossed: right hand and left foot 3, left hand and right foot 0." in told


def test_each_way_is_told_stroke_by_stroke():
    """Where the accents fall, and which weak strokes meet the backbeat or a kick."""
    text = drawn(a_tune(("verse", "", ON_THE_COUNT + OTHERS)), {}, width=200)
    table = text[text.index("stroke by stroke") :]
    assert row_of(table, "whip fours ") == ["whip fours", "down: 4", "tap 2: 1"]
    assert row_of(table, "whip threes ") == [
        "whip threes",
        "down: 2",
        "tap: 1, up: 1",
        "tap: 1",
        "tap: 1",
    ]
