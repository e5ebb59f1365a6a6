"""Swing in milliseconds: the long and the short note of a pair, beside what was measured.

Swing as a part writes it is a share, so it scales with the tempo. Drummers' swing did not: on the
ride cymbal the short note of a pair of eighths stayed near 100 ms at medium to fast tempos, so
that long to short went from 3.5 : 1 at slow ones to 1 : 1 at fast ones. A part whose short note is
clearly shorter is told so. That is a remark on plausibility and never an error: the figures are of
eighths on the ride in a few recordings, and nobody measured what a one-handed sixteenth does.

Source
------
Friberg, A., Sundström, A. (2002), Swing ratios and ensemble timing in jazz performance: Evidence
for a common rhythmic pattern, Music Perception 19(3):333-349, abstract. That the ratio is adapted
to the tempo and not kept: Honing, H., de Haas, W. B. (2008), Swing once more: Relating timing and
tempo in expert jazz drumming, Music Perception 25(5):471-476, abstract.
"""

from dataclasses import dataclass
from fractions import Fraction

from loosehand.parts.part import Bar, Part, check_part
from loosehand.parts.text_signs import words_of_tempo
from loosehand.parts.unroll import PlayedSection, played_sections

__all__ = [
    "CLEARLY_SHORT_MS",
    "MEASURED_RATIO",
    "MEASURED_SHORT_MS",
    "SwungSection",
    "kept_swing_percent",
    "long_to_short",
    "swing_line",
    "swung_sections",
]

MEASURED_SHORT_MS = 100.0
"""Short note that was kept at medium to fast tempos: about. Friberg and Sundström (2002)."""
MEASURED_RATIO = (1.0, 3.5)
"""Long to short at fast and at slow tempos. Friberg and Sundström (2002)."""
CLEARLY_SHORT_MS = 80.0
"""A short note below this is told as clearly shorter than what was kept. Ours, chosen."""

_STRAIGHT_PERCENT = 50
_NOTES = {
    Fraction(1, 4): "a quarter",
    Fraction(1, 8): "an eighth",
    Fraction(1, 16): "a sixteenth",
    Fraction(1, 32): "a 32nd",
}


@dataclass(frozen=True)
class SwungSection:
    """The shortest swung note that is struck in a section.

    Attributes
    ----------
    section : its name
    tempo_bpm : that holds in it
    tempo_words : the same, with the note value that it counts where that is no quarter
    at_one_tempo : whether the whole part has this tempo, so that it need not be named
    note : of what the pair is made: "an eighth"; None where the grid has no such name
    ratio : long to short
    long_ms, short_ms : how long the two notes of a pair are
    kept_swing_percent : swing that would make the short note as long as drummers kept it; None
        where it is not clearly shorter
    """

    section: str
    tempo_bpm: float
    tempo_words: str
    at_one_tempo: bool
    note: str | None
    ratio: float
    long_ms: float
    short_ms: float
    kept_swing_percent: int | None

    @property
    def is_clearly_short(self) -> bool:
        """Whether the short note is clearly shorter than what was measured."""
        return self.kept_swing_percent is not None


def long_to_short(swing_percent: float) -> float:
    """Ratio of the long note to the short one.

    Parameters
    ----------
    swing_percent : share of the pair that its first note takes, at least 50 and below 100

    Examples
    --------
    >>> long_to_short(50), long_to_short(75)
    (1.0, 3.0)
    """
    return swing_percent / (100.0 - swing_percent)


def kept_swing_percent(pair_ms: float) -> int:
    """Swing that makes the short note of a pair as long as drummers kept it.

    Parameters
    ----------
    pair_ms : how long the pair is

    Returns
    -------
    swing_percent : whole percent, from 50, which is straight, to the largest that was measured

    Examples
    --------
    >>> [kept_swing_percent(pair_ms) for pair_ms in (900.0, 300.0, 240.0, 200.0, 150.0)]
    [78, 67, 58, 50, 50]
    """
    low, high = (ratio / (1.0 + ratio) for ratio in MEASURED_RATIO)
    return round(100.0 * min(max(1.0 - MEASURED_SHORT_MS / pair_ms, low), high))


