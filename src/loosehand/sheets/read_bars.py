"""Bars as a file tells them, and the sections that they make.

A section begins where the file names one, where a repeat begins or has ended, and where
tempo or dynamic change. A repeat over several sections is written out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from loosehand.errors import BadNotation
from loosehand.parts import Bar, Meter, Section
from loosehand.parts.part import MOST_BARS
from loosehand.sheets.hits import Hit

__all__ = ["BarRead", "sections_of"]

_SAME_TEMPO_BPM = Fraction(1, 100)


@dataclass
class BarRead:
    """What a file says of one bar.

    Attributes
    ----------
    meter : its meter
    where : how a refusal names it
    hits : its strokes
    grid : meter and places in a unit, where the file keeps them
    name : of the section that begins here
    quarters_bpm : quarter notes a minute from here on
    exact_tempo_bpm : the same in beats of the part, where the file keeps it
    dynamic : from here on
    starts_repeat : whether a repeat begins here
    repeat_times : how often what ends here is played
    """

    meter: Meter
    where: str
    hits: list[Hit] = field(default_factory=list)
    grid: tuple[Meter, int] | None = None
    name: str | None = None
    quarters_bpm: Fraction | None = None
    exact_tempo_bpm: Fraction | None = None
    dynamic: str | None = None
    starts_repeat: bool = False
    repeat_times: int | None = None

    def own_tempo_bpm(self, beat: Fraction) -> Fraction | None:
        """The kept tempo, if it is still the one that is notated."""
        told, kept = self.quarters_bpm, self.exact_tempo_bpm
        if told is None or kept is None:
            return None
        return kept if abs(kept - told / (beat * 4)) < _SAME_TEMPO_BPM else None

    def tempo_bpm(self, beat: Fraction) -> Fraction | None:
        """Tempo in beats of the part from here on, or None for as before."""
        if self.quarters_bpm is None:
            return None
        told = (self.quarters_bpm / (beat * 4)).limit_denominator(1_000_000)
        return self.own_tempo_bpm(beat) or told


def sections_of(
    read: Sequence[BarRead], bars: Sequence[Bar], *, beat: Fraction
) -> tuple[Section, ...]:
    """Sections of a tune from what its file says of the bars.

    Parameters
    ----------
    read : what the file says
    bars : the same bars on their grids
    beat : note value that tempos count, in whole notes

    Raises
    ------
    BadNotation    if repeats make the form endless
    """
    done: list[Section] = []
    repeated: list[Section] = []
    open_bars: list[Bar] = []
    head: BarRead | None = None
    for told, bar in zip(read, bars, strict=True):
        if head is None or _begins(told):
            if head is not None:
                repeated.append(_section(head, open_bars, len(done) + len(repeated) + 1, beat))
            if told.starts_repeat:
                done += repeated
                repeated = []
            head, open_bars = told, []
        open_bars.append(bar)
        if told.repeat_times is not None:
            repeated.append(_section(head, open_bars, len(done) + len(repeated) + 1, beat))
            done += _played(repeated, told)
            repeated, open_bars, head = [], [], None
    if head is not None:
        repeated.append(_section(head, open_bars, len(done) + len(repeated) + 1, beat))
    return (*done, *repeated)


def _begins(told: BarRead) -> bool:
    changes = told.name, told.quarters_bpm, told.dynamic
    return told.starts_repeat or any(change is not None for change in changes)


def _section(head: BarRead, bars: Sequence[Bar], number: int, beat: Fraction) -> Section:
    name = head.name or f"section {number}"
    return Section(name, tuple(bars), 1, head.dynamic, head.tempo_bpm(beat))


def _played(repeated: Sequence[Section], end: BarRead) -> list[Section]:
    """Sections under a repeat sign: one keeps it, several are written out."""
    times = end.repeat_times or 1
    if len(repeated) == 1:
        one = repeated[0]
        return [Section(one.name, one.bars, times, one.dynamic, one.tempo_bpm)]
    if times * sum(len(section.bars) for section in repeated) > MOST_BARS:
        raise BadNotation(f"{end.where}: a form of {times} times is longer than {MOST_BARS} bars")
    return list(repeated) * times
