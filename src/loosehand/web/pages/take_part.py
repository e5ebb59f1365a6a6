"""What the page of a take shows of the part that it was of."""

from typing import Any

from loosehand.judge.part_heard import hear_part
from loosehand.studio.database import Studio
from loosehand.studio.part_take_words import (
    PlaceMark,
    asked_in_words,
    bars_heard,
    cure_in_words,
    drive_in_words,
    told_in_words,
    words_against,
)
from loosehand.studio.part_takes import part_of_take
from loosehand.studio.take_sheet import TakeSheet
from loosehand.web.plots.part_accents import draw_accents, draw_mark

__all__ = ["against_part"]

_KEY: tuple[tuple[PlaceMark, str], ...] = (
    ("came", "an accent that came"),
    ("missed", "one that was missed"),
    ("unasked", "one that came unasked"),
    ("untold", "one of which it cannot be told"),
    ("stroke", "a stroke without an accent"),
)
_SOMETIMES: tuple[PlaceMark, ...] = ("untold",)


def against_part(studio: Studio, sheet: TakeSheet) -> dict[str, Any] | None:
    """What is shown of a take against its part; None where it was of none.

    Parameters
    ----------
    studio : the studio
    sheet : of the take
    """
    taken = part_of_take(studio, sheet.take_id)
    if taken is None:
        return None
    shown: dict[str, Any] = {
        "taken": taken,
        "asked": asked_in_words(taken.asked),
        "slower": _tempo_in_words(sheet.tags.tempo_bpm, taken.asked.tempo_bpm),
        "told": None,
        "cure": "",
        "bars": [],
        "pictures": [],
        "key": [],
        "has_untold": False,
        "end": None,
        "drive": "",
        "technique_words": [],
    }
    if sheet.body is None or sheet.count_held is None:
        return shown
    heard = hear_part(sheet.body, taken.asked, count_held=sheet.count_held)
    bars = bars_heard(heard, ended=sheet.ended)
    seen = {mark for bar in bars for mark in bar.marks}
    return shown | {
        "told": told_in_words(heard, bars),
        "cure": cure_in_words(heard),
        "bars": bars,
        "pictures": draw_accents(bars),
        "key": [
            (draw_mark(mark), words)
            for mark, words in _KEY
            if mark in seen or mark not in _SOMETIMES
        ],
        "has_untold": "untold" in seen,
        "drive": drive_in_words(sheet.body, taken.asked),
        "technique_words": words_against(sheet.body, heard),
        "end": next((bar for bar in bars if bar.break_at is not None), None),
    }


def _tempo_in_words(tempo_bpm: float, asked_bpm: float) -> str:
    """Say at which tempo it was played, against the part's.

    Examples
    --------
    >>> _tempo_in_words(80.0, 104.0), _tempo_in_words(104.0, 104.0)
    ('at 80, slower than the part, which is at 104', 'at the tempo of the part, 104')
    """
    if abs(tempo_bpm - asked_bpm) < 0.005:
        return f"at the tempo of the part, {asked_bpm:g}"
    way = "slower" if tempo_bpm < asked_bpm else "faster"
    return f"at {tempo_bpm:g}, {way} than the part, which is at {asked_bpm:g}"
