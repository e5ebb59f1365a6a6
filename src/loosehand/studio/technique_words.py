"""Technique as heard, in a sentence or two, for the terminal and the page of a take."""

from typing import Any

from loosehand.studio.take_words import place_names

__all__ = ["technique_sentences"]

Json = dict[str, Any]

_TIMES = {2: "every second stroke", 3: "every third stroke", 4: "every fourth stroke"}
_SINGLE = "No drive of several strokes is heard: single strokes, or a drive played without accents."
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
    uneven = _push_pull(technique["push_pull"])
    if uneven and drive["strokes"] not in (3, 4):
        parts.append(uneven)
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
    sure = f"{round(100 * drive['confidence'])} in 100"
    contrast = "" if contrast_db is None else f", {contrast_db:.1f} dB above the others"
    alike = "; an accented count would sound the same" if drive["with_the_count"] else ""
    return f"An accent comes on {_TIMES[strokes]} ({sure}){contrast}{alike}."


def _push_pull(push_pull: Json | None) -> str:
    """Say how odd and even strokes differ, empty where they do not."""
    if push_pull is None:
        return ""
    found = []
    if push_pull["level_uneven"]:
        found.append(f"{abs(push_pull['level_db']):.1f} dB")
    if push_pull["timing_uneven"]:
        found.append(f"{abs(push_pull['timing_ms']):.1f} ms")
    return f"Every second stroke differs by {' and '.join(found)}." if found else ""


def _fault(fault: Json, places_per_count: int) -> str:
    """Say which place is off."""
    names = place_names(places_per_count)
    place = names[fault["place"]] if fault["place"] < len(names) else str(fault["place"] + 1)
    unit = "ms" if fault["kind"] in ("late", "early") else "dB"
    cure = f" To try: {fault['cure']}" if fault.get("cure") else ""
    return f"The {place} is {fault['effect']:.1f} {unit} {fault['kind']}.{cure}"
