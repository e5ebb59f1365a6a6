"""The chart as it stands, sorted into sheets."""

import time
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from loosehand.errors import NotFound
from loosehand.studio.chart import (
    Kind,
    KindPlayed,
    MonthRounds,
    chart_rounds,
    chart_rounds_between,
    chart_rows,
    kinds_played,
    month_rounds,
    player_names,
    player_of,
    rounds_by_day,
    sheets_of,
)
from loosehand.studio.filing import (
    RoundPlace,
    correct_count,
    file_take,
    import_rows,
    write_count,
)
from loosehand.studio.models import Reading, Round, Take
from loosehand.studio.sound import incoming_sound
from tests.blank_studio import new_studio, ten_years_database

WHIP_FOURS = Kind("whip fours", "pad", "medium", 4)


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


def test_rounds_between_two_days_are_one_players(studio, row, now):
    """Both days are included, and nobody else's rounds."""
    days = [row.day - timedelta(days=n) for n in range(5)]
    rows = [replace(row, day=day, count_held=n) for n, day in enumerate(days)]
    import_rows(studio, [*rows, replace(row, player="Tobin")], now=now)
    with studio.look() as session:
        found = chart_rounds_between(session, player="Ines", first=days[3], last=days[1])
        with pytest.raises(NotFound, match="no player 'Otto'"):
            chart_rounds_between(session, player="Otto", first=days[3], last=days[1])
    assert [each.row.count_held for each in found] == [3, 2, 1]


def test_rounds_of_one_hand_and_kind_are_asked_for_alone(studio, row, tags, now):
    """Only the hand, only the kind, tags that were not said included; nothing else."""
    not_said = replace(tags, technique=None, loudness=None)
    right = replace(tags, hand="right")
    every = [tags, right, not_said, replace(tags, places_per_count=3)]
    rows = [replace(row, tags=each, count_held=n) for n, each in enumerate(every)]
    import_rows(studio, rows, now=now)

    def counts(**asked):
        with studio.look() as session:
            found = chart_rounds_between(
                session, player="Ines", first=row.day, last=row.day, **asked
            )
        return [each.row.count_held for each in found]

    assert counts() == [0, 1, 2, 3]
    assert counts(hand="left") == [0, 2, 3]
    assert counts(kind=WHIP_FOURS) == [0, 1]
    assert counts(hand="left", kind=WHIP_FOURS) == [0]
    assert counts(kind=Kind(None, "pad", None, 4)) == [2]


def test_rows_are_those_of_the_rounds(studio, row, told, judged, now):
    """Numbers written, read and corrected, and endings, as the rounds have them; one player's."""
    rows = [replace(row, count_held=n, ended=ended) for n, ended in ((3, None), (4, "stopped"))]
    import_rows(studio, [*rows, replace(row, player="Tobin")], now=now)
    for scale in (1.0, 0.5):
        noise = scale * np.random.default_rng(3).normal(scale=0.1, size=8000)
        sound = [noise.astype(np.float32)]
        with incoming_sound(studio.folder, sound, sample_rate_hz=8000) as incoming:
            bare = replace(row, count_held=None, ended=None)
            place = file_take(studio, incoming, bare, told, judged, now=now)
    correct_count(studio, place, count_held=40, ended=None, why="a chair", now=now)
    with studio.look() as session:
        whole = [replace(each.row, extra={}) for each in chart_rounds(session, player="Ines")]
        assert chart_rows(session, player="Ines") == whole
    assert len(whole) == 4
    assert len({(each.count_held, each.ended) for each in whole}) == 4


def make_void(studio):
    """Make the first round of the studio one that does not count."""
    with studio.act() as session:
        session.get(Round, 1).standing = "void"


def test_a_day_with_a_void_round_is_no_rest_day(studio, row, now):
    """What was played was work, though it does not count on the chart."""
    import_rows(studio, [row, replace(row, day=row.day - timedelta(days=2))], now=now)
    make_void(studio)
    first = row.day - timedelta(days=1)
    with studio.look() as session:
        assert rounds_by_day(session, player="Ines", first=first, last=row.day) == {row.day: 1}
        assert chart_rounds_between(session, player="Ines", first=first, last=row.day) == []


