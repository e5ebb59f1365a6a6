"""A part as text that a drummer reads and types: the reader, and the writer beside it.

``docs/parts.md`` holds the grammar. Every refusal is one sentence that begins with the line
and the column, both from 1.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial

from loosehand.errors import BadNotation
from loosehand.parts.grid import Meter
from loosehand.parts.part import (
    DYNAMICS,
    MOST_BARS,
    MOST_PLACES,
    MOST_SECTIONS,
    SWING_LIMITS_PERCENT,
    Bar,
    Part,
    Section,
    check_part,
    check_tempo,
    check_words,
)
from loosehand.parts.text_bars import LimbLine, bars_of_lines, read_limb_line
from loosehand.parts.text_line import Line
from loosehand.parts.text_signs import (
    LABELS,
    MOST_CHARACTERS,
    grid_of_words,
    meter_of_words,
    number_of_words,
    tempo_of_words,
)
from loosehand.parts.text_writing import write_part

__all__ = ["parse_part", "write_part"]

_SETTING = re.compile(r"\s*([A-Za-z]+)\s*:(.*)", re.DOTALL)
_REST = re.compile(r"\s*rest(?:\s+(\d{1,6}))?\s*", re.IGNORECASE)
_TIMES = re.compile(r"x(\d{1,9})", re.IGNORECASE)
_WORD = re.compile(r"\S+")
_BEGINNINGS = (
    "want a setting such as 'tempo: 104', a section such as '[verse] x8', "
    "or a limb's line, which begins with RH, LH, RF or LF"
)
_UNNAMED = "groove"
_LONGEST_SETTING = 1_000
_MOST_LINES_OF_SYSTEM = 100


def parse_part(text: str) -> Part:
    r"""Part written as text.

    Parameters
    ----------
    text : settings (tempo, meter, grid), then sections with a line for each limb

    Raises
    ------
    BadNotation    in one sentence that names line and column and says what is wanted

    Examples
    --------
    >>> part = parse_part("tempo: 104\nmeter: 4/4\ngrid: 4\nRH hat xxxx xxxx xxxx xxxx")
    >>> len(part.sections[0].bars[0].strokes)
    16
    """
    if len(text) > MOST_CHARACTERS:
        raise BadNotation(
            f"line 1, column 1: the text is {len(text)} characters long, "
            f"want {MOST_CHARACTERS} at most"
        )
    reader = _Reader()
    rows = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    line = Line(1, "")
    for number, row in enumerate(rows, start=1):
        line = Line(number, row)
        reader.read(line)
    return reader.part(line)


@dataclass
class _Head:
    """What stands in a section's first line, and the bars below it."""

    line: Line
    name: str
    times: int = 1
    dynamic: str | None = None
    tempo_bpm: Fraction | None = None
    bars: list[Bar] = field(default_factory=list)


