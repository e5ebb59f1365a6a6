"""The staff of a part's page: which bars are drawn at once, and what a script may select there.

A part is cut into pieces, each some bars of one section, and each piece is engraved by itself and
kept. So typing in one section engraves that section only, and a long part is leafed through.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from markupsafe import Markup

from loosehand.errors import InputError
from loosehand.parts.part import LIMBS, Bar, Part, Section
from loosehand.parts.place_words import place_in_words, stroke_in_words
from loosehand.sheets.part_engraving import StaffWords, part_to_svg

__all__ = [
    "BARS_AT_ONCE",
    "WIDTHS_PX",
    "Piece",
    "StaffAsked",
    "StaffShown",
    "pieces_of",
    "staff_of",
    "width_asked",
]

BARS_AT_ONCE = 12
"""Bars that are engraved for one answer, some 12 ms each (ours)."""

WIDTHS_PX = (310, 480, 660, 860, 1060)
"""Widths of a system that are offered; few, so that what was engraved can be kept."""

_LARGER_FROM_PX = 660
_LARGER = 1.2
_SIZE = re.compile(r' width="([0-9.]+)" height="([0-9.]+)"')
_KEPT_PIECES = 256
_MOST_NAMED = 60


@dataclass(frozen=True)
class Piece:
    """Bars of one section that are engraved together.

    Attributes
    ----------
    number : of the piece in the part, from 0
    section : of the part, from 0
    first_bar : of the section, from 0
    bars : how many
    title : what it is called
    """

    number: int
    section: int
    first_bar: int
    bars: int
    title: str

    @property
    def prefix(self) -> str:
        """What the ids on its staff begin with."""
        return f"s{self.section}x{self.first_bar}"


@dataclass(frozen=True)
class StaffAsked:
    """What is to be drawn.

    Attributes
    ----------
    start : number of the first piece; one past the last is the last
    width_px : of a system, one of WIDTHS_PX
    section : that is to be among them, from its beginning; None for any
    sticking, counts : what stands under the notes
    """

    start: int
    width_px: int
    section: int | None = None
    sticking: bool = False
    counts: bool = False


@dataclass(frozen=True)
class StaffShown:
    """What is drawn at once.

    Attributes
    ----------
    drawn : pieces, each with its systems as SVG
    bars : of these pieces, as JSON, for the script that selects strokes
    pieces : all pieces of the part, or those around where there are many
    before, after : numbers of the pieces that one leafs to, None where there is none
    """

    drawn: tuple[tuple[Piece, Markup], ...]
    bars: str
    pieces: tuple[Piece, ...]
    before: int | None
    after: int | None

    @property
    def start(self) -> int:
        """Number of the first piece that is drawn."""
        return self.drawn[0][0].number


def pieces_of(part: Part) -> list[Piece]:
    """Cut a part into pieces of so many bars as are drawn at once, or fewer."""
    pieces: list[Piece] = []
    for index, section in enumerate(part.sections):
        for first in range(0, len(section.bars), BARS_AT_ONCE):
            bars = min(BARS_AT_ONCE, len(section.bars) - first)
            title = _piece_title(section, first, bars)
            pieces.append(Piece(len(pieces), index, first, bars, title))
    return pieces


def staff_of(part: Part, asked: StaffAsked) -> StaffShown:
    """Draw the pieces of a part from one on, as many as are drawn at once.

    Parameters
    ----------
    part : a part that was checked
    asked : from where, how wide

    Raises
    ------
    BadNotation   if it cannot be engraved
    """
    pieces = pieces_of(part)
    start = min(max(asked.start, 0), len(pieces) - 1)
    shown = _fitting(pieces[start:])
    if asked.section is not None and asked.section not in {piece.section for piece in shown}:
        start = next((one.number for one in pieces if one.section == asked.section), start)
        shown = _fitting(pieces[start:])
    after = start + len(shown)
    named = max(0, start - _MOST_NAMED // 2)
    return StaffShown(
        drawn=tuple((piece, _drawn(part, piece, asked, start)) for piece in shown),
        bars=json.dumps([bar for piece in shown for bar in _bars_as_json(part, piece)]),
        pieces=tuple(pieces[named : named + _MOST_NAMED]),
        before=_start_before(pieces, start),
        after=after if after < len(pieces) else None,
    )


def _drawn(part: Part, piece: Piece, asked: StaffAsked, start: int) -> Markup:
    """Systems of a piece; the first one drawn says the tempo."""
    words = StaffWords(asked.sticking, asked.counts, tempo=piece.number == start)
    alone = _part_of(part, piece, says_tempo=words.tempo)
    return Markup("".join(_engraved(alone, piece.prefix, asked.width_px, words)))


def width_asked(word: str | None) -> int:
    """Width of a system that fits into a width in pixels; the widest where none is said.

    Raises
    ------
    InputError   if it is no number

    Examples
    --------
    >>> width_asked("700"), width_asked("99"), width_asked(None)
    (660, 310, 1060)
    """
    if word is None:
        return WIDTHS_PX[-1]
    if not (word.isascii() and word.isdigit() and len(word) < 6):
        raise InputError(f"width = {word[:20]!r}: want pixels, such as 660")
    return max((width for width in WIDTHS_PX if width <= int(word)), default=WIDTHS_PX[0])


def _piece_title(section: Section, first: int, bars: int) -> str:
    words = [section.name]
    if len(section.bars) > BARS_AT_ONCE:
        words.append(f"bar {first + 1}" if bars == 1 else f"bars {first + 1} to {first + bars}")
    if section.times > 1:
        words.append(f"{section.times} times")
    if section.dynamic is not None:
        words.append(section.dynamic)
    return ", ".join(words)


def _fitting(pieces: Sequence[Piece]) -> list[Piece]:
    """The first pieces, as many as are drawn at once; one at least."""
    shown: list[Piece] = []
    bars = 0
    for piece in pieces:
        bars += piece.bars
        if shown and bars > BARS_AT_ONCE:
            break
        shown.append(piece)
    return shown


def _start_before(pieces: Sequence[Piece], start: int) -> int | None:
    """Number of the piece from which one comes to ``start`` in one leaf."""
    if start == 0:
        return None
    return start - len(_fitting(pieces[start - 1 :: -1]))


def _part_of(part: Part, piece: Piece, *, says_tempo: bool) -> Part:
    """A part of one piece; what is not said of it does not matter, so that it is kept alike."""
    section = part.sections[piece.section]
    bars = section.bars[piece.first_bar : piece.first_bar + piece.bars]
    is_whole = len(bars) == len(section.bars)
    shown = replace(
        section,
        bars=bars,
        times=section.times if is_whole else 1,
        tempo_bpm=section.tempo_bpm if piece.first_bar == 0 else None,
    )
    return replace(
        part,
        title=", ".join(word for word in (part.title, piece.title) if word),
        tempo_bpm=_tempo_at(part, piece.section) if says_tempo else Fraction(100),
        swing_percent=part.swing_percent if says_tempo else 50,
        feel=part.feel if says_tempo else (),
        sections=(shown,),
    )


def _tempo_at(part: Part, section: int) -> Fraction:
    """Tempo that holds in a section."""
    tempo_bpm = part.tempo_bpm
    for before in part.sections[: section + 1]:
        tempo_bpm = before.tempo_bpm or tempo_bpm
    return tempo_bpm


@lru_cache(maxsize=_KEPT_PIECES)
def _engraved(part: Part, prefix: str, width_px: int, words: StaffWords) -> tuple[str, ...]:
    """Systems of a part as SVG; where there is room, drawn larger than the engraver does."""
    if width_px < _LARGER_FROM_PX:
        return tuple(part_to_svg(part, width_px=width_px, words=words, prefix=prefix))
    systems = part_to_svg(part, width_px=int(width_px / _LARGER), words=words, prefix=prefix)
    return tuple(_SIZE.sub(_enlarged, system, count=1) for system in systems)


def _enlarged(size: re.Match[str]) -> str:
    width, height = (round(_LARGER * float(side), 1) for side in size.groups())
    return f' width="{width:g}" height="{height:g}"'


def _bars_as_json(part: Part, piece: Piece) -> list[dict[str, Any]]:
    """Bars of a piece: where they stand, what their places are called, who strikes."""
    section = part.sections[piece.section]
    return [
        {
            "section": piece.section,
            "bar": piece.first_bar + index,
            "group": f"{piece.prefix}b{index + 1}",
            "said": f"{section.name} bar {piece.first_bar + index + 1}",
            "places": list(_places_said(replace(bar, strokes=()))),
            "strokes": [
                {
                    "place": stroke.place,
                    "limb": LIMBS.index(stroke.limb),
                    "marks": list(stroke.marks),
                    "said": stroke_in_words(stroke),
                }
                for stroke in bar.strokes
            ],
        }
        for index, bar in enumerate(section.bars[piece.first_bar : piece.first_bar + piece.bars])
    ]


@lru_cache(maxsize=64)
def _places_said(bar: Bar) -> tuple[str, ...]:
    """What the places of a bar without strokes are called."""
    return tuple(place_in_words(bar, place) for place in range(bar.places))
