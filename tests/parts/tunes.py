"""An invented tune of five minutes, every bar written out."""

from dataclasses import replace

from loosehand.parts.text import parse_part

__all__ = ["FIVE_MINUTES", "five_minutes"]

VERSE = """\
RH hat    xxxx xxxx xxxx xxxx
LH snare  .... X..g .g.. X...
RF kick   x... ..x. ..x. ...."""
CHORUS = """\
RH ride   x.xx x.xx x.xx x.xx
LH snare  .... X... .... X..g
RF kick   x..x ..x. x.x. ....
LF foot hat  .... x... .... x..."""
FILL = """\
RH hat       xxxx xxxx .... ....
LH snare     .... X..g .... ....
RH high tom  .... .... x.x. ....
LH high tom  .... .... .x.x ....
RH floor tom .... .... .... x.x.
LH floor tom .... .... .... .x.x
RF kick      x... ..x. x... x..."""


def section(name, groove, bars, heading=""):
    """Return a section of a groove with a fill in its last bar."""
    return f"[{name}] {heading}\n" + "\n\n".join([groove] * (bars - 1) + [FILL])


FIVE_MINUTES = "\n\n".join(
    [
        "title: Long evening\ntempo: 104\nmeter: 4/4\ngrid: 4\nswing: 54",
        section("verse", VERSE, 16, "mf"),
        section("chorus", CHORUS, 16, "f tempo 106"),
        section("verse 2", VERSE, 16, "mf tempo 104"),
        section("chorus 2", CHORUS, 16, "f tempo 106.5"),
        section("middle", VERSE, 16, "p tempo 100"),
        section("verse 3", VERSE, 16, "mf tempo 104"),
        section("chorus 3", CHORUS, 34, "ff tempo 107"),
    ]
)


def five_minutes():
    """Return the tune, no two bars of it one object, as another program's file would bring it."""
    part = parse_part(FIVE_MINUTES)
    return replace(
        part,
        sections=tuple(
            replace(section, bars=tuple(replace(bar) for bar in section.bars))
            for section in part.sections
        ),
    )
