"""The chart as CSV, version 1: one round a row.

UTF-8, a header, ISO dates. Columns: ``date, order, player, hand, technique, surface, loudness,
tempo_bpm, places_per_count, round_s, count_held, ended, feel``. Optional on reading: ``order``,
``technique``, ``surface``, ``loudness``, ``round_s`` (60 where absent), ``ended``, ``feel``.
Columns that Loosehand does not know are kept as they are. ``count_held`` is empty only where
``ended`` is 'not judged'. Text in, values out: no files here.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from loosehand.errors import BadTable, InputError
from loosehand.studio.round_tags import (
    ENDED,
    NOT_JUDGED,
    RoundTags,
    check_count,
    check_day,
    check_player,
    check_tags,
    check_tempo_bpm,
    check_whole,
    check_word,
)

__all__ = ["COLUMNS", "ChartRow", "decode_chart_csv", "read_chart_csv", "write_chart_csv"]

COLUMNS = (
    "date",
    "order",
    "player",
    "hand",
    "technique",
    "surface",
    "loudness",
    "tempo_bpm",
    "places_per_count",
    "round_s",
    "count_held",
    "ended",
    "feel",
)
_OPTIONAL = {"order", "technique", "surface", "loudness", "round_s", "ended", "feel"}
_REQUIRED = tuple(name for name in COLUMNS if name not in _OPTIONAL)
_ROUND_S = 60.0
_MOST_ROUNDS_A_DAY = 9999
_MOST_BYTES = 64_000_000


@dataclass(frozen=True)
class ChartRow:
    """One round of the chart.

    Attributes
    ----------
    day : its day
    order : the round's place in its day, from 1, or None where not said
    player : whose round
    tags : what the round was
    count_held : the last count before the hand lost the click, None if not judged
    ended : how it ended, None where not said
    extra : columns that Loosehand does not know, by name
    """

    day: date
    order: int | None
    player: str
    tags: RoundTags
    count_held: int | None
    ended: str | None
    extra: dict[str, str] = field(default_factory=dict)


def decode_chart_csv(data: bytes) -> str:
    """Bytes of a CSV file as text.

    Raises
    ------
    BadTable   if they are too many, or not UTF-8
    """
    if len(data) > _MOST_BYTES:
        raise BadTable(
            f"the chart has {len(data)} bytes; want at most {_MOST_BYTES}, so split it by year"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadTable(
            f"the chart is not UTF-8 text (byte {error.start}): save it as CSV in UTF-8"
        ) from error


def read_chart_csv(text: str) -> list[ChartRow]:
    """Read a chart.

    Raises
    ------
    BadTable   naming the line and the column that cannot be read
    """
    lines = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        header = _check_header(next(lines, []))
        rows = [_read_row(header, cells, line=lines.line_num) for cells in lines if any(cells)]
    except csv.Error as error:
        raise BadTable(f"line {lines.line_num} of the chart is not CSV: {error}") from error
    _check_orders(rows)
    return rows


def write_chart_csv(rows: Sequence[ChartRow]) -> str:
    """Write a chart: the known columns in their order, then the others by name."""
    extra = sorted({name for row in rows for name in row.extra})
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*COLUMNS, *extra])
    for row in rows:
        writer.writerow([*_known_cells(row), *(row.extra.get(name, "") for name in extra)])
    return out.getvalue()


def _check_header(cells: list[str]) -> list[str]:
    """Check the header and return its names."""
    names = [cell.strip() for cell in cells]
    missing = [name for name in _REQUIRED if name not in names]
    if missing:
        found = ", ".join(repr(name[:30]) for name in names[:20]) or "nothing"
        raise BadTable(
            f"the chart lacks the column{'s' if len(missing) > 1 else ''} {', '.join(missing)}: "
            f"its first line holds {found}; want at least {','.join(_REQUIRED)}"
        )
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadTable(f"the chart has the column {twice[0][:30]!r} more than once")
    return names


def _read_row(header: list[str], cells: list[str], *, line: int) -> ChartRow:
    """Read one line."""
    if len(cells) != len(header):
        raise BadTable(
            f"line {line} of the chart has {len(cells)} cells; want {len(header)}, as in its header"
        )
    raw = dict(zip(header, cells, strict=True))
    cell = {name: raw.get(name, "").strip() for name in COLUMNS}
    extra = {name: text for name, text in raw.items() if name not in COLUMNS and text}
    try:
        return _row(cell, extra)
    except InputError as error:
        raise BadTable(f"line {line} of the chart: {error}") from error


def _row(cell: dict[str, str], extra: dict[str, str]) -> ChartRow:
    """Build a row from its cells."""
    tags = check_tags(
        RoundTags(
            hand=cell["hand"],
            tempo_bpm=check_tempo_bpm(cell["tempo_bpm"]),
            places_per_count=check_whole(
                cell["places_per_count"], field="places_per_count", lowest=1, highest=12
            ),
            round_s=_seconds(cell["round_s"]),
            technique=cell["technique"] or None,
            surface=cell["surface"] or None,
            loudness=cell["loudness"] or None,
            feel=cell["feel"] or None,
        )
    )
    ended = check_word(cell["ended"], field="ended", words=ENDED) if cell["ended"] else None
    return ChartRow(
        day=check_day(cell["date"]),
        order=_order(cell["order"]),
        player=check_player(cell["player"]),
        tags=tags,
        count_held=_count(cell["count_held"], ended=ended, counts=tags.counts),
        ended=ended,
        extra=extra,
    )


def _seconds(text: str) -> float:
    """Length of a round, a minute where not said."""
    if not text:
        return _ROUND_S
    try:
        return float(text)
    except ValueError as error:
        raise InputError(f"round_s = {text[:40]!r} is not a number of seconds") from error


def _order(text: str) -> int | None:
    """Place of the round in its day, None where not said."""
    if not text:
        return None
    return check_whole(text, field="order", lowest=1, highest=_MOST_ROUNDS_A_DAY)


def _count(text: str, *, ended: str | None, counts: int) -> int | None:
    """Count held: empty if and only if the round was not judged."""
    if ended == NOT_JUDGED:
        if text:
            raise InputError(f"count_held = {text[:40]!r} although ended is '{NOT_JUDGED}'")
        return None
    return check_count(text, counts=counts)


def _check_orders(rows: Iterable[ChartRow]) -> None:
    """Check that no two rounds of a player's day claim the same place."""
    seen: set[tuple[str, date, int]] = set()
    for row in rows:
        if row.order is None:
            continue
        key = (row.player, row.day, row.order)
        if key in seen:
            raise BadTable(f"the chart has two rounds with order {row.order} on {row.day}")
        seen.add(key)


def _known_cells(row: ChartRow) -> list[str]:
    """Cells of the known columns."""
    tags = row.tags
    return [
        row.day.isoformat(),
        "" if row.order is None else str(row.order),
        row.player,
        tags.hand,
        tags.technique or "",
        tags.surface or "",
        tags.loudness or "",
        _number(tags.tempo_bpm),
        str(tags.places_per_count),
        _number(tags.round_s),
        "" if row.count_held is None else str(row.count_held),
        row.ended or "",
        tags.feel or "",
    ]


def _number(value: float) -> str:
    """Write a number without a needless '.0', exact when read back."""
    return str(int(value)) if value.is_integer() else repr(value)
