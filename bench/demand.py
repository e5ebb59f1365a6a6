"""How fast a part is read, written, played out and asked for its demand.

    python bench/demand.py

The tune has five minutes of a kit in sixteenths, every bar written out: first with equal bars
known as equal, as the text's reader leaves them, then with every bar an object of its own. Then
come forms of up to the longest that is allowed: one bar of sixteenths with a backbeat, repeated.
Each time is the least of several runs, in milliseconds of this machine.
"""

import one_thread  # noqa: F401  isort: skip  before any numeric library

import time
from collections.abc import Callable
from dataclasses import replace

from loosehand.parts.demand import demand_of
from loosehand.parts.part import Part, bars_in_all
from loosehand.parts.text import parse_part, write_part
from loosehand.parts.unroll import unrolled

__all__ = ["main"]

GROOVE = """\
RH hat    xxxx xxxx xxxx xxxx
LH snare  .... X..g .g.. X...
RF kick   x... ..x. ..x. ...."""
FILL = """\
RH high tom  x.x. x.x. .... ....
LH high tom  .x.x .x.x .... ....
RH floor tom .... .... x.x. x.x.
LH floor tom .... .... .x.x .x.x
RF kick      x... x... x... x..."""
HEADING = "tempo: 104\nmeter: 4/4\ngrid: 4\n"
BARS_OF_FIVE_MINUTES = 130
LONG_FORMS = (1_000, 10_000, 100_000)


def five_minutes() -> str:
    """Return the text of a tune of five minutes, a fill in every eighth bar."""
    bars = [FILL if bar % 8 == 7 else GROOVE for bar in range(BARS_OF_FIVE_MINUTES)]
    return f"{HEADING}[tune] mf\n" + "\n\n".join(bars)


def apart(part: Part) -> Part:
    """Return the part with every bar an object of its own."""
    return replace(
        part,
        sections=tuple(
            replace(section, bars=tuple(replace(bar) for bar in section.bars))
            for section in part.sections
        ),
    )


def least_ms(act: Callable[[], object], runs: int) -> float:
    """Return the least time of several runs."""
    spent_s = []
    for _ in range(runs):
        began = time.perf_counter()
        act()
        spent_s.append(time.perf_counter() - began)
    return 1000 * min(spent_s)


def row(name: str, part: Part, runs: int) -> str:
    """Return one line of the table."""
    text = write_part(part)
    acts: tuple[Callable[[], object], ...] = (
        lambda: parse_part(text),
        lambda: write_part(part),
        lambda: unrolled(part),
        lambda: demand_of(part),
    )
    times = "  ".join(f"{least_ms(act, runs):9.1f}" for act in acts)
    return f"{name:<20}{unrolled(part).time_s.size:>9}  {times}"


def main() -> None:
    """Print the table."""
    print(f"{'':<20}{'strokes':>9}  {'parse':>9}  {'write':>9}  {'unroll':>9}  {'demand':>9}  ms")
    tune = parse_part(five_minutes())
    minutes = f"{unrolled(tune).duration_s / 60:.1f} minutes"
    print(row(minutes, tune, 15))
    print(row(f"{minutes}, apart", apart(tune), 15))
    for bars in LONG_FORMS:
        part = parse_part(f"{HEADING}[groove] x{bars}\n{GROOVE}")
        print(row(f"{bars_in_all(part)} bars", part, 2))


if __name__ == "__main__":
    main()
