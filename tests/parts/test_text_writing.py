"""How a part's text looks."""

from dataclasses import replace

import pytest

from loosehand.errors import BadNotation
from loosehand.parts import Bar, Meter
from loosehand.parts.text import parse_part
from loosehand.parts.text_writing import write_part

TEXT = """\
title: Evening groove
tempo: dotted quarter = 104
meter: 12/8
grid: 1
swing: 58
feel: laid back, dry

[verse] x8 mf
RH hat       x.x x.x x.x x.o | x.x x.x x.x x.x | %
RH open hat  ... ... ... .f. | ... ... ... ... | %
LH snare     ... X.. ... X.. | % | %
RF kick      x.. ..x x.. ..x | % | x.. ... ... ...

[break] tempo 97.5
rest 2

meter: 7/8 as 2+2+3
grid: 2
LH snare  q..g .... F.....
"""


def test_a_tidy_text_is_written_as_it_was_read():
    """Settings, sections, repeats, rests and changes of meter come back letter for letter."""
    assert write_part(parse_part(TEXT)) == TEXT


def test_lines_stay_narrow():
    """A section of many different bars is cut into lines of at most a hundred signs."""
    rows = [f"RH hat {'.' * k}x{'.' * (15 - k)}" for k in range(16)]
    text = write_part(parse_part("tempo: 90\nmeter: 4/4\ngrid: 4\n" + "\n\n".join(rows)))
    assert max(map(len, text.splitlines())) <= 100


def test_what_cannot_be_played_is_not_written():
    """A part is checked before it is written."""
    part = parse_part("tempo: 90\nmeter: 4/4\ngrid: 4\nrest 1")
    with pytest.raises(BadNotation, match="no section"):
        write_part(replace(part, sections=()))


def test_a_part_too_long_to_read_is_not_written():
    """What the reader would refuse for its length the writer refuses too."""
    one = parse_part("tempo: 90\nmeter: 99/4\ngrid: 2\nRF kick x." + ".." * 98)
    two = parse_part("tempo: 90\nmeter: 99/4\ngrid: 2\nRF kick .x" + ".." * 98)
    bars = (one.sections[0].bars + two.sections[0].bars) * 20_000
    long = replace(one, sections=(replace(one.sections[0], bars=bars),))
    assert bars[0] != Bar(Meter((1,), 4), 1, ())
    with pytest.raises(BadNotation, match="characters as text: want 4000000 at most"):
        write_part(long)
