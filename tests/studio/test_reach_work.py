"""What is to be fitted, and how it is known that it was done before."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from loosehand.studio.reach_rounds import rounds_of_rows
from loosehand.studio.reach_work import (
    HandDone,
    HandWork,
    code_version,
    day_told_of,
    do_work,
    work_of_rounds,
)
from tests.studio.reach_scenes import LAST, chart_rows, ladder_rows, of_hand


def work_of(rows, *, as_of=LAST):
    """Return the work of some rows, by hand."""
    found = work_of_rounds("Ines", rounds_of_rows(rows), as_of=as_of)
    return {each.job.kind.hand: each for each in found}


@pytest.mark.parametrize(
    ("days_ago", "told"),
    [([0], 0), ([60, 90], 0), ([61], 61), ([61, -5], 61), ([-5], 0), ([], 0)],
)
def test_today_is_told_of_for_sixty_days(days_ago, told):
    """Within sixty days of the last round today is told of, else that round's day."""
    days = [LAST - timedelta(days=ago) for ago in days_ago]
    assert day_told_of(days, today=LAST) == LAST - timedelta(days=told)


def test_a_round_after_it_does_not_touch_the_other_hand():
    """After a round of one hand that hand alone is to be fitted anew."""
    rows = chart_rows()
    before = work_of(rows)
    more = replace(rows[-1], tags=replace(rows[-1].tags, hand="left", tempo_bpm=95.0))
    after = work_of([*rows, more])
    assert after["left"].fingerprint != before["left"].fingerprint
    assert after["right"].fingerprint == before["right"].fingerprint


def test_what_was_there_before_the_last_rounds_is_known():
    """The mark of a chart stands among those before the rounds that came since, twenty at most."""
    rows = chart_rows(hands=("left",))
    work = work_of(rows)["left"]
    assert work.before[work.rounds_mark] == 0
    assert sorted(work.before.values()) == list(range(18))
    more = [*rows, *[replace(rows[-1], count_held=15)] * 3]
    later = work_of(more)["left"]
    assert later.before[work.rounds_mark] == 3
    assert sorted(later.before.values()) == list(range(21))
    assert work.rounds_mark not in work_of([*more, *rows[-2:] * 9])["left"].before
    assert work.rounds_mark not in work_of(more, as_of=LAST + timedelta(days=1))["left"].before
    more[3] = replace(more[3], count_held=5)
    assert work.rounds_mark not in work_of(more)["left"].before


def test_a_hand_that_leans_changes_with_the_one_it_leans_on():
    """Fingerprint and marks are of both; a note that only the donor has changes nothing."""
    rows = [*ladder_rows(days=8), *of_hand(ladder_rows(days=8)[-9:], "right")]
    before = work_of(rows)["right"]
    assert before.job.leans_on.kind.hand == "left"
    after = work_of([*rows, rows[3]])["right"]
    assert after.rounds_mark not in before.before
    assert before.rounds_mark not in after.before
    silent = replace(rows[3], day=LAST, count_held=None, ended="not judged")
    assert work_of([*rows, silent])["right"].fingerprint == before.fingerprint


@pytest.mark.parametrize(
    "changed",
    [
        {"count_held": 61},
        {"ended": "stopped by choice"},
        {"day": LAST - timedelta(days=30)},
        {"tags": replace(chart_rows()[2].tags, tempo_bpm=101.0)},
        {"tags": replace(chart_rows()[2].tags, round_s=61.0)},
        {"tags": replace(chart_rows()[2].tags, surface="hat")},
        {"count_held": None, "ended": "not judged"},
    ],
)
def test_every_change_of_a_round_tells(changed):
    """Whatever changes in a round changes the fingerprint of its hand."""
    rows = chart_rows()
    before = work_of(rows)["left"].fingerprint
    assert rows[2].tags.hand == "left"
    rows[2] = replace(rows[2], **changed)
    assert work_of(rows)["left"].fingerprint != before


def test_the_day_told_of_tells():
    """On another day the hand is another."""
    rows = chart_rows()
    one = work_of(rows)["left"].fingerprint
    assert work_of(rows, as_of=LAST + timedelta(days=1))["left"].fingerprint != one
    assert work_of(rows)["left"].fingerprint == one


def test_a_week_stands_when_later_rounds_come():
    """The fingerprint of a week looks at nothing after it, and at everything before it."""
    rows = chart_rows(days=15)
    before = work_of(rows)["left"].weeks
    assert len(before) == 3
    first, *_, last = sorted(before)
    later = replace(rows[0], day=LAST, tags=rows[0].tags)
    assert work_of([*rows, later])["left"].weeks == before
    rows[0] = replace(rows[0], count_held=3)
    after = work_of(rows)["left"].weeks
    assert (after[first], after[last]) != (before[first], before[last])
    rows = chart_rows(days=15)
    in_last_week = next(place for place, row in enumerate(rows) if row.day >= last)
    rows[in_last_week] = replace(rows[in_last_week], count_held=3)
    after = work_of(rows)["left"].weeks
    assert (after[first], after[last] != before[last]) == (before[first], True)


def test_a_hand_that_only_played_later_is_left_out():
    """There is nothing to fit of a hand before its first round."""
    assert work_of(chart_rows(), as_of=date(2026, 1, 1)) == {}


def test_only_what_is_to_do_is_done():
    """A fit, weeks, both or neither."""
    work = work_of(chart_rows(days=15))["left"]
    assert do_work(replace(work, to_fit=False)) == HandDone(None, ())
    done = do_work(replace(work, to_foretell=tuple(sorted(work.weeks))[:1]))
    assert done.reach.rounds == 45
    assert [week.origin for week in done.weeks] == [min(work.weeks)]
    assert isinstance(work, HandWork)


def test_the_version_is_that_of_the_code():
    """It is a checksum, the same all the time."""
    assert len(code_version()) == 64
    assert code_version() == code_version()