def swung_sections(part: Part) -> tuple[SwungSection, ...]:
    r"""What swing makes of the notes of each section in which a swung place is struck.

    Parameters
    ----------
    part : one that four limbs can play

    Returns
    -------
    swung : in order; none where the part is straight

    Raises
    ------
    BadNotation    if it is swung and four limbs cannot play it

    Examples
    --------
    >>> from loosehand.parts.text import parse_part
    >>> part = parse_part("tempo: 160\nmeter: 4/4\ngrid: 2\nswing: 70\nRH ride xxxxxxxx")
    >>> swung_sections(part)[0].short_ms
    112.5
    """
    if part.swing_percent == _STRAIGHT_PERCENT:
        return ()
    check_part(part)
    found, sections = [], played_sections(part)
    at_one_tempo = len({played.tempo_bpm for played in sections}) == 1
    for section, played in zip(part.sections, sections, strict=True):
        bars = {id(bar): bar for bar in section.bars}.values()
        steps = [step for bar in bars if (step := _swung_step(bar)) is not None]
        if steps:
            found.append(_swung(part, played, min(steps), at_one_tempo=at_one_tempo))
    return tuple(found)


def _swung_step(bar: Bar) -> Fraction | None:
    """The bar's place in whole notes, if one that swing moves is struck."""
    struck = {stroke.place for stroke in bar.strokes}
    start = 0
    for group in bar.meter.grouping:
        places = group * bar.places_per_unit
        moved = range(start + 1, start + places, 2) if places % 2 == 0 else ()
        if struck.intersection(moved):
            return Fraction(1, bar.meter.unit * bar.places_per_unit)
        start += places
    return None


def _swung(
    part: Part, played: PlayedSection, step: Fraction, *, at_one_tempo: bool
) -> SwungSection:
    pair_ms = float(2 * step * 60_000 / (played.tempo_bpm * part.beat))
    long_ms = pair_ms * part.swing_percent / 100.0
    short_ms = pair_ms - long_ms
    is_short = short_ms < CLEARLY_SHORT_MS
    return SwungSection(
        section=played.name,
        tempo_bpm=float(played.tempo_bpm),
        tempo_words=words_of_tempo(played.tempo_bpm, part.beat),
        at_one_tempo=at_one_tempo,
        note=_NOTES.get(step),
        ratio=long_to_short(part.swing_percent),
        long_ms=long_ms,
        short_ms=short_ms,
        kept_swing_percent=kept_swing_percent(pair_ms) if is_short else None,
    )


def swing_line(swung: tuple[SwungSection, ...]) -> str | None:
    """Tell the swing of a part in one line; None where the part is straight.

    Parameters
    ----------
    swung : sections of one part

    Returns
    -------
    sentence : of the section whose short note is the shortest; where that is clearly shorter than
        drummers kept it, what they kept
    """
    if not swung:
        return None
    worst = min(swung, key=lambda each: each.short_ms)
    own = f"In {worst.section}, at {worst.tempo_words},"
    where = "At this tempo" if worst.at_one_tempo else own
    note = f", {worst.note}," if worst.note else ""
    lasts = f"{where} the short note{note} lasts {worst.short_ms:.0f} ms"
    if not worst.is_clearly_short:
        return f"{lasts}, long to short {worst.ratio:.1f} : 1."
    return (
        f"{lasts}; drummers measured on the ride kept their short eighth near "
        f"{MEASURED_SHORT_MS:.0f} ms (Friberg and Sundström 2002), {_kept(worst)}."
        f"{_also_short(swung, worst)}"
    )


def _kept(section: SwungSection) -> str:
    """What would be as drummers kept it."""
    straight_ms = 0.5 * (section.long_ms + section.short_ms)
    if straight_ms < MEASURED_SHORT_MS:
        return f"and even straight notes last {straight_ms:.0f} ms here"
    return f"which would be swing {section.kept_swing_percent} here"


def _also_short(swung: tuple[SwungSection, ...], worst: SwungSection) -> str:
    """Say in which other sections it is short, three at most by name; at one tempo in all alike."""
    if worst.at_one_tempo:
        return ""
    others = [each.section for each in swung if each.is_clearly_short and each is not worst]
    names = [name for name in dict.fromkeys(others) if name != worst.section]
    if not names:
        return ""
    rest = len(names) - 3
    return f" Short too: {', '.join(names[:3])}{f' and {rest} more' if rest > 0 else ''}."
