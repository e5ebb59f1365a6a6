"""Tunes for tests of ways of playing, and hands that play them."""

from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled
from loosehand.reach.laws import Curve
from loosehand.rounds.hand_load import hand_load
from tests.reach.known_reach import a_reach

HEAD = "title: Slow train\ntempo: 104\nmeter: 4/4\ngrid: 4\n"
BACKBEAT = "LH snare .... x... .... x...\nRF kick x... .... x... ....\n"
SIXTEENTHS = "RH hat xxxx xxxx xxxx xxxx\n"
ON_THE_COUNT = "RH hat Xxxx Xxxx Xxxx Xxxx\n"


def a_tune(*sections, head=HEAD):
    """A part of sections: (name and how often, lines)."""
    return parse_part(head + "".join(f"[{name}]{rest}\n{lines}" for name, rest, lines in sections))


def verses(times, lines=SIXTEENTHS + BACKBEAT):
    """A part of one verse of so many bars."""
    return a_tune(("verse", f" x{times} mf", lines))


def a_line(part, limb="right hand"):
    """The line of a limb."""
    return hand_load(unrolled(part), limb)


def a_right_hand(edge_bpm, reserve=300.0, **words):
    """The reach of a right hand with a hyperbola."""
    curve = Curve.from_critical_rate(edge_bpm, reserve, top_rate=None)
    return a_reach(curve, hand="right", sd_bpm=2.0, **words)
