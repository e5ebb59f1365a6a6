"""Technique as heard, in a sentence or two, for the terminal and the page of a take."""

from dataclasses import dataclass
from typing import Any

from loosehand.judge.drive_figures import DriveFigure, drive_figures
from loosehand.judge.main_fault import PLACE_FAULT_UNITS
from loosehand.studio.take_words import hand_place_names, place_names

__all__ = ["DriveSound", "drive_sounds", "is_of_older_kind", "technique_sentences"]

Json = dict[str, Any]

_TIMES = {2: "every second stroke", 3: "every third stroke", 4: "every fourth stroke"}
_SINGLE = "No drive of several strokes is heard: single strokes, or a drive played without accents."
_PUSH_PULL = (
    ("level", "level_db", "dB", ("soft", "loud")),
    ("timing", "timing_ms", "ms", ("late", "early")),
)
_SENTENCES = {
    "push and pull uneven": "Push and pull are uneven: every second stroke differs by {}.",
    "taps swell": "The taps grow by {} against their accent during the take.",
    "taps fade": "The taps fade by {} against their accent during the take.",
    "taps crushed": "The strokes of a drive move together during the take, the last by {}.",
    "taps spread": "The strokes of a drive move apart during the take, the last by {}.",
    "decay too steep": "From first tap to last the level falls by {} more than is common.",
    "accents weak": "The accents hardly stand out: they lie {} below what is common.",
}
_MINUS = "\N{MINUS SIGN}"
_CANNOT_TELL = "How many strokes come on a drive cannot be told."


@dataclass(frozen=True)
class DriveSound:
    """How the drive of one hand sounds.

    Attributes
    ----------
    hand : left or right, None in a take of one hand
    rows : name of each figure that is known, the figure with its unit, its range
    """

    hand: str | None
    rows: tuple[tuple[str, str, str], ...]


def technique_sentences(body: Json) -> list[str]:
    """Say what was heard of the technique; nothing where nothing was measured.

    Parameters
    ----------
    body : the reading as JSON

    Returns
    -------
    sentences : one for one hand, one for each hand of an alternating take
    """
    technique = body.get("technique")
    if not technique:
        return []
    if "hands" not in technique:
        said = _of_hand(technique, place_names(body["places_per_count"]))
        return [said] if said else []
    hands = ((name, technique["hands"][name]) for name in ("left", "right"))
    both = ((name, _of_hand(hand, hand_place_names(body, name))) for name, hand in hands)
    return [f"{name.capitalize()} hand: {said[0].lower()}{said[1:]}" for name, said in both if said]


def drive_sounds(body: Json) -> list[DriveSound]:
    """Figures of how each hand's drive sounds, each with the range of four chances in five.

    Parameters
    ----------
    body : the reading as JSON

    Returns
    -------
    sounds : one for one hand, one for each hand of an alternating take; none where nothing is known
    """
    technique = body.get("technique") or {}
    hands = technique.get("hands", {None: technique})
    sounds = [
        DriveSound(name, _rows(drive_figures(hands[name])))
        for name in (None, "left", "right")
        if name in hands
    ]
    return [sound for sound in sounds if sound.rows]


def _rows(figures: tuple[DriveFigure, ...]) -> tuple[tuple[str, str, str], ...]:
    """Figures that are known; of a drive of two the one tap is the contrast and stands once."""
    known = [each for each in figures if each.told is not None]
    if sum("stroke below" in each.name for each in known) == 1:
        known = [each for each in known if "stroke below" not in each.name]
    return tuple((each.name, f"{_decimal(each.told)} {each.unit}", _range(each)) for each in known)


def _range(figure: DriveFigure) -> str:
    if figure.low80 is None or figure.high80 is None:
        return ""
    return f"{_decimal(figure.low80)} to {_decimal(figure.high80)}"


def _decimal(value: float | None) -> str:
    """A figure with one decimal and a true minus, nought without one; empty where there is none."""
    return "" if value is None else f"{round(value, 1) + 0.0:.1f}".replace("-", _MINUS)


