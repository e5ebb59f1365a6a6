"""Parts as text: the round trip, what is read, and the sentence for what is not."""

import re
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loosehand.errors import BadNotation
from loosehand.parts import INSTRUMENTS, Bar, Meter, Stroke, bars_in_all
from loosehand.parts.text import parse_part, write_part
from loosehand.parts.text_signs import ALSO_CALLED, NOTHING, OPEN_SIGNS, SIGNS
from tests.parts.random_parts import parts
from tests.project_files import ROOT

HEADING = "tempo: 104\nmeter: 4/4\ngrid: 4\n"
GROOVE = """\
title: Evening groove
tempo: 104
meter: 4/4
grid: 4
swing: 58
feel: laid back, dry

[verse] x8 mf
RH hat    xxxx xxxx xxxx xxox | xxxx xxxx xxxx xxO.
LH snare  .... X..g .g.. X... | .... X..g .g.. X..f
RF kick   x... ..x. ..x. .... | %

[chorus] x4 f tempo 108
RH ride   x.x. x.x. x.x. x.x.
LH snare  .... X... .... X...
RF kick   x... ..x. ..x. ....
LF foot hat  .... x... .... x...
"""
OFTEN = settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)  # fmt: skip


@OFTEN
@given(parts)
def test_what_is_written_reads_back_exactly(part):
    """Every playable part returns from its text equal, and writes the same text again."""
    text = write_part(part)
    assert parse_part(text) == part
    assert write_part(parse_part(text)) == text


def test_a_groove_is_read_as_it_stands():
    """Settings, sections, repeats, dynamics, tempos, strokes and marks are all there."""
    part = parse_part(GROOVE)
    assert (part.title, part.tempo_bpm, part.swing_percent) == ("Evening groove", 104, 58)
    assert part.feel == ("laid back", "dry")
    verse, chorus = part.sections
    assert (verse.name, verse.times, verse.dynamic, verse.tempo_bpm) == ("verse", 8, "mf", None)
    assert (chorus.times, chorus.dynamic, chorus.tempo_bpm) == (4, "f", 108)
    assert bars_in_all(part) == 20
    first, second = verse.bars
    assert Stroke(14, "right hand", "open hat") in first.strokes
    assert Stroke(4, "left hand", "snare", ("accent",)) in first.strokes
    assert Stroke(7, "left hand", "snare", ("ghost",)) in first.strokes
    assert Stroke(15, "left hand", "snare", ("flam",)) in second.strokes
    assert len(first.strokes) == 16 + 4 + 3


def test_habits_of_hands_are_forgiven():
    """Windows line ends, small letters, dashes, no spaces, outer bar lines, comments are read."""
    plain = parse_part(HEADING + "RH hat x... x... x... x... | x... x... x... x...\n")
    typed = parse_part(
        "\ufeffTempo: 104\r\nMETER: 4/4\r\ngrid: sixteenths\r\n# a comment\r\n"
        "rh hi-hat: | x---x---x---x--- | % |\r\n"
    )
    assert typed == plain
    assert plain.sections[0].name == "groove"


def test_lines_stand_together_until_a_blank_line():
    """Lines without a blank line between them sound at once, with one they follow."""
    together = parse_part(HEADING + "RH hat x... .... .... ....\nRF kick x... .... .... ....")
    after = parse_part(HEADING + "RH hat x... .... .... ....\n\nRF kick x... .... .... ....")
    assert len(together.sections[0].bars) == 1
    assert len(after.sections[0].bars) == 2


def test_meter_and_grid_may_change_within_a_section():
    """From the line on, bars have the new meter and grid, and keep it into the next section."""
    part = parse_part(
        HEADING + "[a]\nrest 2\nmeter: 7/8 as 2+2+3\ngrid: 2\nRF kick x... x... x.....\n[b]\nrest"
    )
    seven = Meter((2, 2, 3), 8)
    first, second = part.sections
    assert [bar.meter.signature for bar in first.bars] == ["4/4", "4/4", "7/8"]
    assert first.bars[2].places_per_unit == 2
    assert second.bars == (Bar(seven, 2, ()),)


