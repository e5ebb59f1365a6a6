"""Words of the address that name days."""

from datetime import date, timedelta

import pytest

from loosehand.errors import InputError
from loosehand.web.pages.chart_period import check_month, month_after, period_of

TODAY = date(2027, 3, 1)
FIRST = date(2024, 6, 5)


def period(word, *, last_day=TODAY):
    """The days that a word names, on a chart that began in June 2024."""
    return period_of(word, today=TODAY, first_day=FIRST, last_day=last_day)


@pytest.mark.parametrize(
    ("word", "first", "last", "by_month", "earlier", "later"),
    [
        ("", date(2027, 1, 26), TODAY, False, "2027-01-25", None),
        ("2027-01-25", date(2026, 12, 22), date(2027, 1, 25), False, "2026-12-21", "latest"),
        ("2026-12-21", date(2026, 11, 17), date(2026, 12, 21), False, "2026-11-16", "2027-01-25"),
        ("2026-12", date(2026, 12, 1), date(2026, 12, 31), False, "2026-11", "2027-01"),
        ("2027-03", date(2027, 3, 1), date(2027, 3, 31), False, "2027-02", None),
        ("2024-06", date(2024, 6, 1), date(2024, 6, 30), False, None, "2024-07"),
        ("2025", date(2025, 1, 1), date(2025, 12, 31), True, "2024", "2026"),
        ("all", FIRST, TODAY, True, None, None),
    ],
)
def test_a_word_names_days_and_what_lies_beside_them(word, first, last, by_month, earlier, later):
    """Nothing is beside a period where the chart has nothing."""
    found = period(word)
    assert (found.first, found.last, found.by_month) == (first, last, by_month)
    assert (found.earlier, found.later) == (earlier, later)


def test_the_way_back_in_steps_misses_no_day():
    """Five weeks follow upon five weeks, from today to the first day of the chart."""
    found, seen = period("latest"), set()
    while True:
        days = (found.last - found.first).days + 1
        new = {found.first + timedelta(days=n) for n in range(days)}
        assert days == 35
        assert not seen & new
        seen |= new
        if found.earlier is None:
            break
        found = period(found.earlier)
    assert {FIRST + timedelta(days=n) for n in range((TODAY - FIRST).days + 1)} <= seen


def test_everything_holds_days_to_come_too():
    """A round that was filed under a day to come is not out of reach."""
    assert period("all", last_day=date(2062, 1, 1)).last == date(2062, 1, 1)
    assert period("latest", last_day=date(2062, 1, 1)).later == "2027-04-05"


@pytest.mark.parametrize(
    "word", ["soon", "2027-02-30", "0001-01-01", "9999-12-31", "1066", "2027-13", "2027-3", "٢٠٢٧"]
)
def test_a_word_that_names_no_days_is_refused(word):
    """The sentence says what would do."""
    with pytest.raises(InputError, match=r"period = .* names no days; want latest, all, a day"):
        period(word)


@pytest.mark.parametrize("word", ["", "2026", "2026-00", "2026-13", "2026-1", "0026-01", "1066-01"])
def test_a_month_is_written_one_way(word):
    """Only a year of four digits and a month of two is a month."""
    with pytest.raises(InputError, match="is not a month; want one like 2026-11"):
        check_month(word)


def test_months_go_on_over_the_year():
    """December is followed by January, and the other way round."""
    assert month_after(date(2026, 12, 31), 1) == date(2027, 1, 1)
    assert month_after(date(2026, 1, 31), -1) == date(2025, 12, 1)
    assert check_month("2026-11") == date(2026, 11, 1)