def is_of_older_kind(body: Json) -> bool:
    """Whether a reading was made before faults of technique were weighed as they are now.

    Parameters
    ----------
    body : the reading as JSON
    """
    technique = body.get("technique") or {}
    if not technique and body["hand"] == "alternating" and not _hands_were_told(body):
        return False
    hands = technique.get("hands", {"": technique}).values()
    return bool(body["count_held"]) and not all("doubtful_fault" in hand for hand in hands)


def _hands_were_told(body: Json) -> bool:
    """Whether left and right could be told; where not, no version has a technique for them."""
    return (body["evenness"].get("hands") or {}).get("left") is not None


def _of_hand(technique: Json, names: tuple[str, ...]) -> str:
    """Say what was heard of one hand, whose places have names; empty where too few strokes were."""
    drive = technique["drive_length"]
    if drive is None:
        return ""
    main, doubtful = technique["main_fault"], technique.get("doubtful_fault")
    parts = [_drive(drive, technique["contrast_db"]["told"])]
    if drive["strokes"] not in (3, 4):
        parts += _push_pull(technique, len(names))
    if main is not None:
        cure = f" To try: {main['cure']}" if main.get("cure") else ""
        parts.append(f"{_fault(main, names)}{cure}")
    if doubtful is not None:
        parts.append(_doubt(doubtful, _fault(doubtful, names)))
    return " ".join(parts)


def _drive(drive: Json, contrast_db: float | None) -> str:
    """Say how many strokes come on a drive."""
    strokes = drive["strokes"]
    if strokes is None:
        return _CANNOT_TELL
    if strokes == 1:
        return _SINGLE
    sure = f"{min(round(100 * drive['confidence']), 99)} in 100"
    contrast = "" if contrast_db is None else f", {contrast_db:.1f} dB above the others"
    alike = "; an accented count would sound the same" if drive["with_the_count"] else ""
    return f"An accent comes on {_TIMES[strokes]} ({sure}){contrast}{alike}."


def _push_pull(technique: Json, places_per_count: int) -> list[str]:
    """Say how odd and even strokes differ, unless that is said with accent or fault already."""
    push_pull, main = technique["push_pull"], technique["main_fault"] or {}
    found = []
    for name, figure, unit, kinds in _PUSH_PULL:
        off = [fault for fault in technique["faults"] if fault["kind"] in kinds]
        one_place = len(off) == 1 and places_per_count != 2
        named = main.get("kind") in kinds or main.get("kind") == "push and pull uneven"
        accent = unit == "dB" and technique["drive_length"]["strokes"] == 2
        said = one_place or accent or (named and _unit(main) == unit)
        if push_pull[f"{name}_uneven"] and not said:
            found.append(f"{abs(push_pull[figure]):.1f} {unit}")
    return [f"Every second stroke differs by {' and '.join(found)}."] if found else []


def _unit(fault: Json) -> str:
    """Unit of a fault; older readings do not say it, and name places alone."""
    return fault.get("unit") or PLACE_FAULT_UNITS[fault["kind"]]


def _fault(fault: Json, names: tuple[str, ...]) -> str:
    """Say what is off."""
    effect = f"{fault['effect']:.1f} {_unit(fault)}"
    if fault["place"] is None:
        return _SENTENCES[fault["kind"]].format(effect)
    name = names[fault["place"]]
    # The first place is 1 by either way of naming, the last a number only where all are.
    place = f"Place {name}" if names[-1].isdigit() else f"The {name}"
    return f"{place} is {effect} {fault['kind']}."


def _doubt(fault: Json, sentence: str) -> str:
    """Say that a fault cannot be told, and between what it lies."""
    between = f"{fault['low']:.1f} to {fault['high']:.1f} {_unit(fault)}"
    perhaps = f"{sentence[0].lower()}{sentence[1:-1]}"
    return f"The main fault cannot be told: perhaps {perhaps} ({between})."
