"""Technique as heard, in a sentence or two, for the terminal and the page of a take."""

from typing import Any

from loosehand.studio.take_words import place_names

__all__ = ["technique_sentences"]

Json = dict[str, Any]

_TIMES = {2: "every second stroke", 3: "every third stroke", 4: "every fourth stroke"}
_SINGLE = "No drive of several strokes is heard: single strokes, or a drive played without accents."
_PUSH_PULL = (
    ("level", "level_db", "dB", ("soft", "loud")),
    ("timing", "timing_ms", "ms", ("late", "early")),
)
_CANNOT_TELL = "How many strokes come on a drive cannot be told."


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
    places = body["places_per_count"]
    if "hands" not in technique:
        said = _of_hand(technique, places)
        return [said] if said else []
    hands = ((name, technique["hands"][name]) for name in ("left", "right"))
    both = ((name, _of_hand(hand, max(places // 2, 1))) for name, hand in hands)
    return [f"{name.capitalize()} hand: {said[0].lower()}{said[1:]}" for name, said in both if said]


def _of_hand(technique: Json, places_per_count: int) -> str:
    """Say what was heard of one hand; empty where too few strokes were."""
    drive = technique["drive_length"]
    if drive is None:
        return ""
    parts = [_drive(drive, technique["contrast_db"]["told"])]
    if drive["strokes"] not in (3, 4):
        parts += _push_pull(technique, places_per_count)
    if technique["main_fault"] is not None:
        parts.append(_fault(technique["main_fault"], places_per_count))
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
    """Say how odd and even strokes differ, unless one place of the count alone makes them."""
    push_pull = technique["push_pull"]
    found = []
    for name, figure, unit, kinds in _PUSH_PULL:
        off = [fault for fault in technique["faults"] if fault["kind"] in kinds]
        if push_pull[f"{name}_uneven"] and (len(off) != 1 or places_per_count == 2):
            found.append(f"{abs(push_pull[figure]):.1f} {unit}")
    return [f"Every second stroke differs by {' and '.join(found)}."] if found else []


def _fault(fault: Json, places_per_count: int) -> str:
    """Say which place is off."""
    names = place_names(places_per_count)
    place = names[fault["place"]] if fault["place"] < len(names) else str(fault["place"] + 1)
    unit = "ms" if fault["kind"] in ("late", "early") else "dB"
    cure = f" To try: {fault['cure']}" if fault.get("cure") else ""
    return f"The {place} is {fault['effect']:.1f} {unit} {fault['kind']}.{cure}"
