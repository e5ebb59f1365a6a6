"""A part: what must be played, limb by limb, on a grid, over a whole tune.

A part holds sections, a section holds bars, a bar holds strokes at the places of its own
grid. Everything is exact: places are whole numbers, tempos are fractions. ``check_part``
refuses what four limbs cannot play and names the place.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from loosehand.errors import BadNotation
from loosehand.parts.grid import Meter
from loosehand.parts.instruments import INSTRUMENTS

__all__ = [
    "BEATS",
    "DYNAMICS",
    "LIMBS",
    "MARKS",
    "MOST_BARS",
    "MOST_PLACES",
    "MOST_SECTIONS",
    "SWING_LIMITS_PERCENT",
    "TEMPO_LIMITS_BPM",
    "Bar",
    "Limb",
    "Mark",
    "Part",
    "Section",
    "Stroke",
    "bars_in_all",
    "check_part",
    "check_tempo",
    "check_words",
    "count_and_place",
    "place_positions",
]

Limb = Literal["right hand", "left hand", "right foot", "left foot"]
Mark = Literal["accent", "ghost", "flam"]

LIMBS: tuple[Limb, ...] = ("right hand", "left hand", "right foot", "left foot")
MARKS: tuple[Mark, ...] = ("accent", "flam", "ghost")
DYNAMICS = ("pp", "p", "mp", "mf", "f", "ff")
BEATS: dict[str, Fraction] = {
    "whole": Fraction(1),
    "dotted half": Fraction(3, 4),
    "half": Fraction(1, 2),
    "dotted quarter": Fraction(3, 8),
    "quarter": Fraction(1, 4),
    "dotted eighth": Fraction(3, 16),
    "eighth": Fraction(1, 8),
    "sixteenth": Fraction(1, 16),
}
"""Note values that a tempo may count, in whole notes."""

TEMPO_LIMITS_BPM = (20, 400)
SWING_LIMITS_PERCENT = (50, 75)
MOST_BARS = 100_000
"""Bars of a whole tune, repeats played out: more is an endless form."""
MOST_SECTIONS = 1_000
"""Sections of a tune."""
MOST_PLACES = 256
"""Places of one bar."""
_MOST_DENOMINATOR = 1_000_000
_LONGEST_NAME = 200


@dataclass(frozen=True)
class Stroke:
    """One stroke of one limb.

    Attributes
    ----------
    place : place in the bar, on the bar's own grid, from 0
    limb : which limb plays it
    instrument : key of INSTRUMENTS
    marks : accent, ghost, flam; kept sorted
    """

    place: int
    limb: Limb
    instrument: str
    marks: tuple[Mark, ...] = ()

    def __post_init__(self) -> None:
        """Sort the marks."""
        object.__setattr__(self, "marks", tuple(sorted(self.marks)))


def _stroke_order(stroke: Stroke) -> tuple[int, int, str, tuple[Mark, ...]]:
    limb = LIMBS.index(stroke.limb) if stroke.limb in LIMBS else len(LIMBS)
    return (stroke.place, limb, stroke.instrument, stroke.marks)


@dataclass(frozen=True)
class Bar:
    """One written bar.

    Attributes
    ----------
    meter : the meter, its counts grouped
    places_per_unit : places in one unit of the meter: 4 for sixteenths in 4/4, 3 for
        triplets, 2 for sixteenths in 7/8
    strokes : kept sorted by place, then limb in the order of LIMBS, then instrument
    """

    meter: Meter
    places_per_unit: int
    strokes: tuple[Stroke, ...]

    def __post_init__(self) -> None:
        """Sort the strokes."""
        object.__setattr__(self, "strokes", tuple(sorted(self.strokes, key=_stroke_order)))

    @property
    def places(self) -> int:
        """Places in the bar."""
        return sum(self.meter.grouping) * self.places_per_unit


@dataclass(frozen=True)
class Section:
    """Bars that are played ``times`` times.

    Attributes
    ----------
    name : as a player calls it: verse, chorus, fill
    bars : the written bars
    times : how often they are played, 1 or more
    dynamic : of DYNAMICS; None for as before, which is mf at the start
    tempo_bpm : the tempo from here on; None for as before
    """

    name: str
    bars: tuple[Bar, ...]
    times: int
    dynamic: str | None
    tempo_bpm: Fraction | None


@dataclass(frozen=True)
class Part:
    """What must be played over a whole tune.

    Attributes
    ----------
    title : what the tune is called; may be empty
    tempo_bpm : beats a minute at the start
    beat : the note value that the tempo counts, in whole notes: 1/4
    swing_percent : share of a pair of places that its first takes: 50 is straight, 67
        close to triplets
    feel : words of the trade: straight, laid back
    sections : in the order in which they are played
    """

    title: str
    tempo_bpm: Fraction
    beat: Fraction
    swing_percent: int
    feel: tuple[str, ...]
    sections: tuple[Section, ...]


def count_and_place(bar: Bar, place: int) -> tuple[int, int]:
    """Count from 1 and place in the count from 0, for a place in the bar.

    Examples
    --------
    >>> count_and_place(Bar(Meter((2, 2, 3), 8), 2, ()), 9)
    (3, 1)
    """
    rest = place
    for count, group in enumerate(bar.meter.grouping, start=1):
        if rest < group * bar.places_per_unit:
            return count, rest
        rest -= group * bar.places_per_unit
    raise BadNotation(
        f"place {place} lies outside a bar of {bar.places} places, 0 to {bar.places - 1}"
    )


def place_positions(bar: Bar, *, swing_percent: int) -> tuple[Fraction, ...]:
    """Whole notes from the start of the bar to each of its places, swing applied.

    Swing moves the second of each pair of places, paired from the start of the count. A count
    with an odd number of places (a triplet, a group of three eighths) is played straight.

    Examples
    --------
    >>> bar = Bar(Meter((1, 1), 4), 2, ())
    >>> [str(position) for position in place_positions(bar, swing_percent=60)]
    ['0', '3/20', '1/4', '2/5']
    """
    step = Fraction(1, bar.meter.unit * bar.places_per_unit)
    late = Fraction(2 * swing_percent, 100) - 1
    positions: list[Fraction] = []
    for group in bar.meter.grouping:
        places = group * bar.places_per_unit
        start = len(positions)
        for place in range(places):
            moved = late if places % 2 == 0 and place % 2 == 1 else 0
            positions.append((start + place + moved) * step)
    return tuple(positions)


def bars_in_all(part: Part) -> int:
    """Bars of the whole tune, repeats played out."""
    return sum(len(section.bars) * section.times for section in part.sections)


def check_part(part: Part) -> Part:
    """The part itself, if four limbs can play it.

    Raises
    ------
    BadNotation    in one sentence that names section, bar, count and place: two strokes of a
        limb at once, a flam that finds no free hand, a fifth limb, a foot on a hand's
        instrument or a hand on a foot's, a stroke outside its bar, an accent that is a ghost
        note too, a tempo outside 20 to 400, more than 100,000 bars, a part with nothing in it
    """
    _check_heading(part)
    for number, section in enumerate(part.sections, start=1):
        _check_section_heading(section, number)
    in_all = bars_in_all(part)
    if in_all > MOST_BARS:
        raise BadNotation(
            f"the form is {in_all} bars long with its repeats: want {MOST_BARS} at most"
        )
    checked: set[int] = set()
    for section in part.sections:
        for number, bar in enumerate(section.bars, start=1):
            if id(bar) not in checked:
                _check_bar(bar, f"{section.name}, bar {number}")
                checked.add(id(bar))
    return part


def _check_heading(part: Part) -> None:
    if not part.sections:
        raise BadNotation("the part has no section: want one with a bar or more")
    if len(part.sections) > MOST_SECTIONS:
        raise BadNotation(
            f"the part has {len(part.sections)} sections: want {MOST_SECTIONS} at most"
        )
    check_words(part.title, "the title", may_be_empty=True)
    for phrase in part.feel:
        check_words(phrase, "a word for the feel", may_be_empty=False)
        if "," in phrase:
            raise BadNotation(f"feel '{phrase}' holds a comma: give its two sides one by one")
    check_tempo(part.tempo_bpm, "tempo")
    if part.beat not in BEATS.values():
        raise BadNotation(f"beat = {part.beat} of a whole note: want one of {', '.join(BEATS)}")
    low, high = SWING_LIMITS_PERCENT
    if not low <= part.swing_percent <= high:
        raise BadNotation(f"swing = {part.swing_percent}: want {low} (straight) to {high} percent")


def check_words(words: str, what: str, *, may_be_empty: bool) -> None:
    """Refuse words that are no single tidy line."""
    if not words and not may_be_empty:
        raise BadNotation(f"{what} is empty: want a word")
    if len(words) > _LONGEST_NAME:
        raise BadNotation(f"{what} is {len(words)} characters long: want {_LONGEST_NAME} at most")
    if not words.isprintable() or words != " ".join(words.split()):
        raise BadNotation(
            f"{what} {words!r} must be one line of printable characters with single spaces"
        )


def check_tempo(tempo_bpm: Fraction, what: str) -> None:
    """Refuse a tempo outside the limits, or one written finer than anybody can tell."""
    low, high = TEMPO_LIMITS_BPM
    if not low <= tempo_bpm <= high:
        raise BadNotation(f"{what} = {tempo_bpm}: want {low} to {high} beats a minute")
    if Fraction(tempo_bpm).denominator > _MOST_DENOMINATOR:
        raise BadNotation(f"{what} = {tempo_bpm}: want no finer than a millionth of a beat")


def _check_section_heading(section: Section, number: int) -> None:
    check_words(section.name, f"the name of section {number}", may_be_empty=False)
    if not section.bars:
        raise BadNotation(f"{section.name} has no bar: want one or more")
    if not 1 <= section.times <= MOST_BARS:
        raise BadNotation(f"{section.name} is played {section.times} times: want 1 to {MOST_BARS}")
    if section.dynamic is not None and section.dynamic not in DYNAMICS:
        raise BadNotation(
            f"{section.name} has dynamic '{section.dynamic}': want one of {', '.join(DYNAMICS)}"
        )
    if section.tempo_bpm is not None:
        check_tempo(section.tempo_bpm, f"tempo of {section.name}")


def _check_bar(bar: Bar, where: str) -> None:
    if bar.places_per_unit < 1:
        raise BadNotation(f"{where}: {bar.places_per_unit} places in a unit, want 1 or more")
    if bar.places > MOST_PLACES:
        raise BadNotation(f"{where}: {bar.places} places, want {MOST_PLACES} at most")
    taken: dict[tuple[int, str], Stroke] = {}
    places = bar.places
    for stroke in bar.strokes:
        if not 0 <= stroke.place < places:
            raise BadNotation(
                f"{where}: a stroke at place {stroke.place} lies outside the bar, "
                f"whose places are 0 to {bar.places - 1}"
            )
        fault = _fault(stroke.limb, stroke.instrument, stroke.marks)
        if (stroke.place, stroke.limb) in taken and fault is None:
            other = taken[stroke.place, stroke.limb].instrument
            fault = f"the {stroke.limb} has two strokes at once, on {other} and {stroke.instrument}"
        if fault is not None:
            raise BadNotation(f"{_where_in_bar(bar, stroke.place, where)}: {fault}")
        taken[stroke.place, stroke.limb] = stroke
    flams = [stroke for stroke in bar.strokes if "flam" in stroke.marks]
    for stroke in flams:
        if (stroke.place, _other_hand(stroke.limb)) in taken:
            raise BadNotation(
                f"{_where_in_bar(bar, stroke.place, where)}: the flam of the {stroke.limb} "
                f"needs the {_other_hand(stroke.limb)}, which has a stroke of its own there"
            )


def _where_in_bar(bar: Bar, place: int, where: str) -> str:
    count, place_of_count = count_and_place(bar, place)
    return f"{where}, count {count}, place {place_of_count}"


def _other_hand(limb: str) -> str:
    return "left hand" if limb == "right hand" else "right hand"


@lru_cache(maxsize=4096)
def _fault(limb: str, instrument: str, marks: tuple[str, ...]) -> str | None:
    """Return what is wrong with a stroke in itself, wherever it stands."""
    by_foot = limb.endswith("foot")
    if limb not in LIMBS:
        return f"'{limb}' is no limb, want one of {', '.join(LIMBS)}"
    if instrument not in INSTRUMENTS:
        return f"'{instrument}' is no instrument, want one of {', '.join(INSTRUMENTS)}"
    if INSTRUMENTS[instrument].by_foot != by_foot:
        owner = "hands" if by_foot else "feet"
        return f"the {limb} cannot play the {instrument}, which belongs to the {owner}"
    if not set(marks) <= set(MARKS) or len(set(marks)) != len(marks):
        return f"marks {', '.join(marks)}: want each once, of {', '.join(MARKS)}"
    if "accent" in marks and "ghost" in marks:
        return "a stroke is an accent or a ghost note, not both"
    if "flam" in marks and by_foot:
        return f"a flam is played by the hands, not by the {limb}"
    return None