class _Reader:
    """Reads line after line, and holds what was read so far."""

    def __init__(self) -> None:
        self._title = ""
        self._tempo: tuple[Fraction, Fraction] | None = None
        self._swing_percent = 50
        self._feel: tuple[str, ...] = ()
        self._meter: Meter | None = None
        self._grid: str | None = None
        self._set: set[str] = set()
        self._heads: list[_Head] = []
        self._lines: list[LimbLine] = []
        self._bars_in_all = 0
        self._known_bars: dict[Bar, Bar] = {}
        self._settings: dict[str, Callable[[Line, int, str], None]] = {
            "title": self._read_title,
            "tempo": self._read_tempo,
            "meter": self._read_meter,
            "grid": self._read_grid,
            "swing": self._read_swing,
            "feel": self._read_feel,
        }

    def read(self, line: Line) -> None:
        """Take one line."""
        words = line.text.split(maxsplit=1)
        if not words:
            self._end_system()
        elif words[0].startswith("#"):
            return
        elif words[0].startswith("["):
            self._read_head(line)
        elif words[0].upper() in LABELS:
            self._read_limb(line)
        elif rest := _REST.fullmatch(line.text):
            self._read_rest(line, rest)
        elif setting := _SETTING.fullmatch(line.text):
            self._read_setting(line, setting)
        else:
            raise line.fault(line.first_column, f"'{line.word()}' begins no line: {_BEGINNINGS}")

    def part(self, last: Line) -> Part:
        """Everything that was read, as a part."""
        self._end_section()
        if not self._heads:
            raise last.fault(
                1, "the text ends without a bar: want a limb's line such as 'RF kick x...'"
            )
        tempo_bpm, beat = self._tempo_for(last)
        sections = tuple(
            Section(head.name, tuple(head.bars), head.times, head.dynamic, head.tempo_bpm)
            for head in self._heads
        )
        part = Part(self._title, tempo_bpm, beat, self._swing_percent, self._feel, sections)
        return last.told(1, lambda: check_part(part))

    # ------------------------------------------------------------ settings

    def _read_setting(self, line: Line, found: re.Match[str]) -> None:
        name = found[1].lower()
        act = self._settings.get(name)
        column = found.start(1) + 1
        if act is None:
            wanted = ", ".join(self._settings)
            raise line.fault(column, f"'{line.word()}' is no setting: want one of {wanted}")
        self._end_system()
        if name not in ("meter", "grid"):
            if self._heads:
                raise line.fault(column, f"{name} stands below a section: want it above the first")
            if name in self._set:
                raise line.fault(column, f"{name} is set a second time: want it once")
        self._set.add(name)
        words = found[2].strip()
        at = found.start(2) + 1 + len(found[2]) - len(found[2].lstrip())
        if len(words) > _LONGEST_SETTING:
            raise line.fault(
                at, f"{name} is {len(words)} characters long: want {_LONGEST_SETTING} at most"
            )
        act(line, at, words)

    def _read_title(self, line: Line, column: int, words: str) -> None:
        self._title = " ".join(words.split())
        line.told(column, lambda: check_words(self._title, "the title", may_be_empty=True))

    def _read_tempo(self, line: Line, column: int, words: str) -> None:
        tempo_bpm, beat = line.told(column, lambda: tempo_of_words(words))
        line.told(column, lambda: check_tempo(tempo_bpm, "tempo"))
        self._tempo = tempo_bpm, beat

    def _read_meter(self, line: Line, column: int, words: str) -> None:
        self._meter = line.told(column, lambda: meter_of_words(words))

    def _read_grid(self, line: Line, column: int, words: str) -> None:
        quarters = Meter((1,), 4)
        line.told(column, lambda: grid_of_words(words, self._meter or quarters))
        self._grid = words

    def _read_swing(self, line: Line, column: int, words: str) -> None:
        low, high = SWING_LIMITS_PERCENT
        percent = words.removesuffix("%").strip()
        if not (percent.isascii() and percent.isdigit() and len(percent) < 4):
            raise line.fault(column, f"swing is no number: want {low} (straight) to {high}")
        if not low <= int(percent) <= high:
            raise line.fault(column, f"swing = {percent}: want {low} (straight) to {high}")
        self._swing_percent = int(percent)

    def _read_feel(self, line: Line, column: int, words: str) -> None:
        phrases = [" ".join(phrase.split()) for phrase in words.split(",")]
        for phrase in phrases:
            act = partial(check_words, phrase, "a word for the feel", may_be_empty=False)
            line.told(column, act)
        self._feel = tuple(phrases)

    # ------------------------------------------------------------ sections

    def _read_head(self, line: Line) -> None:
        self._end_section()
        self._tempo_for(line)
        end = line.text.rfind("]")
        if end < 0:
            raise line.fault(line.first_column, "the section's name has no ']' behind it: want one")
        start = line.text.index("[") + 1
        name = " ".join(line.text[start:end].split())
        line.told(start, lambda: check_words(name, "the section's name", may_be_empty=False))
        head = _Head(line, name)
        words = list(_WORD.finditer(line.text, end + 1))
        seen: set[str] = set()
        while words:
            column = words[0].start() + 1
            what = _read_head_word(line, head, words)
            if what in seen:
                raise line.fault(column, f"the section has its {what} twice: want it once")
            seen.add(what)
        if len(self._heads) == MOST_SECTIONS:
            raise line.fault(
                line.first_column, f"one section too many: want {MOST_SECTIONS} at most"
            )
        self._heads.append(head)

    def _tempo_for(self, line: Line) -> tuple[Fraction, Fraction]:
        if self._tempo is None:
            raise line.fault(1, "no tempo yet: want a line such as 'tempo: 104' above this one")
        return self._tempo

    def _head_for(self, line: Line) -> _Head:
        if not self._heads:
            self._tempo_for(line)
            self._heads.append(_Head(line, _UNNAMED))
        return self._heads[-1]

    def _end_section(self) -> None:
        self._end_system()
        if self._heads and not self._heads[-1].bars:
            head = self._heads[-1]
            raise head.line.fault(
                head.line.first_column, f"{head.name} has no bar: want one or more"
            )

    def _add_bars(self, line: Line, bars: Sequence[Bar]) -> None:
        head = self._head_for(line)
        self._bars_in_all += len(bars) * head.times
        if self._bars_in_all > MOST_BARS:
            raise line.fault(
                line.first_column,
                f"the form grows to {self._bars_in_all} bars with its repeats: "
                f"want {MOST_BARS} at most",
            )
        head.bars.extend(bars)

    # ------------------------------------------------------------ bars

    def _read_limb(self, line: Line) -> None:
        self._head_for(line)
        if len(self._lines) == _MOST_LINES_OF_SYSTEM:
            raise line.fault(
                line.first_column,
                f"one line too many stands here: want {_MOST_LINES_OF_SYSTEM} at most, "
                "then a blank line",
            )
        self._lines.append(read_limb_line(line, self._empty_bar(line)))

    def _end_system(self) -> None:
        if self._lines:
            lines, self._lines = self._lines, []
            bars = bars_of_lines(lines, self._empty_bar(lines[0].line))
            known = [self._known_bars.setdefault(bar, bar) for bar in bars]
            self._add_bars(lines[0].line, known)

    def _read_rest(self, line: Line, found: re.Match[str]) -> None:
        self._end_system()
        bars = int(found[1]) if found[1] else 1
        if not 1 <= bars <= MOST_BARS:
            raise line.fault(found.start(1) + 1, f"a rest of {bars} bars: want 1 to {MOST_BARS}")
        self._add_bars(line, [self._empty_bar(line)] * bars)

    def _empty_bar(self, line: Line) -> Bar:
        if self._meter is None:
            raise line.fault(1, "no meter yet: want a line such as 'meter: 4/4' above this one")
        if self._grid is None:
            raise line.fault(1, "no grid yet: want a line such as 'grid: 4' above this one")
        meter, grid = self._meter, self._grid
        bar = Bar(meter, line.told(1, lambda: grid_of_words(grid, meter)), ())
        if bar.places > MOST_PLACES:
            raise line.fault(1, f"a bar of {bar.places} places: want {MOST_PLACES} at most")
        return bar


def _read_head_word(line: Line, head: _Head, words: list[re.Match[str]]) -> str:
    """Take the next word or two behind a section's name, and say what they were."""
    found = words.pop(0)
    word, column = found[0].lower(), found.start() + 1
    if word in DYNAMICS:
        head.dynamic = word
        return "dynamic"
    if times := _TIMES.fullmatch(word):
        head.times = int(times[1])
        if not 1 <= head.times <= MOST_BARS:
            raise line.fault(column, f"{head.name} is played {word}: want x1 to x{MOST_BARS}")
        return "number of times"
    if word == "tempo":
        figure = number_of_words(words[0][0]) if words else None
        if figure is None:
            raise line.fault(column, "tempo has no number behind it: want one, as in 'tempo 112'")
        words.pop(0)
        line.told(column, lambda: check_tempo(figure, "tempo"))
        head.tempo_bpm = figure
        return "tempo"
    raise line.fault(
        column,
        f"'{found[0][:20]}' tells nothing of a section: want its times such as x8, "
        f"a dynamic ({', '.join(DYNAMICS)}) or 'tempo 112'",
    )
