"""Writing a part as text: settings, sections, and a line for each limb and instrument."""

from collections.abc import Iterator
from itertools import groupby

from loosehand.errors import BadNotation
from loosehand.parts.grid import Meter
from loosehand.parts.instruments import INSTRUMENTS
from loosehand.parts.part import Bar, Limb, Part, Section, Stroke, check_part
from loosehand.parts.text_signs import (
    LABELS,
    MOST_CHARACTERS,
    NOTHING,
    OPEN_SIGNS,
    SIGNS,
    words_of_meter,
    words_of_number,
    words_of_tempo,
)

__all__ = ["write_part"]

_MOST_WIDTH = 80
_MOST_BARS_OF_SYSTEM = 16
_SIGN_OF = {marks: sign for sign, marks in SIGNS.items()}
_OPEN_SIGN_OF = {marks: sign for sign, marks in OPEN_SIGNS.items()}
_LABEL_OF = {limb: label for label, limb in LABELS.items()}
_LIMB_ORDER = {limb: index for index, limb in enumerate(LABELS.values())}
_INSTRUMENT_ORDER = {name: index for index, name in enumerate(INSTRUMENTS)}

_Grid = tuple[Meter, int]


def write_part(part: Part) -> str:
    """Text of a part, which ``parse_part`` reads back exactly.

    Raises
    ------
    BadNotation    if four limbs cannot play the part, or its text would be too long to read
    """
    check_part(part)
    lines = list(_lines_of_heading(part))
    grid = _grid_of(part.sections[0].bars[0])
    for section in part.sections:
        lines.append("")
        lines.append(_line_of_section(section))
        lines.extend(_lines_of_bars(section, grid))
        grid = _grid_of(section.bars[-1])
    text = "\n".join(lines) + "\n"
    if len(text) > MOST_CHARACTERS:
        raise BadNotation(
            f"the part needs {len(text)} characters as text: want {MOST_CHARACTERS} at most"
        )
    return text


def _grid_of(bar: Bar) -> _Grid:
    return bar.meter, bar.places_per_unit


def _lines_of_heading(part: Part) -> Iterator[str]:
    if part.title:
        yield f"title: {part.title}"
    yield f"tempo: {words_of_tempo(part.tempo_bpm, part.beat)}"
    meter, places_per_unit = _grid_of(part.sections[0].bars[0])
    yield f"meter: {words_of_meter(meter)}"
    yield f"grid: {places_per_unit}"
    if part.swing_percent != 50:
        yield f"swing: {part.swing_percent}"
    if part.feel:
        yield f"feel: {', '.join(part.feel)}"


def _line_of_section(section: Section) -> str:
    words = [f"[{section.name}]"]
    if section.times != 1:
        words.append(f"x{section.times}")
    if section.dynamic is not None:
        words.append(section.dynamic)
    if section.tempo_bpm is not None:
        words.append(f"tempo {words_of_number(section.tempo_bpm)}")
    return " ".join(words)


def _lines_of_bars(section: Section, grid: _Grid) -> Iterator[str]:
    for number, (changed, bars) in enumerate(_systems(section.bars)):
        if number:
            yield ""
        if changed[0] != grid[0]:
            yield f"meter: {words_of_meter(changed[0])}"
        if changed[1] != grid[1]:
            yield f"grid: {changed[1]}"
        grid = changed
        yield from _lines_of_system(bars)


def _systems(bars: tuple[Bar, ...]) -> Iterator[tuple[_Grid, list[Bar]]]:
    """Cut bars into lines of one grid that fit the width; rests stand by themselves."""
    for (meter, places_per_unit, empty), alike in groupby(
        bars, key=lambda bar: (*_grid_of(bar), not bar.strokes)
    ):
        grid = (meter, places_per_unit)
        if empty:
            yield grid, list(alike)
            continue
        system: list[Bar] = []
        width = 0
        for bar in alike:
            added = 4 if system and bar == system[-1] else bar.places + len(meter.grouping) + 2
            if system and (width + added > _MOST_WIDTH or len(system) == _MOST_BARS_OF_SYSTEM):
                yield grid, system
                system, width = [], 0
                added = bar.places + len(meter.grouping) + 2
            system.append(bar)
            width += added
        yield grid, system


def _lines_of_system(bars: list[Bar]) -> Iterator[str]:
    if not bars[0].strokes:
        yield f"rest {len(bars)}"
        return
    signs = [_signs_of(bar) for bar in bars]
    names = sorted(
        {name for of_bar in signs for name in of_bar},
        key=lambda name: (_LIMB_ORDER[name[0]], _INSTRUMENT_ORDER[name[1]]),
    )
    labels = [f"{_LABEL_OF[limb]} {instrument}" for limb, instrument in names]
    width = max(map(len, labels))
    for label, name in zip(labels, names, strict=True):
        written = [
            _places(bar, of_bar.get(name, {})) for bar, of_bar in zip(bars, signs, strict=True)
        ]
        shown = [
            "%" if number and places == written[number - 1] else places
            for number, places in enumerate(written)
        ]
        yield f"{label:<{width}}  {' | '.join(shown)}"


def _signs_of(bar: Bar) -> dict[tuple[Limb, str], dict[int, str]]:
    """Signs by place, for each limb and instrument of a bar."""
    lines: dict[tuple[Limb, str], dict[int, str]] = {}
    for stroke in bar.strokes:
        instrument, sign = _line_and_sign(stroke)
        lines.setdefault((stroke.limb, instrument), {})[stroke.place] = sign
    return lines


def _line_and_sign(stroke: Stroke) -> tuple[str, str]:
    if stroke.instrument == "open hat" and stroke.marks in _OPEN_SIGN_OF:
        return "hat", _OPEN_SIGN_OF[stroke.marks]
    return stroke.instrument, _SIGN_OF[stroke.marks]


def _places(bar: Bar, signs: dict[int, str]) -> str:
    """All places of a line's bar, count by count."""
    counts, place = [], 0
    for group in bar.meter.grouping:
        end = place + group * bar.places_per_unit
        counts.append("".join(signs.get(at, NOTHING[0]) for at in range(place, end)))
        place = end
    return " ".join(counts)
