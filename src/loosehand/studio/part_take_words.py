"""A take against its part, bar by bar and in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from loosehand.judge.part_heard import PartHeard
from loosehand.judge.part_to_hear import PartToHear
from loosehand.parts.place_words import PLACE_NAMES

__all__ = [
    "BarHeard",
    "PlaceMark",
    "asked_in_words",
    "bars_heard",
    "drive_in_words",
    "often_missed",
    "often_unasked",
    "told_in_words",
]

Json = dict[str, Any]
PlaceMark = Literal["came", "missed", "unasked", "stroke", "silent", "after"]
"""What became of a place: an accent that came, was missed, came unasked; a plain stroke; none
heard; after the break."""

_TIMES = {1: "single strokes", 2: "every 2nd stroke", 3: "every 3rd stroke", 4: "every 4th stroke"}
_OFTEN = 3
"""Times that an accent must be missed to be named. Ours, chosen."""
_ALSO_ASKED = 0.5
"""Share by which accents asked for must differ between the strokes of a drive to sound like one.
Ours, chosen, not validated."""


@dataclass(frozen=True)
class BarHeard:
    """A bar of the tune as it was heard.

    Attributes
    ----------
    bar : from 1
    marks : what became of each of its places
    places_per_count : places in a count of the click
    break_at : place of the bar before which the hand lost the click, its length for after it;
        None where the break is not here
    """

    bar: int
    marks: tuple[PlaceMark, ...]
    places_per_count: int
    break_at: int | None

    @property
    def due(self) -> int:
        """Accents that were due before the break."""
        return self.marks.count("came") + self.marks.count("missed")

    @property
    def came(self) -> int:
        """Accents that came."""
        return self.marks.count("came")

    @property
    def is_judged(self) -> bool:
        """Whether any of it lies before the break."""
        return any(mark != "after" for mark in self.marks)

    @property
    def missed_at(self) -> str:
        """Where accents were missed, in words."""
        return self._where("missed")

    @property
    def unasked_at(self) -> str:
        """Where accents came unasked, in words."""
        return self._where("unasked")

    def _where(self, mark: PlaceMark) -> str:
        found = [place for place, each in enumerate(self.marks) if each == mark]
        return ", ".join(_place_in_words(self, place) for place in found)


def bars_heard(heard: PartHeard) -> list[BarHeard]:
    """What became of each place of the part, bar by bar; empty where accents are not told."""
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
        )
        for number, (start, end) in enumerate(zip(asked.bar_starts, ends, strict=True), start=1)
    ]


def often_missed(bars: Sequence[BarHeard]) -> str:
    """Say which accent of the bar was missed most, where one was missed again and again.

    Parameters
    ----------
    bars : as heard

    Returns
    -------
    sentence : empty where none was missed three times and every second time
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


def often_unasked(bars: Sequence[BarHeard]) -> str:
    """Say where in the bar an accent came unasked most, where that was again and again.

    Parameters
    ----------
    bars : as heard

    Returns
    -------
    sentence : empty where none came three times
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


def told_in_words(heard: PartHeard) -> str:
    """Tell a take against its part: the accents, and which one went wrong again and again."""
    bars = bars_heard(heard)
    said = (heard.told, often_missed(bars), often_unasked(bars))
    return " ".join(words for words in said if words)


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
        said += f"{len(asked.accents)} of them accents."
    else:
        said += "none of them an accent" if not asked.accents else "every one an accent"
        said += ": hold, evenness and technique are heard, accents are not compared."
    if not asked.is_whole:
        said += f" The part has {asked.bars} bars; it is heard up to bar {bars}, where this limb"
        said += " leaves out a place."
    return said


def drive_in_words(body: Json, asked: PartToHear) -> str:
    """Say in a few words how the drive was heard; empty where nothing was measured.

    Parameters
    ----------
    body : the reading as JSON
    asked : what the part asks; accents that it asks for may sound like a drive
    """
    drive = (body.get("technique") or {}).get("drive_length")
    if drive is None:
        return ""
    if drive["strokes"] is None:
        return "cannot be told"
    also = ", as the part asks" if _is_asked(asked, drive["strokes"]) else ""
    return f"{_TIMES[drive['strokes']]}{also}"


def _is_asked(asked: PartToHear, strokes: int) -> bool:
    """Whether the part's own accents come mostly on one stroke of a drive."""
    if strokes == 1 or not asked.has_accents:
        return False
    accents = np.bincount(np.array(asked.accents) % strokes, minlength=strokes)
    shares = accents / np.bincount(np.arange(asked.places) % strokes, minlength=strokes)
    return bool(shares.max() - shares.min() >= _ALSO_ASKED)


def _marks(heard: PartHeard) -> Sequence[PlaceMark]:
    """What became of each place."""
    found = heard.accents
    assert found is not None, "accents were told"
    marks: list[PlaceMark] = ["after"] * heard.asked.places
    marks[: heard.held_places] = ["silent"] * heard.held_places
    for place in heard.played.tolist():
        marks[place] = "stroke"
    first, last = int(heard.played[0]), int(heard.played[-1])
    for place in heard.asked.accents:
        if first <= place <= last:
            marks[place] = "came"
    for place in found.missed_places.tolist():
        marks[place] = "missed"
    for place in found.false_places.tolist():
        marks[place] = "unasked"
    return marks


def _place_in_words(bar: BarHeard, place: int) -> str:
    """Say where in a bar a place is: by counts where the bar has whole ones, else by number."""
    names = PLACE_NAMES.get(bar.places_per_count)
    if len(bar.marks) % bar.places_per_count or names is None:
        return f"place {place + 1}"
    count, of_count = divmod(place, bar.places_per_count)
    return f"{count + 1} {names[of_count]}".strip()
