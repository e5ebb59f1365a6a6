"""The chart on paper: one month on one page, days across, tempos down, for a pencil.

Black ink only. A box around a number means held to its end. Set with typst, in the fonts that it
carries; fonts of the machine are asked for only where a word needs letters that those lack.
"""

import calendar
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date

from loosehand.errors import InputError

__all__ = ["MOST_TEMPOS", "SIZES", "ChartPaper", "PaperMark", "chart_paper_pdf"]

SIZES = {"a4": "a4", "letter": "us-letter"}
"""Paper sizes, and what typst calls them. Both lie on their long side."""

MOST_TEMPOS = 30
"""Most rows that leave room for a pencil. Chosen by eye, not validated."""

_LAST_LETTER_OF_OUR_FONTS = 0x052F
"""Latin, Greek and Cyrillic are in the fonts that typst carries."""

_MOST_IN_A_CELL = 3
_LONGEST_PIECE = 16

_SOURCE = r"""
#let sheet = json(bytes(sys.inputs.sheet))
#set document(title: sheet.title, date: none)
#set page(paper: sheet.paper, flipped: true, margin: (x: 9mm, top: 9mm, bottom: 8mm))
#set text(font: sheet.fonts, size: 9pt, lang: "en", number-width: "tabular")
#set par(leading: 0.5em)
#let hair = 0.35pt + black
#let line-of(label, said, most: 18) = box(width: 100%)[
  #text(size: 8pt)[#label] #box(width: 1fr, stroke: (bottom: hair), outset: (bottom: 2pt))[
    #text(weight: "semibold", size: if said.clusters().len() > most { 6pt } else { 9pt })[#said]
  ]
]
#grid(columns: (1.7fr, 1fr), column-gutter: 8mm, align: bottom,
  line-of("Player", sheet.player, most: 44),
  align(right, text(size: 17pt, weight: "semibold")[#sheet.month]))
#v(1.5mm)
#grid(columns: (1fr, 1.5fr, 1.2fr, 1fr, 1fr, 0.8fr), column-gutter: 5mm,
  ..sheet.tags.map(tag => line-of(tag.label, tag.said)))
#v(1.5mm)
#let mark(found) = if found.held {
  box(stroke: 0.9pt + black, inset: (x: 1.2pt), outset: (y: 1.6pt))[#found.text]
} else [#found.text]
#let cell(marks) = {
  let long = marks.map(m => m.text).join("", default: "").len() > 3
  let many = marks.len() > 2
  let size = if many { 4.2pt } else if long { 6pt } else { 8.5pt }
  text(size: size, marks.map(mark).join(if many { " " } else { linebreak() }))
}
#let heavy = 1.3pt + black
#block(height: 1fr, width: 100%, table(
  columns: (13mm,) + (1fr,) * sheet.days.len(),
  rows: (auto,) + (1fr,) * (sheet.tempos.len() + 2),
  align: center + horizon,
  inset: (x: 1pt, y: 2pt),
  stroke: (x, y) => (
    left: if x > 0 and sheet.days.at(x - 1).monday { heavy } else { hair },
    right: if sheet.days.at(x, default: (monday: false)).monday { heavy } else { hair },
    top: if y == 1 { heavy } else { hair },
    bottom: if y == 0 { heavy } else { hair },
  ),
  table.header(
    text(size: 7pt)[counts\ a minute],
    ..sheet.days.map(day => [#text(size: 7pt)[#day.weekday]\ #strong(str(day.number))]),
  ),
  ..sheet.tempos.map(tempo => (
    strong(tempo.label), ..tempo.cells.map(cell),
  )).flatten(),
  text(size: 7pt)[rest day], ..sheet.days.map(day => []),
  text(size: 7pt)[feel], ..sheet.days.map(day => []),
))
#v(1.2mm)
#text(size: 7.5pt)[#sheet.key\ #sheet.care]
"""

_KEY_BLANK = (
    "Write the last count before the hand lost the click; draw a box around it where it was held "
    "to the end of the round. Cross the rest days. Feel: l loose, w working, t tense, p pain."
)
_KEY_FILLED = (
    "The last count before the hand lost the click; a box: held to the end of the round; "
    "*: corrected by a person; ?: not judged; 40/52: 40 of a round of 52 counts; "
    "+2: two rounds more. "
    "Feel: l loose, w working, t tense, p pain."
)


@dataclass(frozen=True)
class PaperMark:
    """A number on the sheet, and whether it was held to the end."""

    day: date
    tempo_bpm: float
    text: str
    held: bool


