"""Parts to begin from: invented, short, and each showing something else that the text can say."""

from types import MappingProxyType

__all__ = ["EXAMPLES", "EXAMPLE_TUNE"]

EXAMPLE_TUNE = """\
title: Sixteenths over a whole tune
tempo: 104
meter: 4/4
grid: 4

[count-off] mf
LF foot hat  x... x... x... x...

[verse] x8 mf
RH hat       Xxxx xxxx Xxxx xxxx | Xxxx xxxx Xxxx xxxx
LH snare     .... X... .... X... | .... X..g .g.. X...
RF kick      x... ..x. x.x. .... | x... ..x. x.x. ....

[fill]
RH hat       Xxxx xxxx .... ....
RH high tom  .... .... x.x. ....
RH floor tom .... .... .... x.x.
LH snare     .... X... .x.x .x.x
RF kick      x... ..x. x... x...

[chorus] x8 f
RH ride      X.x. X.x. X.x. X.x. | %
LH snare     .... X... .... X... | .... X... .... X..g
RF kick      x..x ..x. x..x ..x. | x..x ..x. x..x ..xx

[verse again] x8 mf
RH hat       Xxxx xxxx Xxxx xxxx | Xxxx xxxx Xxxx xxoo
LH snare     .... X... .... X... | .... X..g .g.. X...
RF kick      x... ..x. x.x. .... | x... ..x. x.x. ....

[ending] ff
RH crash     X... .... .... ....
RF kick      x... .... .... ....
"""

_TRIPLETS = """\
title: Triplets
tempo: 84
meter: 4/4
grid: 3
feel: laid back

[groove] x8 mf
RH hat       X.x x.x X.x x.x | %
LH snare     ... X.g ..g X.. | ..g X.. .gg X..
RF kick      x.. ..x x.. ... | x.x ... x.. ..x
LF foot hat  ... x.. ... x.. | %
"""

_SEVEN = """\
title: Seven
tempo: 120
meter: 7/8 as 2+2+3
grid: 2

[groove] x8 mf
RH hat    Xxxx Xxxx Xxxxxx | %
LH snare  .... X... ....X. | .... X..g .g..X.
RF kick   x... ..x. x..... | x..x ..x. x.....
"""

_SWUNG = """\
title: Swung eighths
tempo: 132
meter: 4/4
grid: 2
swing: 64
feel: swung

[time] x16 mp
RH ride        x. xx x. xx | %
LH cross-stick .. .. .. x. | .. .. .. ..
RF kick        g. g. g. g. | %
LF foot hat    .. x. .. x. | %
"""

_EMPTY = """\
title: An empty bar
tempo: 100
meter: 4/4
grid: 4

[groove]
RH hat    .... .... .... ....
LH snare  .... .... .... ....
RF kick   .... .... .... ....
"""

EXAMPLES = MappingProxyType(
    {
        "Sixteenths over a whole tune": EXAMPLE_TUNE,
        "Triplets": _TRIPLETS,
        "Seven": _SEVEN,
        "Swung eighths": _SWUNG,
        "An empty bar": _EMPTY,
    }
)
"""Texts by their titles, the first one offered first."""
