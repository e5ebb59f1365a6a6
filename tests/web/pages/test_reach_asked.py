"""What is asked of the page of the reach, and what cannot be asked."""

from datetime import date

import pytest

from loosehand.errors import BadTempo, InputError
from loosehand.web.pages.reach_asked import ReachAsked, TempoFor, asked_of, check_since

FIRST, LAST = date(2027, 1, 1), date(2027, 3, 1)


def test_nothing_asked_is_nothing():
    """An address without words, or with empty ones, asks nothing."""
    assert asked_of({}) == ReachAsked(None, None, None, None)
    assert asked_of({"tempo": " ", "minutes": "", "since": "", "kind": ""}) == asked_of({})


def test_everything_can_be_asked():
    """A kind, a day, a tempo to hold and one to reach; a comma is a decimal point as well."""
    words = {
        "kind": "left/~/pad/~/4",
        "since": "2027-02-01",
        "tempo": "104",
        "minutes": "3,5",
        "goal_tempo": "110.5",
        "goal_minutes": "1",
    }
    assert asked_of(words) == ReachAsked(
        "left/~/pad/~/4", date(2027, 2, 1), TempoFor(104.0, 210.0), TempoFor(110.5, 60.0)
    )


@pytest.mark.parametrize(
    ("words", "kind", "match"),
    [
        ({"tempo": "abc", "minutes": "2"}, BadTempo, "'abc' is not a tempo"),
        ({"tempo": "nan", "minutes": "2"}, BadTempo, "nan is not a tempo"),
        ({"tempo": "1000", "minutes": "2"}, BadTempo, "1000 is not a tempo"),
        ({"tempo": "100"}, InputError, "minutes is empty"),
        ({"goal_minutes": "2"}, InputError, "goal_tempo is empty"),
        ({"tempo": "100", "minutes": "long"}, InputError, "minutes = 'long' is not a length"),
        ({"tempo": "100", "minutes": "inf"}, InputError, "minutes = inf cannot be"),
        ({"goal_tempo": "100", "goal_minutes": "0"}, InputError, "goal_minutes = 0 cannot be"),
        ({"since": "yesterday"}, InputError, "'yesterday' is not a day"),
    ],
)
def test_what_cannot_be_is_one_sentence(words, kind, match):
    """The first word that cannot be is named, with what was wanted."""
    with pytest.raises(kind, match=match):
        asked_of(words)


def test_the_day_compared_with_lies_among_the_days_told_of():
    """The first and the last day will do; one before or after them will not."""
    assert check_since(FIRST, first=FIRST, last=LAST) == FIRST
    assert check_since(LAST, first=FIRST, last=LAST) == LAST
    with pytest.raises(InputError, match="2027-03-02 lies after 2027-03-01"):
        check_since(date(2027, 3, 2), first=FIRST, last=LAST)
    with pytest.raises(InputError, match="2026-12-31 lies before 2027-01-01"):
        check_since(date(2026, 12, 31), first=FIRST, last=LAST)