@dataclass(frozen=True)
class ChartPaper:
    """A month of one hand.

    Attributes
    ----------
    player : written at its head
    month : any day of it
    hand, technique, surface, loudness, places_per_count, round_s : what the rounds share; None is
        left open for the pencil
    tempos_bpm : the rows, in rising order
    marks : numbers that stand there already, in the order played; none for a blank sheet
    care : the caution at its foot
    size : a4 or letter
    """

    player: str
    month: date
    hand: str
    technique: str | None
    surface: str | None
    loudness: str | None
    places_per_count: int
    round_s: float
    tempos_bpm: tuple[float, ...]
    marks: tuple[PaperMark, ...]
    care: str
    size: str


def chart_paper_pdf(paper: ChartPaper) -> bytes:
    """Print a month of the chart.

    Parameters
    ----------
    paper : what stands on it; its marks lie in its month and on its tempos

    Returns
    -------
    pdf : one page, long side across

    Raises
    ------
    InputError   if the size is not known, or there are too many tempos for a page
    """
    import typst

    sheet = _sheet(paper)
    pdf = typst.compile(
        _SOURCE.encode(),
        sys_inputs={"sheet": json.dumps(sheet)},
        ignore_system_fonts=not _needs_other_fonts(_words(paper)),
    )
    assert isinstance(pdf, bytes), "typst gives one PDF"
    return pdf


def _sheet(paper: ChartPaper) -> dict[str, object]:
    """Lay out what the typesetter is told."""
    if paper.size not in SIZES:
        raise InputError(f"size = {paper.size[:40]!r} is not known; want one of: a4, letter")
    if not 1 <= len(paper.tempos_bpm) <= MOST_TEMPOS:
        raise InputError(
            f"the sheet has {len(paper.tempos_bpm)} tempos; want 1 to {MOST_TEMPOS} on a page"
        )
    month = f"{calendar.month_name[paper.month.month]} {paper.month.year}"
    days = _days(paper.month)
    return {
        "title": f"Chart of {paper.player}, {month}, {paper.hand}",
        "paper": SIZES[paper.size],
        "fonts": ["Libertinus Serif", "New Computer Modern", "DejaVu Sans Mono"],
        "player": paper.player,
        "month": month,
        "tags": _tags(paper),
        "days": [
            {
                "number": day.day,
                "weekday": calendar.day_abbr[day.weekday()][:2],
                "monday": day.weekday() == 0,
            }
            for day in days
        ],
        "tempos": _tempos(paper, days),
        "key": _KEY_FILLED if paper.marks else _KEY_BLANK,
        "care": paper.care,
    }


def _days(month: date) -> list[date]:
    """Days of a month."""
    _, days = calendar.monthrange(month.year, month.month)
    return [month.replace(day=number) for number in range(1, days + 1)]


def _tags(paper: ChartPaper) -> list[dict[str, str]]:
    """Tags in words, by their labels."""
    return [
        {"label": "Hand", "said": paper.hand},
        {"label": "Technique", "said": _breakable(paper.technique or "")},
        {"label": "Surface", "said": _breakable(paper.surface or "")},
        {"label": "Loudness", "said": paper.loudness or ""},
        {"label": "Places a count", "said": str(paper.places_per_count)},
        {"label": "Round", "said": f"{paper.round_s:g} s"},
    ]


def _tempos(paper: ChartPaper, days: Iterable[date]) -> list[dict[str, object]]:
    """Rows: a tempo, and its marks day by day."""
    marks: dict[tuple[float, date], list[PaperMark]] = {}
    for mark in paper.marks:
        marks.setdefault((mark.tempo_bpm, mark.day), []).append(mark)
    days = list(days)
    return [
        {
            "label": f"{tempo_bpm:g}",
            "cells": [_shown(marks.get((tempo_bpm, day), [])) for day in days],
        }
        for tempo_bpm in paper.tempos_bpm
    ]


def _shown(marks: list[PaperMark]) -> list[dict[str, object]]:
    """Marks of a cell: all that have room, and how many more there are."""
    if len(marks) > _MOST_IN_A_CELL:
        more = len(marks) - _MOST_IN_A_CELL + 1
        return [*_shown(marks[: _MOST_IN_A_CELL - 1]), {"text": f"+{more}", "held": False}]
    return [{"text": mark.text, "held": mark.held} for mark in marks]


def _breakable(words: str) -> str:
    """Let a very long word break, so that it stays on its line of the sheet."""
    return " ".join(
        "\u200b".join(word[at : at + _LONGEST_PIECE] for at in range(0, len(word), _LONGEST_PIECE))
        for word in words.split()
    )


def _words(paper: ChartPaper) -> str:
    """All words that come from people."""
    said = asdict(paper)
    return "".join(str(said[name] or "") for name in ("player", "technique", "surface"))


def _needs_other_fonts(words: str) -> bool:
    """Whether words hold letters that the fonts typst carries lack."""
    return any(ord(letter) > _LAST_LETTER_OF_OUR_FONTS for letter in words)
