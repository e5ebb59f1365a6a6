"""Strokes out of files of other programs: which grid, which limb.

Other programs know sounds at positions, and neither places nor limbs. Rules of ours, used
only where a file does not say it:

- The grid of a bar has as few places in a unit of the meter as its strokes need; a bar that
  needs fewer than most bars of the file, and would fit on theirs, is put on theirs.
- The kick is the right foot's, a second one at once and the foot hat the left foot's.
- Of two strokes of the hands at once, the one on a hat, cymbal or bell is the right hand's;
  of two alike, the later in the table of instruments, which is further to the right of a kit.
- A lone stroke on a hat, cymbal, bell or tom is the right hand's, on snare or pad the left
  hand's; but of lone strokes on drums at two or more places in a row the hands take turns,
  the right hand first.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from loosehand.errors import BadNotation
from loosehand.parts import INSTRUMENTS, Bar, Limb, Mark, Meter, Stroke

__all__ = [
    "INSTRUMENT_OF_NOTE",
    "Hit",
    "bar_of_hits",
    "file_grids",
    "needed_grid",
    "plain_meter",
    "told_name",
]

MOST_PLACES_PER_UNIT = 48
"""The finest grid that is looked for: sixteenths of triplets of a quarter."""

_OTHER_NOTES = {
    35: "kick",
    40: "snare",
    41: "floor tom",
    45: "mid tom",
    48: "high tom",
    57: "crash",
    59: "ride",
}
INSTRUMENT_OF_NOTE: Mapping[int, str] = MappingProxyType(
    {
        **{instrument.midi_note: name for name, instrument in INSTRUMENTS.items()},
        **_OTHER_NOTES,
    }
)
"""General MIDI percussion note to instrument; 46 is the open hat."""

_LONGEST_NAME = 200
_DRUMS = frozenset({"snare", "cross-stick", "high tom", "mid tom", "floor tom", "pad"})
_LEFT_ALONE = frozenset({"snare", "cross-stick", "pad"})


@dataclass(frozen=True)
class Hit:
    """A sound at a position of a bar.

    Attributes
    ----------
    position : whole notes from the start of the bar
    instrument : key of INSTRUMENTS
    limb : where the file says it
    marks : accent, ghost, flam
    """

    position: Fraction
    instrument: str
    limb: Limb | None
    marks: tuple[Mark, ...]


def plain_meter(beats: int, unit: int) -> Meter:
    """A meter whose grouping the file does not say: threes in 6/8, 9/8, 12/8; twos and a three.

    Examples
    --------
    >>> plain_meter(7, 8).grouping, plain_meter(6, 8).grouping, plain_meter(3, 4).grouping
    ((2, 2, 3), (3, 3), (1, 1, 1))
    """
    if unit < 8:
        return Meter((1,) * beats, unit)
    if beats < 4:
        return Meter((beats,), unit)
    if beats % 3 == 0:
        return Meter((3,) * (beats // 3), unit)
    twos, odd = divmod(beats, 2)
    return Meter((2,) * twos if not odd else (*(2,) * (twos - 1), 3), unit)


def file_grids(needs: Sequence[int | None]) -> list[int]:
    """Places in a unit of each bar, from what each needs; None is a bar without a stroke.

    Examples
    --------
    >>> file_grids([4, 4, 2, 3, None])
    [4, 4, 4, 3, 4]
    """
    counted = Counter(need for need in needs if need is not None)
    usual = max(counted, key=lambda need: (counted[need], need), default=1)
    return [usual if need is None or usual % need == 0 else need for need in needs]


def needed_grid(hits: Sequence[Hit], meter: Meter, where: str) -> int | None:
    """Fewest places in a unit on which all hits of a bar lie.

    Raises
    ------
    BadNotation    if that is more than MOST_PLACES_PER_UNIT
    """
    if not hits:
        return None
    need = 1
    for hit in hits:
        need = math.lcm(need, (hit.position * meter.unit).denominator)
        if need > MOST_PLACES_PER_UNIT:
            raise BadNotation(
                f"{where}: the notes need {need} places or more in 1/{meter.unit} of a whole "
                f"note; want {MOST_PLACES_PER_UNIT} at most"
            )
    return need


def bar_of_hits(hits: Sequence[Hit], meter: Meter, *, places_per_unit: int, where: str) -> Bar:
    """A bar of hits, each given to a limb.

    Parameters
    ----------
    hits : positions on the grid
    meter, places_per_unit : of the bar
    where : how a refusal names the bar

    Raises
    ------
    BadNotation    if there are more strokes at once than limbs to play them
    """
    at_place: dict[int, list[Hit]] = {}
    for hit in hits:
        at_place.setdefault(int(hit.position * meter.unit * places_per_unit), []).append(hit)
    turns = _turns(at_place)
    strokes = []
    for place, here in sorted(at_place.items()):
        for hit, limb in _limbs(here, turns.get(place), f"{where}, place {place}"):
            strokes.append(Stroke(place, limb, hit.instrument, hit.marks))
    return Bar(meter, places_per_unit, tuple(strokes))


def _turns(at_place: Mapping[int, Sequence[Hit]]) -> dict[int, Limb]:
    """Whose turn it is where the hands alternate on drums."""
    lone = sorted(
        place
        for place, hits in at_place.items()
        if [hit.limb is None and hit.instrument in _DRUMS for hit in hits if _is_hands(hit)]
        == [True]
    )
    turns: dict[int, Limb] = {}
    for index, place in enumerate(lone):
        follows = index > 0 and lone[index - 1] == place - 1
        leads = index + 1 < len(lone) and lone[index + 1] == place + 1
        if follows and place - 1 in turns:
            turns[place] = "left hand" if turns[place - 1] == "right hand" else "right hand"
        elif leads:
            turns[place] = "right hand"
    return turns


def _is_hands(hit: Hit) -> bool:
    return not INSTRUMENTS[hit.instrument].by_foot


def _limbs(hits: Sequence[Hit], turn: Limb | None, where: str) -> list[tuple[Hit, Limb]]:
    """Give each of the hits at one place to a limb."""
    given = [(hit, hit.limb) for hit in hits if hit.limb is not None]
    for is_hands in (True, False):
        sides: tuple[Limb, Limb] = (
            ("right hand", "left hand") if is_hands else ("right foot", "left foot")
        )
        open_hits = [hit for hit in hits if hit.limb is None and _is_hands(hit) == is_hands]
        free = [side for side in sides if side not in [limb for _, limb in given]]
        if len(open_hits) > len(free):
            names = ", ".join(hit.instrument for hit in hits if _is_hands(hit) == is_hands)
            raise BadNotation(
                f"{where}: {names} at once are more than two {'hands' if is_hands else 'feet'} "
                "can play"
            )
        ordered = sorted(open_hits, key=_from_the_right)
        if len(ordered) == 1 and len(free) == 2:
            first = turn or _alone(ordered[0].instrument)
            free.sort(key=lambda side: side != first)
        given += zip(ordered, free, strict=False)
    return given


def _alone(instrument: str) -> Limb:
    if INSTRUMENTS[instrument].by_foot:
        return "left foot" if instrument == "foot hat" else "right foot"
    return "left hand" if instrument in _LEFT_ALONE else "right hand"


def _from_the_right(hit: Hit) -> tuple[bool, int]:
    """Order in which the right hand is given its stroke: cymbals first, then the later drum."""
    if INSTRUMENTS[hit.instrument].by_foot:
        return (hit.instrument == "foot hat", 0)
    return (hit.instrument in _DRUMS, -list(INSTRUMENTS).index(hit.instrument))


def told_name(words: str | None) -> str:
    """Words of a file as a part may carry them: one line, printable, not too long.

    Examples
    --------
    >>> told_name("  Verse   two ")
    'Verse two'
    """
    kept = "".join(char if char.isprintable() else " " for char in words or "")
    return " ".join(kept.split())[:_LONGEST_NAME].strip()
