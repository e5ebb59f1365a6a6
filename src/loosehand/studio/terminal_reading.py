"""A reading in words, for the terminal: a paragraph, a small table, the strokes summed up."""

from typing import Any

from loosehand.studio.take_words import place_names, way_of_tiring
from loosehand.studio.technique_words import drive_sounds, technique_sentences

__all__ = ["line_of", "words_of"]

_SOURCES = {
    "click": "by the click in the recording",
    "told": "as told",
    "strokes": "by the strokes alone, so early or late is relative only",
}
Json = dict[str, Any]


def words_of(body: Json, *, width: int) -> str:
    """Put a reading into words.

    Parameters
    ----------
    body : the reading as JSON
    width : columns to wrap at
    """
    import textwrap

    parts = [textwrap.fill(_paragraph(body), width)]
    parts += [textwrap.fill(sentence, width) for sentence in technique_sentences(body)]
    tables = (_drive_table(body), _place_table(body), _strokes_line(body))
    parts += [part for part in tables if part]
    quality = body["quality"]
    for head, sentences in (("Note", quality["notes"]), ("Assumed", quality["assumed"])):
        parts += [
            textwrap.fill(f"{head}: {sentence}", width, subsequent_indent="  ")
            for sentence in sentences
        ]
    return "\n".join(parts)


def line_of(name: str, body: Json) -> str:
    """Put a reading into a line, for many takes."""
    return f"{name}: {_verdict(body)}{_sure(body)}"


def _verdict(body: Json) -> str:
    """Say the number and how it ended."""
    if body["count_held"] is None:
        return "not judged"
    if not body["strokes"]:
        return "nobody plays"
    offered = "" if body["counts_offered"] is None else f" of {body['counts_offered']}"
    return f"{body['count_held']} held{offered}, {body['ended']}"


def _sure(body: Json) -> str:
    """Say how sure the number is."""
    sure = body["confidence"]
    return "" if sure is None or body["count_held"] is None else f" (sure {sure:.2f})"


def _paragraph(body: Json) -> str:
    """Say what was held, by which click, and what else is known of the hold."""
    sentences = [f"{_verdict(body).capitalize()}{_sure(body)}."]
    if body["tempo_bpm"] is not None:
        sentences.append(_grid_sentence(body))
    if body["count_held"] and body["strokes"]:
        sentences += _hold_sentences(body)
    return " ".join(sentences)


def _grid_sentence(body: Json) -> str:
    """Say against which grid."""
    hand = (
        f"{body['hand'].capitalize()} hand" if body["hand"] in ("left", "right") else "Both hands"
    )
    hand = "Hand not told" if body["hand"] is None else hand
    begins = ""
    if body["first_count_s"] is not None:
        begins = f"; count 1 at {body['first_count_s']:.2f} s, {_SOURCES[body['grid_source']]}"
    grid = f"{body['tempo_bpm']:g} a minute, {body['places_per_count']} places a count"
    return f"{hand}, {grid}{begins}."


def _hold_sentences(body: Json) -> list[str]:
    """Say what else is known of the hold: clean counts, catching again, lead, evenness, tiring."""
    said: list[str] = []
    if body["clean_counts"] is not None and body["clean_counts"] < body["count_held"]:
        said.append(f"{body['clean_counts']} of the counts held were clean.")
    last = body["last_locked_count"]
    if last is not None and last > body["count_held"]:
        said.append(f"The click was caught again: the last good count is {last}.")
    evenness = body["evenness"]
    lead_ms, spread_ms = evenness.get("lead_ms"), evenness.get("interval_sd_ms")
    if lead_ms is not None and body["grid_source"] != "strokes":
        said.append(f"The hand lies {abs(lead_ms):.1f} ms {'before' if lead_ms < 0 else 'behind'}.")
    if spread_ms is not None:
        said.append(f"Intervals spread by {spread_ms:.1f} ms.")
    if body["tiring"].get("onset_count") is not None:
        said.append(_tiring_sentence(body["tiring"]))
    return said


def _tiring_sentence(tiring: Json) -> str:
    """Say where the hand left its early range."""
    way = way_of_tiring(tiring)
    return f"From count {tiring['onset_count']} on it gets {way} than it began."


def _drive_table(body: Json) -> str:
    """Lay out how the drive of each hand sounds."""
    lines: list[str] = []
    for sound in drive_sounds(body):
        hand = f" of the {sound.hand} hand" if sound.hand else ""
        lines.append(f"  How the drive{hand} sounds, with the range of four chances in five:")
        lines += [f"  {name:<31}{told:>16}   {span}".rstrip() for name, told, span in sound.rows]
    return "\n".join(lines)


def _place_table(body: Json) -> str:
    """Lay out timing and level by place."""
    places = body["evenness"].get("places") or []
    if not places:
        return ""
    rows = (
        ("place", list(place_names(len(places)))),
        ("timing ms", [f"{place['timing_ms']:+.1f}" for place in places]),
        ("level dB", [f"{place['level_db']:+.1f}" for place in places]),
    )
    lines = [f"  {head:<10}" + "".join(f"{cell:>7}" for cell in cells) for head, cells in rows]
    return "\n".join(lines)


def _strokes_line(body: Json) -> str:
    """Sum the strokes up."""
    strokes = body["strokes"]
    if not strokes:
        return ""
    placed = sum(stroke["place"] is not None for stroke in strokes)
    span = f"{strokes[0]['time_s']:.2f} to {strokes[-1]['time_s']:.2f} s"
    return f"{len(strokes)} strokes from {span}, {placed} of them with a place."
