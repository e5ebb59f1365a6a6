"""What is typed into the chart's forms, checked field by field."""

from datetime import date

import pytest

from loosehand.errors import InputError
from loosehand.studio.chart import Kind, KindPlayed
from loosehand.studio.round_tags import RoundTags
from loosehand.web.pages.chart_form import chart_path, number_row, offered

TODAY = date(2027, 3, 1)
TYPED = {
    "date": "2027-02-28",
    "hand": "left",
    "tempo_bpm": " 95 ",
    "count_held": "60",
    "technique": "",
    "surface": "pad",
    "loudness": "",
    "grid": "",
    "round_s": "",
    "ended": "",
    "feel": "loose",
}


def read(**words):
    """Read the form with some words changed."""
    return number_row(TYPED | words, player="Nerys", today=TODAY)


def test_one_number_is_read_with_its_tags():
    """Four places a count and a minute stand where nothing is said; no tag is made up."""
    row = read()
    assert (row.day, row.player, row.count_held, row.ended) == (
        date(2027, 2, 28),
        "Nerys",
        60,
        None,
    )
    assert row.tags == RoundTags("left", 95.0, 4, 60.0, None, "pad", None, "loose")


@pytest.mark.parametrize(
    ("field", "word", "said"),
    [
        ("date", "", "date = '' is not a day"),
        ("date", "2027-03-02", "date = 2027-03-02 has not come yet"),
        ("hand", "both", "hand = 'both' is not known"),
        ("tempo_bpm", "fast", "tempo_bpm = 'fast' is not a tempo"),
        ("count_held", "96", "count_held = 96 cannot be; want a whole number from 0 to 95"),
        ("count_held", "", "count_held = '' is not a whole number"),
        ("grid", "0", "places_per_count = 0 cannot be"),
        ("round_s", "long", "round_s = 'long' is not a length"),
        ("round_s", "nan", "round_s = nan is not a number"),
        ("loudness", "pp", "loudness = 'pp' is not known"),
        ("feel", "fine", "feel = 'fine' is not known"),
        ("ended", "not judged", "ended = 'not judged' is not known"),
    ],
)
def test_a_field_that_cannot_be_is_named(field, word, said):
    """One sentence names the field and what was got."""
    with pytest.raises(InputError) as caught:
        read(**{field: word})
    assert said in str(caught.value)


def test_addresses_hold_any_name():
    """Slashes, question marks and other letters of a name do not break its address."""
    assert chart_path("a/b?c#d") == "/chart/a%2Fb%3Fc%23d"
    assert chart_path("Ines", under="paper", month="", hand="left") == "/chart/Ines/paper?hand=left"


def test_words_are_offered_once_the_last_first():
    """Techniques and surfaces of the chart are suggested; what was not said is not."""
    kinds = [
        Kind("whip fours", "hat", "soft", 4),
        Kind(None, "pad", None, 4),
        Kind("whip fours", "pad", None, 4),
    ]
    played = [KindPlayed(kind, 1, TODAY, TODAY) for kind in kinds]
    assert offered(played) == {"technique": ["whip fours"], "surface": ["hat", "pad"]}
