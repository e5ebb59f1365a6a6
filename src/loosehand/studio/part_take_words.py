"""A take against its part, bar by bar and in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.accents import LEAST_OF_A_CLASS, tells_of_accents
from loosehand.judge.part_heard import PartHeard
from loosehand.judge.part_to_hear import PartToHear
from loosehand.judge.technique_json import technique_json
from loosehand.parts.place_words import PLACE_NAMES
from loosehand.studio.technique_words import technique_sentences

__all__ = [
    "NO_BREAK",
    "BarHeard",
    "PlaceMark",
    "asked_in_words",
    "bars_heard",
    "cure_in_words",
    "drive_in_words",
    "told_in_words",
    "words_against",
]

Json = dict[str, Any]
IntArray = NDArray[np.int64]
PlaceMark = Literal["came", "missed", "unasked", "untold", "stroke", "silent", "after"]
"""What became of a place: an accent that came, was missed, came unasked, or of which it cannot be
told; a plain stroke; none heard; after the end of the hold."""

NO_BREAK = frozenset({"held to the end", "stopped by choice", "recording ended", "not judged"})
"""Words for the end of a hold in which the hand did not lose the click."""

_TIMES = {1: "single strokes", 2: "every 2nd stroke", 3: "every 3rd stroke", 4: "every 4th stroke"}
_OFTEN = 3
"""Times that an accent must be missed to be named. Ours, chosen."""
_MAIN = {
    "accents missed": "Most worth working at are the accents missed.",
    "accents not asked for": "Most worth working at are the accents that came unasked.",
}
_NOT_FAULTS = "Soft and loud are told with the levels off that the part asks for."
_ALSO_ASKED = 0.5
"""Share by which what stands out must differ between the strokes of a drive to sound like one.
Ours, chosen, not validated."""


@dataclass(frozen=True)
class BarHeard:
    """A bar of the tune as it was heard.

    Attributes
    ----------
    bar : from 1
    marks : what became of each of its places
    places_per_count : places in a count of the click
    break_at : place of the bar before which the hold ended, its length for after it; None where
        that is not here
    broke : whether the hand lost the click there; else the take ended, or was ended
    """

    bar: int
    marks: tuple[PlaceMark, ...]
    places_per_count: int
    break_at: int | None
    broke: bool

    @property
    def due(self) -> int:
        """Accents that were due and can be told, before the hold ended."""
        return self.marks.count("came") + self.marks.count("missed")

    @property
    def came(self) -> int:
        """Accents that came."""
        return self.marks.count("came")

    @property
    def is_judged(self) -> bool:
        """Whether any of it lies before the end of the hold."""
        return any(mark != "after" for mark in self.marks)

    @property
    def end_in_words(self) -> str:
        """What ended the hold."""
        return "the break" if self.broke else "the end of the take"

    @property
    def missed_at(self) -> str:
        """Where accents were missed, in words."""
        return self._where("missed")

    @property
    def unasked_at(self) -> str:
        """Where accents came unasked, in words."""
        return self._where("unasked")

    @property
    def untold_at(self) -> str:
        """Where it cannot be told whether an accent came, in words."""
        return self._where("untold")

    def _where(self, mark: PlaceMark) -> str:
        found = [place for place, each in enumerate(self.marks) if each == mark]
        return ", ".join(_place_in_words(self, place) for place in found)


def bars_heard(heard: PartHeard, *, ended: str | None) -> list[BarHeard]:
    """What became of each place of the part, bar by bar; empty where accents are not told.

    Parameters
    ----------
    heard : the take against its part
    ended : how the hold ended, as it stands; None where a person said where, but not how
    """
    if heard.accents is None:
        return []
    marks, asked, held = _marks(heard), heard.asked, heard.held_places
    ends = (*asked.bar_starts[1:], asked.places)
    return [
        BarHeard(
            bar=number,
            marks=tuple(marks[start:end]),
            places_per_count=asked.places_per_count,
            break_at=held - start if start < held <= end and held < asked.places else None,
            broke=ended not in NO_BREAK,
        )
        for number, (start, end) in enumerate(zip(asked.bar_starts, ends, strict=True), start=1)
    ]


def told_in_words(heard: PartHeard, bars: Sequence[BarHeard]) -> str:
    """Tell a take against its part: the accents, and which one went wrong again and again.

    Parameters
    ----------
    heard : the take against its part
    bars : its bars as heard
    """
    said = (heard.told, _often_missed(bars), _often_unasked(bars))
    return " ".join(words for words in said if words)


def cure_in_words(heard: PartHeard) -> str:
    """Say what to try where the accents are the main fault of the take, else nothing."""
    if heard.main_fault is None or heard.cure is None:
        return ""
    return f"{_MAIN[heard.main_fault.kind]} To try: {heard.cure}"


def words_against(body: Json, heard: PartHeard) -> list[str]:
    """Say what was heard of the technique, told against the part.

    Parameters
    ----------
    body : the reading as JSON
    heard : the take against its part

    Returns
    -------
    sentences : as ``technique_sentences`` has them, and that the part's levels are no faults
    """
    technique = None if heard.technique is None else technique_json(heard.technique)
    said = technique_sentences({**body, "technique": technique})
    return [*said, _NOT_FAULTS] if said else []


def asked_in_words(asked: PartToHear) -> str:
    """Say what a take of a limb is heard against.

    Examples
    --------
    >>> asked = PartToHear("", "right hand", 100.0, 4, 32, (0, 6), (0, 16), 2)
    >>> asked_in_words(asked)
    '32 strokes in 2 bars, 2 of them accents.'
    """
    bars = len(asked.bar_starts)
    said = f"{asked.places} strokes in {bars} {'bar' if bars == 1 else 'bars'}, "
    if asked.has_accents:
        said += f"{len(asked.accents)} of them accents.{_untold_asked(asked)}"
    else:
        said += "none of them an accent" if not asked.accents else "every one an accent"
        said += ": hold, evenness and technique are heard, accents are not compared."
    if asked.is_last_bar_cut:
        heard = asked.places - asked.bar_starts[-1]
        said += f" The part has {asked.bars} bars; of bar {bars} only the first {heard} places are"
        said += " heard: whole counts, as far as this limb leaves out no place."
    elif not asked.is_whole:
        said += f" The part has {asked.bars} bars; it is heard up to bar {bars}, where this limb"
        said += " leaves out a place."
    return said


def _untold_asked(asked: PartToHear) -> str:
    """Say of how many accents it can never be told whether they came."""
    tells = tells_of_accents(asked.level_class, asked.accented)
    number = int(np.count_nonzero(asked.accented & ~tells))
    if not number:
        return ""
    whether = "it comes: it has" if number == 1 else "they come: they have"
    return (
        f" Of {number} of these it cannot be told whether {whether} fewer than {LEAST_OF_A_CLASS} "
        "plain strokes alike to stand out from."
    )


def drive_in_words(body: Json, asked: PartToHear) -> str:
    """Say in a few words how the drive was heard; empty where nothing was measured.

    Parameters
    ----------
    body : the reading as JSON
    asked : what the part asks; what it lets stand out may sound like a drive
    """
    drive = (body.get("technique") or {}).get("drive_length")
    if drive is None:
        return ""
    if drive["strokes"] is None:
        return "cannot be told"
    also = ", as the part asks" if _is_asked(asked, drive["strokes"], drive["phase"]) else ""
    return f"{_TIMES[drive['strokes']]}{also}"


def _is_asked(asked: PartToHear, strokes: int, phase: int | None) -> bool:
    """Whether what the part lets stand out comes mostly on the stroke on which the drive falls."""
    if strokes == 1 or phase is None:
        return False
    plain = ~np.isin(np.arange(asked.places), asked.ghosts)
    return any(_peaks_at(which, strokes, phase) for which in (asked.accented, plain))


def _peaks_at(which: NDArray[np.bool_], strokes: int, phase: int) -> bool:
    """Whether no stroke of a drive has more of some places than this one, and one plainly fewer."""
    places = np.arange(which.size)
    shares = np.array([which[places % strokes == each].mean() for each in range(strokes)])
    return bool(shares[phase] == shares.max() and shares[phase] - shares.min() >= _ALSO_ASKED)


def _often_missed(bars: Sequence[BarHeard]) -> str:
    """Say which accent of the bar was missed most, where one was missed again and again.

    Empty where none was missed three times and every second time.
    """
    places = range(max((len(bar.marks) for bar in bars), default=0))
    found = []
    for place in places:
        own = [bar for bar in bars if place < len(bar.marks)]
        missed = [bar for bar in own if bar.marks[place] == "missed"]
        due = len(missed) + sum(bar.marks[place] == "came" for bar in own)
        if len(missed) >= _OFTEN and 2 * len(missed) >= due:
            found.append((len(missed), due, _place_in_words(missed[0], place)))
    if not found:
        return ""
    times, due, words = max(found, key=lambda each: each[0])
    return f"The accent at {words} was missed {times} times of {due}."


def _often_unasked(bars: Sequence[BarHeard]) -> str:
    """Say where in the bar an accent came unasked most, where that was again and again.

    Empty where none came three times.
    """
    places = range(max((len(bar.marks) for bar in bars), default=0))
    found = []
    for place in places:
        own = [bar for bar in bars if place < len(bar.marks) and bar.marks[place] == "unasked"]
        if len(own) >= _OFTEN:
            found.append((len(own), _place_in_words(own[0], place)))
    if not found:
        return ""
    times, words = max(found, key=lambda each: each[0])
    return f"{times} times one came unasked at {words}."


def _marks(heard: PartHeard) -> Sequence[PlaceMark]:
    """What became of each place."""
    found = heard.accents
    assert found is not None, "accents were told"
    marks: list[PlaceMark] = ["after"] * heard.asked.places
    marks[: heard.held_places] = ["silent"] * heard.held_places
    groups: tuple[tuple[PlaceMark, IntArray], ...] = (
        ("stroke", heard.played),
        ("came", found.hit_places),
        ("missed", found.missed_places),
        ("unasked", found.false_places),
        ("untold", found.untold_places),
    )
    for mark, places in groups:
        for place in places.tolist():
            marks[place] = mark
    return marks


def _place_in_words(bar: BarHeard, place: int) -> str:
    """Say where in a bar a place is: by counts where the bar has whole ones, else by number."""
    names = PLACE_NAMES.get(bar.places_per_count)
    if len(bar.marks) % bar.places_per_count or names is None:
        return f"place {place + 1}"
    count, of_count = divmod(place, bar.places_per_count)
    return f"{count + 1} {names[of_count]}".strip()
