"""Which days the chart's page shows, named by one word of its address.

``latest`` is the last five weeks, ``2026-11-25`` the five weeks to that day, ``2026-11`` a month:
these day by day. ``2026`` is a year and ``all`` everything: these month by month.
"""

import calendar
import re
from dataclasses import dataclass, replace
from datetime import date, timedelta

from loosehand.errors import InputError
from loosehand.studio.round_tags import check_day

__all__ = ["DAYS_SHOWN", "Period", "check_month", "day_words", "month_after", "period_of"]

DAYS_SHOWN = 35
_FIRST_YEAR = 1900
_LAST_YEAR = 2999
_MONTH = re.compile(r"[12][0-9]{3}-(0[1-9]|1[0-2])")
_YEAR = re.compile(r"[12][0-9]{3}")


@dataclass(frozen=True)
class Period:
    """Days that are shown.

    Attributes
    ----------
    word : as in the address
    label : in words
    first, last : the days, both included
    by_month : whether days are laid together by month
    earlier, later : words of the periods beside it, None where the chart has nothing there
    """

    word: str
    label: str
    first: date
    last: date
    by_month: bool
    earlier: str | None
    later: str | None


def period_of(word: str, *, today: date, first_day: date, last_day: date) -> Period:
    """Find the days that a word names.

    Parameters
    ----------
    word : as in the address; empty for the last five weeks
    today : the day it is
    first_day, last_day : of the whole chart

    Raises
    ------
    InputError   if the word names no days
    """
    if word in {"", "latest"}:
        found = _five_weeks(today, word="latest", label="the last five weeks")
    elif word == "all":
        first = min(first_day, today)
        last = max(last_day, today)
        return Period("all", "everything, by month", first, last, True, None, None)
    elif _YEAR.fullmatch(word) and int(word) >= _FIRST_YEAR:
        found = _year(int(word))
    elif _MONTH.fullmatch(word):
        found = _month(check_month(word))
    else:
        found = _named_day(word)
    is_weeks = not found.by_month and not _MONTH.fullmatch(word)
    if is_weeks and found.last < today <= found.last + timedelta(days=DAYS_SHOWN):
        found = replace(found, later="latest")
    return replace(
        found,
        earlier=found.earlier if found.first > first_day else None,
        later=found.later if found.last < max(last_day, today) else None,
    )


def check_month(word: str) -> date:
    """Return the first day of a month written as 2026-11.

    Raises
    ------
    InputError   if it is not one
    """
    if not _MONTH.fullmatch(word) or not _FIRST_YEAR <= int(word[:4]) <= _LAST_YEAR:
        raise InputError(f"month = {word[:40]!r} is not a month; want one like 2026-11")
    return date(int(word[:4]), int(word[5:]), 1)


def month_after(month: date, months: int) -> date:
    """First day of the month so many months after (before, if negative) that of a day."""
    index = 12 * month.year + month.month - 1 + months
    return date(index // 12, index % 12 + 1, 1)


def day_words(day: date) -> str:
    """Write a day in words.

    Examples
    --------
    >>> day_words(date(2026, 11, 3))
    '3 November 2026'
    """
    return f"{day.day} {calendar.month_name[day.month]} {day.year}"


def _named_day(word: str) -> Period:
    """Five weeks to a day."""
    try:
        day = check_day(word)
    except InputError:
        day = date.min
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise InputError(
            f"period = {word[:40]!r} names no days; "
            "want latest, all, a day like 2026-11-25, a month like 2026-11 or a year like 2026"
        )
    return _five_weeks(day, word=word, label=f"five weeks to {day_words(day)}")


def _five_weeks(last: date, *, word: str, label: str) -> Period:
    """Five weeks to a day, and those before and after."""
    first = last - timedelta(days=DAYS_SHOWN - 1)
    earlier = first - timedelta(days=1)
    later = last + timedelta(days=DAYS_SHOWN)
    return Period(word, label, first, last, False, earlier.isoformat(), later.isoformat())


def _month(first: date) -> Period:
    """Return a month, day by day."""
    last = month_after(first, 1) - timedelta(days=1)
    before, after = month_after(first, -1), month_after(first, 1)
    label = f"{calendar.month_name[first.month]} {first.year}"
    return Period(f"{first:%Y-%m}", label, first, last, False, f"{before:%Y-%m}", f"{after:%Y-%m}")


def _year(year: int) -> Period:
    """Return a year, month by month."""
    return Period(
        str(year),
        f"{year}, by month",
        date(year, 1, 1),
        date(year, 12, 31),
        True,
        str(year - 1),
        str(year + 1),
    )
