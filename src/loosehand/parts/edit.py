"""Changes to a part, one at a time: a stroke set or taken away, marked, moved, handed over.

Every change returns a new part that four limbs can play, or refuses in one sentence and changes
nothing. A change is made to one written bar: what repeats it is changed with it, what was written
out again is not.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from loosehand.errors import BadNotation
from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.part import LIMBS, Bar, Limb, Mark, Part, Stroke, check_part

__all__ = [
    "EDITS",
    "FIRST_INSTRUMENTS",
    "At",
    "apply_edit",
    "hand_over",
    "instruments_of",
    "keep_notes",
    "move_instrument",
    "stroke_at",
    "toggle_mark",
    "toggle_stroke",
]

FIRST_INSTRUMENTS: dict[Limb, str] = {
    "right hand": "hat",
    "left hand": "snare",
    "right foot": "kick",
    "left foot": "foot hat",
}
"""What a limb strikes where it has no stroke nearby to go by (common practice, no source)."""

_OTHER_LIMB: dict[Limb, Limb] = {
    "right hand": "left hand",
    "left hand": "right hand",
    "right foot": "left foot",
    "left foot": "right foot",
}
_STEPS = "CDEFGAB"
_EXCLUDES: dict[Mark, Mark] = {"accent": "ghost", "ghost": "accent"}


@dataclass(frozen=True)
class At:
    """A place of one limb in a part, all numbers from 0.

    Attributes
    ----------
    section : in the part
    bar : written bar of the section
    place : of the bar's grid
    limb : who plays there, or does not
    """

    section: int
    bar: int
    place: int
    limb: Limb


def toggle_stroke(part: Part, at: At, *, instrument: str | None = None) -> Part:
    r"""Take the limb's stroke away, or set one where it has none.

    Parameters
    ----------
    part : is left as it was
    at : where
    instrument : what a new stroke strikes; None for what the limb strikes nearest in the bar

    Raises
    ------
    BadNotation    if there is no such place, or four limbs cannot play it

    Examples
    --------
    >>> from loosehand.parts.text import parse_part
    >>> part = parse_part("tempo: 100\nmeter: 2/4\ngrid: 2\nRF kick x. x.")
    >>> added = toggle_stroke(part, At(0, 0, 1, "right foot"))
    >>> [stroke.place for stroke in added.sections[0].bars[0].strokes]
    [0, 1, 2]
    """
    found = stroke_at(part, at)
    if found is not None:
        return _with_stroke(part, at, None)
    struck = instrument or _nearest_instrument(_bar_at(part, at), at)
    return _with_stroke(part, at, Stroke(at.place, at.limb, struck))


def toggle_mark(part: Part, at: At, mark: Mark) -> Part:
    """Give a stroke a mark or take it away; an accent ends a ghost note, and the reverse.

    Raises
    ------
    BadNotation    if there is no stroke, or the limb cannot play it so
    """
    stroke = _stroke_there(part, at)
    marks = set(stroke.marks) ^ {mark}
    if mark in marks and mark in _EXCLUDES:
        marks.discard(_EXCLUDES[mark])
    return _with_stroke(part, at, replace(stroke, marks=tuple(marks)))


def move_instrument(part: Part, at: At, *, steps: int) -> Part:
    """Move a stroke to a higher instrument on the staff, or a lower one; at the end it stays.

    Parameters
    ----------
    part : is left as it was
    at : where
    steps : how many instruments up; negative for down

    Raises
    ------
    BadNotation    if there is no stroke
    """
    stroke = _stroke_there(part, at)
    order = instruments_of(at.limb)
    index = min(max(order.index(stroke.instrument) + steps, 0), len(order) - 1)
    return _with_stroke(part, at, replace(stroke, instrument=order[index]))


def hand_over(part: Part, at: At) -> Part:
    """Give a stroke to the other hand, or to the other foot.

    Raises
    ------
    BadNotation    if there is no stroke, or the other limb has one of its own there
    """
    stroke = _stroke_there(part, at)
    other = _OTHER_LIMB[at.limb]
    if stroke_at(part, replace(at, limb=other)) is not None:
        raise BadNotation(f"the {other} has a stroke of its own there: take that away first")
    return _with_stroke(part, at, replace(stroke, limb=other))


EDITS: dict[str, Callable[[Part, At], Part]] = {
    "stroke": toggle_stroke,
    "accent": lambda part, at: toggle_mark(part, at, "accent"),
    "ghost": lambda part, at: toggle_mark(part, at, "ghost"),
    "flam": lambda part, at: toggle_mark(part, at, "flam"),
    "higher": lambda part, at: move_instrument(part, at, steps=1),
    "lower": lambda part, at: move_instrument(part, at, steps=-1),
    "other limb": hand_over,
}
"""Every change by its name."""


def apply_edit(part: Part, name: str, at: At) -> tuple[Part, At]:
    """Make a change by its name; return the part, and where the stroke is then.

    Raises
    ------
    BadNotation    if there is no change of that name, or it cannot be made
    """
    edit = EDITS.get(name)
    if edit is None:
        raise BadNotation(f"edit = {name[:30]!r}: want one of {', '.join(EDITS)}")
    changed = edit(part, at)
    return changed, replace(at, limb=_OTHER_LIMB[at.limb]) if edit is hand_over else at


def stroke_at(part: Part, at: At) -> Stroke | None:
    """Stroke of a limb at a place, None where it has none.

    Raises
    ------
    BadNotation    if there is no such place
    """
    strokes = _bar_at(part, at).strokes
    return next((one for one in strokes if (one.place, one.limb) == (at.place, at.limb)), None)


def instruments_of(limb: Limb) -> list[str]:
    """Instruments that a limb may play, from the lowest on the staff to the highest.

    Examples
    --------
    >>> instruments_of("left foot")
    ['foot hat', 'kick']
    """
    by_foot = limb.endswith("foot")
    names = [name for name, instrument in INSTRUMENTS.items() if instrument.by_foot == by_foot]
    return sorted(names, key=_height)


def keep_notes(before: str, after: str) -> str:
    r"""Put the lines of a text that begin with # back into it after it was written anew.

    They keep to their section: those above the first section stand at the top, others below the
    line that names their section.

    Parameters
    ----------
    before : the text with its notes
    after : the same part as ``write_part`` writes it

    Examples
    --------
    >>> print(keep_notes("# mine\n[a]\n# loose\nRF kick x", "[a]\nRF kick X"))
    # mine
    [a]
    # loose
    RF kick X
    """
    notes: dict[int, list[str]] = {}
    section = 0
    for line in before.splitlines():
        words = line.split(maxsplit=1)
        if not words:
            continue
        if words[0].startswith("#"):
            notes.setdefault(section, []).append(line)
        elif words[0].startswith("[") or (section == 0 and _begins_bars(words[0])):
            section += 1
    lines = notes.get(0, [])
    section = 0
    for line in after.splitlines():
        lines.append(line)
        if line.startswith("["):
            section += 1
            lines += notes.get(section, [])
    return "\n".join(lines) + ("\n" if after.endswith("\n") else "")


def _begins_bars(word: str) -> bool:
    """Whether a line of bars begins so: then a section without a name has begun."""
    return word.upper() in {"RH", "LH", "RF", "LF", "REST"}


def _height(name: str) -> tuple[int, int]:
    """How high an instrument stands on the staff; of those in one place, by their order."""
    instrument = INSTRUMENTS[name]
    step = 7 * instrument.display_octave + _STEPS.index(instrument.display_step)
    return step, list(INSTRUMENTS).index(name)


def _bar_at(part: Part, at: At) -> Bar:
    """Bar of a place. Raises BadNotation naming what is not there."""
    if at.limb not in LIMBS:
        raise BadNotation(f"limb = {at.limb[:30]!r}: want one of {', '.join(LIMBS)}")
    if not 0 <= at.section < len(part.sections):
        raise BadNotation(f"section {at.section + 1}: the part has {len(part.sections)}")
    bars = part.sections[at.section].bars
    if not 0 <= at.bar < len(bars):
        raise BadNotation(f"bar {at.bar + 1}: {part.sections[at.section].name} has {len(bars)}")
    bar = bars[at.bar]
    if not 0 <= at.place < bar.places:
        raise BadNotation(f"place {at.place}: bar {at.bar + 1} has places 0 to {bar.places - 1}")
    return bar


def _stroke_there(part: Part, at: At) -> Stroke:
    """Stroke at a place. Raises BadNotation where there is none."""
    found = stroke_at(part, at)
    if found is None:
        raise BadNotation(f"the {at.limb} has no stroke there: set one first")
    return found


def _nearest_instrument(bar: Bar, at: At) -> str:
    """What the limb strikes nearest to a place of its bar; else what it usually does."""
    own = [stroke for stroke in bar.strokes if stroke.limb == at.limb]
    if not own:
        return FIRST_INSTRUMENTS[at.limb]
    return min(own, key=lambda stroke: (abs(stroke.place - at.place), stroke.place)).instrument


def _with_stroke(part: Part, at: At, stroke: Stroke | None) -> Part:
    """The part with another stroke of the limb at a place, or without one."""
    section = part.sections[at.section]
    bar = _bar_at(part, at)
    others = [one for one in bar.strokes if (one.place, one.limb) != (at.place, at.limb)]
    changed = replace(bar, strokes=(*others, *(() if stroke is None else (stroke,))))
    bars = (*section.bars[: at.bar], changed, *section.bars[at.bar + 1 :])
    sections = (
        *part.sections[: at.section],
        replace(section, bars=bars),
        *part.sections[at.section + 1 :],
    )
    return check_part(replace(part, sections=sections))