def test_kinds_are_named_with_their_days_the_last_played_first(studio, row, tags, now):
    """Hands are together in a kind; soft and loud are not."""
    soft = replace(tags, loudness="soft", technique=None)
    early = row.day - timedelta(days=9)
    import_rows(
        studio,
        [
            row,
            replace(row, day=early, tags=replace(tags, hand="right")),
            replace(row, day=early, tags=soft),
        ],
        now=now,
    )
    with studio.look() as session:
        assert kinds_played(session, player="Ines") == [
            KindPlayed(WHIP_FOURS, 2, early, row.day),
            KindPlayed(Kind(None, "pad", "soft", 4), 1, early, early),
        ]


def file_judged_take(studio, round_id, *, counts, now):
    """Put a take on a round, judged once for each count."""
    with studio.act() as session:
        take = Take(round_id=round_id, kind="sound", content_sha256="0" * 64, told={}, filed_at=now)
        session.add(take)
        session.flush()
        for count in counts:
            ended = "not judged" if count is None else "lost the click"
            session.add(
                Reading(
                    take_id=take.id,
                    judge_version="1",
                    made_at=now,
                    count_held=count,
                    ended=ended,
                    confidence=0.9,
                    body={},
                )
            )


def test_months_hold_the_numbers_in_force(studio, row, now):
    """A correction stands above a written number, and the last reading above the ones before."""
    rows = [
        replace(row, order=order, count_held=count)
        for order, count in ((1, 41), (2, 50), (3, None), (4, None))
    ]
    import_rows(studio, [replace(each, ended=None) for each in rows], now=now)
    correct_count(
        studio, RoundPlace("Ines", row.day, 1), count_held=104, ended=None, why="I saw", now=now
    )
    file_judged_take(studio, 3, counts=[7, 33], now=now)
    file_judged_take(studio, 4, counts=[None], now=now)
    with studio.look() as session:
        found = month_rounds(
            session, player="Ines", kind=WHIP_FOURS, first=date(2027, 1, 1), last=row.day
        )
        by_round = chart_rounds(session, player="Ines")
    assert {(each.ended, each.counts_held, each.rounds) for each in found} == {
        ("held to the end", (104,), 1),
        (None, (50,), 1),
        ("lost the click", (33,), 1),
        ("not judged", (), 1),
    }
    assert [each.row.count_held for each in by_round] == [104, 50, 33, None]
    assert [each.row.ended for each in by_round if each.row.order != 2] == [
        "held to the end",
        "lost the click",
        "not judged",
    ]


def test_months_are_laid_together_by_hand_tempo_and_length(studio, row, tags, now):
    """Rounds that share all are one row with all their counts; other kinds and days stay out."""
    february = row.day - timedelta(days=3)
    rows = [
        replace(row, count_held=30),
        replace(row, count_held=20),
        replace(row, day=february),
        replace(row, tags=replace(tags, round_s=30.0), count_held=5),
        replace(row, tags=replace(tags, surface=None), count_held=6),
        replace(row, day=row.day + timedelta(days=1), count_held=7),
    ]
    import_rows(studio, rows, now=now)
    with studio.look() as session:
        found = month_rounds(session, player="Ines", kind=WHIP_FOURS, first=february, last=row.day)
        (bare,) = month_rounds(
            session,
            player="Ines",
            kind=replace(WHIP_FOURS, surface=None),
            first=february,
            last=row.day,
        )
    march, lost = date(2027, 3, 1), "lost the click"
    sorted_counts = [replace(each, counts_held=tuple(sorted(each.counts_held))) for each in found]
    assert sorted(sorted_counts, key=lambda each: (each.month, each.round_s)) == [
        MonthRounds(date(2027, 2, 1), "left", 104.0, 60.0, lost, (41,), 1),
        MonthRounds(march, "left", 104.0, 30.0, lost, (5,), 1),
        MonthRounds(march, "left", 104.0, 60.0, lost, (20, 30), 2),
    ]
    assert bare.counts_held == (6,)


@pytest.mark.timing
def test_ten_years_of_rounds_are_read_in_seconds(tmp_path):
    """Ten years of ten rounds a day are read in one query, not one a round."""
    full = new_studio(tmp_path / "full", busy_timeout_s=1.0, database=ten_years_database())
    began = time.perf_counter()
    with closing(full) as studio, studio.look() as session:
        assert len(chart_rounds(session, player="Nerys")) == 36_500
    assert time.perf_counter() - began < 5.0
