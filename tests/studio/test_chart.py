"""The chart as it stands, sorted into sheets."""

import time
from dataclasses import replace
from datetime import timedelta

import pytest

from loosehand.errors import NotFound
from loosehand.studio.chart import chart_rounds, player_names, player_of, sheets_of
from loosehand.studio.filing import import_rows, write_count


def test_players_are_named_in_order(studio, row, now):
    """The names come in the order of the alphabet; an unknown one is refused by name."""
    for name in ("Tobin", "Ines"):
        write_count(studio, replace(row, player=name), now=now)
    with studio.look() as session:
        assert player_names(session) == ["Ines", "Tobin"]
        assert player_of(session, "Tobin").name == "Tobin"
        with pytest.raises(NotFound, match="no player 'Otto' in this studio; it knows Ines, Tobin"):
            player_of(session, "Otto")


def test_a_players_chart_holds_no_others_rounds(studio, row, now):
    """Each chart is one person's."""
    import_rows(studio, [row, replace(row, player="Tobin", count_held=5)], now=now)
    with studio.look() as session:
        assert [found.row.count_held for found in chart_rounds(session, player="Tobin")] == [5]
        assert len(chart_rounds(session, player=None)) == 2


def test_rounds_come_in_the_order_played(studio, row, now):
    """Days first, then the place in the day."""
    early = replace(row, day=row.day - timedelta(days=1), count_held=3)
    rows = [replace(row, order=2), replace(row, order=1, count_held=7), early]
    import_rows(studio, rows, now=now)
    with studio.look() as session:
        counts = [found.row.count_held for found in chart_rounds(session, player="Ines")]
    assert counts == [3, 7, 41]


def test_soft_and_loud_pad_and_hat_are_never_pooled(studio, row, tags, now):
    """Whatever changes the hold has a sheet of its own; left comes before right."""
    kinds = [
        tags,
        replace(tags, hand="alternating"),
        replace(tags, hand="right"),
        replace(tags, surface="hat"),
        replace(tags, loudness="soft"),
        replace(tags, technique=None),
        replace(tags, places_per_count=3),
    ]
    import_rows(studio, [replace(row, tags=kind) for kind in kinds], now=now)
    with studio.look() as session:
        sheets = sheets_of(chart_rounds(session, player="Ines"))
    assert len(sheets) == len(kinds)
    assert [sheet.hand for sheet in sheets] == ["left"] * 5 + ["right", "alternating"]


def test_a_sheet_has_days_across_and_tempos_down(studio, row, tags, now):
    """Each round is in the cell of its tempo and day; two rounds of a cell are both there."""
    fast = replace(tags, tempo_bpm=108.0)
    tomorrow = row.day + timedelta(days=1)
    import_rows(
        studio,
        [row, replace(row, count_held=50), replace(row, tags=fast, day=tomorrow, count_held=9)],
        now=now,
    )
    with studio.look() as session:
        (sheet,) = sheets_of(chart_rounds(session, player="Ines"))
    assert sheet.tempos_bpm == (104.0, 108.0)
    assert sheet.days == (row.day, tomorrow)
    cells = {
        place: [found.row.count_held for found in rounds] for place, rounds in sheet.cells.items()
    }
    assert cells == {(104.0, row.day): [41, 50], (108.0, tomorrow): [9]}


@pytest.mark.parametrize(
    ("count", "ended", "held"),
    [(104, None, True), (103, None, False), (104, "stopped", False), (None, "not judged", False)],
)
def test_held_to_the_end_is_told_or_worked_out(studio, row, now, count, ended, held):
    """A number from paper that is all the counts was held to the end."""
    write_count(studio, replace(row, count_held=count, ended=ended), now=now)
    with studio.look() as session:
        (found,) = chart_rounds(session, player="Ines")
    assert found.held_to_the_end is held


@pytest.mark.timing
def test_ten_years_of_rounds_are_read_in_seconds(studio, row, now):
    """Ten years of ten rounds a day are read in one query, not one a round."""
    rows = [
        replace(row, day=row.day - timedelta(days=day), order=order)
        for day in range(3650)
        for order in range(1, 11)
    ]
    import_rows(studio, rows, now=now)
    began = time.perf_counter()
    with studio.look() as session:
        assert len(chart_rounds(session, player="Ines")) == 36_500
    assert time.perf_counter() - began < 5.0