def test_triplets_and_other_beats_are_read():
    """Three places a quarter, and a tempo counted in dotted quarters."""
    part = parse_part(
        "tempo: dotted quarter = 97.5\nmeter: 6/8\ngrid: 1\nRF kick x.. x..\n\n"
        "meter: 4/4\ngrid: triplets\nRH ride x.x x.x x.x x.x"
    )
    assert (part.tempo_bpm, part.beat) == (Fraction(195, 2), Fraction(3, 8))
    assert [bar.places for bar in part.sections[0].bars] == [6, 12]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "line 1, column 1: the text ends without a bar"),
        (HEADING, "line 4, column 1: the text ends without a bar"),
        ("hello", "line 1, column 1: 'hello' begins no line: want a setting"),
        ("key: C", "line 1, column 1: 'key:' is no setting: want one of title, tempo"),
        ("RH hat x...", "line 1, column 1: no tempo yet"),
        ("tempo: 104\nRH hat x...", "line 2, column 1: no meter yet"),
        ("tempo: 104\nmeter: 4/4\nRH hat x...", "line 3, column 1: no grid yet"),
        ("tempo: 0", "line 1, column 8: tempo = 0: want 20 to 400"),
        ("tempo: quick", "line 1, column 8: 'quick' is no tempo"),
        ("tempo: 104\ntempo: 90", "line 2, column 1: tempo is set a second time"),
        ("tempo: 104\nmeter: four", "line 2, column 8: 'four' is no meter"),
        ("meter: 7/8", "line 1, column 8: 7/8 needs its counts"),
        ("meter: 7/8 as 2+2+2", "line 1, column 8: counts .* do not add up to 7"),
        (f"meter: 7/8 as {'9' * 900}", "line 1, column 8: counts 9.* do not add up to 7"),
        (f"meter: 7/8 {' ' * 5000}9", "line 1, column 8: meter is 5005 characters long"),
        (HEADING + "RH hat " + ". " * 300, "line 4, column .*: the line is too long: want 100000"),
        (
            HEADING + "RH hat .... .... .... ....\n" * 101,
            "line 104, column 1: one line too many stands here: want 100",
        ),
        ("meter: 4/5", "line 1, column 8: 4/5 is no meter"),
        ("meter: 0/4", "line 1, column 8: 0/4 is no meter"),
        ("grid: 0", "line 1, column 7: '0' is no grid"),
        ("swing: 90", "line 1, column 8: swing = 90: want 50"),
        ("swing: hard", "line 1, column 8: swing is no number"),
        ("feel: laid back,,", "line 1, column 7: a word for the feel is empty"),
        (f"title: {'x' * 300}", "line 1, column 8: the title is 300 characters"),
        ("tempo: 104\nmeter: 4/4\ngrid: 99\nRH hat x", "line 4, column 1: a bar of 396 places"),
        (HEADING + "RH\n", "line 4, column 3: no instrument here"),
        (HEADING + "RH gong x...", "line 4, column 4: 'gong' is no instrument"),
        (HEADING + "XH hat x...", "line 4, column 1: 'XH' begins no line: want .* RH, LH, RF"),
        (HEADING + "RH kick x...", "line 4, column 4: the right hand cannot play the kick"),
        (HEADING + "RF snare x...", "line 4, column 4: the right foot cannot play the snare"),
        (HEADING + "RH hat", "line 4, column 7: the line has no bar"),
        (HEADING + "RH hat xxxx xxx xxxx xxxx", "line 4, column 13: count 2 has 3 places, want 4"),
        (HEADING + "RH hat xxxx xxxx xxxx", "line 4, column 8: the bar has 3 counts, want 4"),
        (HEADING + "RH hat xxxxxxxxxxxxxxx", "line 4, column 8: the bar has 15 places, want 16"),
        (HEADING + "RH hat xxxx xxyx xxxx xxxx", "line 4, column 15: 'y' is no sign here"),
        (HEADING + "RH ride xxxx xoxx xxxx xxxx", "line 4, column 15: 'o' is no sign here"),
        (
            HEADING + "RF kick f... .... .... ....",
            "line 4, column 9: a flam is played by the hands",
        ),
        (HEADING + "RH hat % | x... .... .... ....", "line 4, column 8: % has no bar"),
        (HEADING + "RH hat x... .... .... .... || %", "line 4, column 29: a bar line with no bar"),
        (
            HEADING + "RH hat x... .... .... ....\nRF kick x... .... .... .... | %",
            "line 5, column 1: this line has 2 bars, but line 4, .*, has 1: want as many",
        ),
        (
            HEADING + "RH hat x... x... .... ....\nRH ride .... x... .... ....",
            "line 5, column 14: the right hand strikes twice at count 2, place 0: .* 4",
        ),
        (
            HEADING + "RH hat x... x... .... ....\nLH snare .... f... .... ....",
            "line 5, column 15: the flam needs the right hand: want it free of the hat of line 4",
        ),
        (HEADING + "[verse", "line 4, column 1: the section's name has no ']'"),
        (HEADING + "[] x8", "line 4, column 1: the section's name is empty"),
        (HEADING + "[verse] x8\n\n[b]", "line 4, column 1: verse has no bar"),
        (HEADING + "[verse] x0", "line 4, column 9: verse is played x0: want x1"),
        (HEADING + "[verse] x*", "line 4, column 9: 'x\\*' tells nothing of a section"),
        (HEADING + "[verse] x2 x3", "line 4, column 12: the section has its number of times twice"),
        (HEADING + "[verse] loud", "line 4, column 9: 'loud' tells nothing of a section"),
        (HEADING + "[verse] tempo", "line 4, column 9: tempo has no number behind it"),
        (HEADING + "[verse] tempo 500", "line 4, column 9: tempo = 500: want 20 to 400"),
        (HEADING + "[verse]\nrest 2\nswing: 60", "line 6, column 1: swing stands below a section"),
        (HEADING + "[a]\nrest\n" * 1001, "line 2004, column 1: one section too many: want 1000"),
        (HEADING + "rest 0", "line 4, column 6: a rest of 0 bars"),
        (HEADING + "[verse] x50001\nrest 2", "line 5, column 1: the form grows to 100002 bars"),
        (HEADING + "[verse] x999999999\nrest", "line 4, column 9: verse is played x999999999"),
        ("x" * 4_000_001, "line 1, column 1: the text is 4000001 characters long"),
    ],
)
def test_each_refusal_is_one_sentence_that_says_where(text, said):
    """The sentence begins with line and column, counted from 1, and says what is wanted."""
    with pytest.raises(BadNotation, match=f"^{said}") as refused:
        parse_part(text)
    assert "want" in str(refused.value)
    assert "\n" not in str(refused.value)


