"""The chart drawn in a terminal."""

import io
from dataclasses import replace
from datetime import timedelta

import pytest
from rich.console import Console

from loosehand.studio.chart import chart_rounds
from loosehand.studio.filing import RoundPlace, correct_count, file_take, import_rows
from loosehand.studio.sound import incoming_midi
from loosehand.studio.terminal_chart import chart_of, draw, rounds_of


def _rounds(studio):
    """Return the rounds of the tests' player."""
    with studio.look() as session:
        return chart_rounds(session, player="Ines")


def _drawn(part, *, width=80, encoding="utf-8"):
    """Draw a part as a terminal of that width and encoding would get it."""
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding=encoding, errors="strict", write_through=True)
    draw(Console(file=out, width=width), part)
    return raw.getvalue().decode(encoding)


def _month(studio, row, tags, now, *, days=28):
    """Fill a month of two hands at five tempos."""
    import_rows(
        studio,
        [
            replace(
                row,
                day=row.day + timedelta(days=day),
                count_held=tempo - day % 7,
                tags=replace(tags, hand=hand, tempo_bpm=float(tempo), feel=None),
                ended=None,
            )
            for day in range(days)
            for hand in ("left", "right")
            for tempo in (96, 100, 104, 108, 112)
        ],
        now=now,
    )


@pytest.mark.parametrize("width", [40, 80, 200])
def test_a_chart_fits_its_terminal(studio, row, tags, now, width):
    """No line is wider than the terminal, and the latest day is always there."""
    _month(studio, row, tags, now)
    text = _drawn(chart_of("Ines", _rounds(studio), width=width), width=width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert text.count("28 Mar") == 2
    assert "\u2026" not in text


def test_at_80_columns_a_week_and_more_is_seen(studio, row, tags, now):
    """Nine days stand side by side, with those before counted."""
    _month(studio, row, tags, now)
    text = _drawn(chart_of("Ines", _rounds(studio), width=80))
    assert text.count("Mar") == 2 * 9
    assert "and 19 earlier days" in text
    heads = next(line for line in text.splitlines() if line.strip().startswith("bpm")).split()
    assert heads[1:3] + heads[-2:] == ["20", "Mar", "28", "Mar"]


def test_tempos_go_down_and_hands_apart(studio, row, tags, now):
    """Left before right, slow before fast, each number where it belongs."""
    _month(studio, row, tags, now, days=2)
    lines = _drawn(chart_of("Ines", _rounds(studio), width=80)).splitlines()
    titles = [line for line in lines if "whip fours" in line]
    assert titles == [
        "Left, whip fours, pad, medium  (2027-03-01 to 2027-03-02)",
        "Right, whip fours, pad, medium  (2027-03-01 to 2027-03-02)",
    ]
    figures = [line.split() for line in lines if line.strip()[:1] in ("1", "9")]
    assert figures[:5] == [
        [str(tempo), f"{tempo}|'", f"{tempo - 1}'"] for tempo in (96, 100, 104, 108, 112)
    ]


def test_marks_say_what_a_number_is(studio, row, tags, told, judged, now):
    """Held, written, corrected, tense, pain and not judged are marked and explained."""
    rows = [
        replace(row, tags=replace(tags, tempo_bpm=90.0), count_held=90, ended=None),
        replace(row, tags=replace(tags, tempo_bpm=92.0, feel="tense")),
        replace(row, tags=replace(tags, tempo_bpm=94.0, feel="pain")),
        replace(row, tags=replace(tags, tempo_bpm=96.0), count_held=None, ended="not judged"),
    ]
    import_rows(studio, rows, now=now)
    with incoming_midi(studio.folder, b"MThd") as incoming:
        bare = replace(row, count_held=None, ended=None)
        file_take(studio, incoming, bare, told, judged, now=now)
    with incoming_midi(studio.folder, b"MThd") as incoming:
        bare = replace(bare, tags=replace(tags, tempo_bpm=106.0))
        place = file_take(studio, incoming, bare, told, judged, now=now)
    correct_count(studio, place, count_held=38, ended=None, why="a chair", now=now)
    text = _drawn(chart_of("Ines", _rounds(studio), width=80))
    for tempo, cell in (
        ("90", "90|'"),
        ("92", "41'~"),
        ("94", "41'!"),
        ("96", "?'"),
        ("104", "37"),
        ("106", "38*"),
    ):
        assert [tempo, cell] in [line.split() for line in text.splitlines()], (tempo, text)
    assert text.splitlines()[-1] == (
        "| held to the end  ' written by hand  * corrected  ~ tense  ! pain  ? not judged"
    )


def test_marks_that_are_not_used_are_not_explained(studio, row, tags, now):
    """The legend is no longer than it needs to be."""
    import_rows(studio, [row], now=now)
    text = _drawn(chart_of("Ines", _rounds(studio), width=80))
    assert text.splitlines()[-1] == "' written by hand"


def test_a_poor_terminal_gets_the_chart_too(studio, row, tags, now):
    """A terminal that knows no more than ASCII gets all the figures."""
    import_rows(studio, [row], now=now)
    for part in (chart_of("Ines", _rounds(studio), width=80), rounds_of("Ines", _rounds(studio))):
        assert "41" in _drawn(part, encoding="ascii")


def test_names_are_not_read_as_markup(studio, row, tags, now):
    """A technique in square brackets is shown as it is written."""
    odd = replace(tags, technique="[red]whip[/red]")
    import_rows(studio, [replace(row, tags=odd)], now=now)
    text = _drawn(chart_of("[bold]Ines", _rounds(studio), width=80))
    assert "[bold]Ines" in text
    assert "[red]whip[/red]" in text


def test_rounds_one_a_line_say_whose_number_stands(studio, row, now):
    """The list holds what a correction asks for, and both numbers once corrected."""
    import_rows(studio, [row, replace(row, count_held=60)], now=now)
    place = RoundPlace("Ines", row.day, 2)
    correct_count(studio, place, count_held=58, ended=None, why="a chair", now=now)
    text = " ".join(_drawn(rounds_of("Ines", _rounds(studio)), width=100).split())
    assert "2027-03-01 1 left 104 41 of 104 lost the click working written" in text
    assert "58 of 104 lost the click working corrected (written" in text
    assert "60" in text