pieces = st.sampled_from(
    ["tempo: 104", "meter: 7/8 as 2+2+3", "grid: 2", "[a] x2", "RH hat", "LH snare ", "RF kick ",
     "x...", " x.. ", "%", "|", "\n", "\n\n", "rest 3", "title:", "]", "tempo", "f", "O", "#"]
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.lists(pieces | st.text(max_size=5), max_size=40).map("".join))
def test_whatever_is_typed_is_read_or_refused(text):
    """Any text is a part that writes and reads back, or a sentence that says where."""
    said = ""
    try:
        part = parse_part(text)
    except BadNotation as refused:
        said = str(refused)
    if said:
        assert re.match(r"line \d+, column \d+: ", said)
    else:
        assert parse_part(write_part(part)) == part


def test_a_part_of_many_bars_is_read():
    """A hundred thousand bars of rest and strokes are within the limit."""
    text = HEADING + "RH hat xxxx xxxx xxxx xxxx" + " | %" * 49_999 + "\n\nrest 50000\n"
    assert bars_in_all(parse_part(text)) == 100_000


PAGE = (ROOT / "docs" / "parts.md").read_text("utf-8")
EXAMPLES = [block for block in re.findall(r"```\n(.*?)```", PAGE, re.DOTALL) if "meter: " in block]


@pytest.mark.parametrize("text", EXAMPLES)
def test_the_examples_of_the_page_are_read(text):
    """Each text that docs/parts.md shows is a part, and reads back from its own text."""
    part = parse_part(text)
    assert parse_part(write_part(part)) == part


def test_the_page_names_every_sign_and_instrument():
    """Signs stand in the table, instruments and their other words in the text."""
    assert len(EXAMPLES) >= 2
    listed = set(re.findall(r"^\| `(.)` \|", PAGE, re.MULTILINE))
    assert listed == {*SIGNS, *OPEN_SIGNS, NOTHING[0], "%"}
    text = " ".join(PAGE.split())
    assert [name for name in (*INSTRUMENTS, *ALSO_CALLED) if name not in text] == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEADING + "RH hat xxxx xxx xxxx xxxx", "count 2 has 3 places, want 4 in 4/4"),
        (HEADING + "RH hat xxxx xxxx xxxx xxxx\nRH crash x... .... .... ....", "strikes twice"),
        (HEADING + "RH kick x...", "cannot play the kick"),
        (HEADING + "XH hat x...", "'XH' begins no line"),
        ("tempo: 0", "tempo = 0"),
        (HEADING + "[a] x50001\nrest 2", "the form grows to 100002 bars"),
    ],
)
def test_the_refusals_on_the_page_are_what_is_said(text, said):
    """Each sentence of the page is the sentence of the reader, or its beginning."""
    (shown,) = [
        row.rpartition(" | ")[2].rstrip(" |").removesuffix("...").rstrip(" ,")
        for row in PAGE.splitlines()
        if row.startswith("|") and said in row and "line " in row
    ]
    with pytest.raises(BadNotation) as refused:
        parse_part(text)
    assert str(refused.value).startswith(shown)
