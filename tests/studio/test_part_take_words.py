"""A take against its part, in words and bar by bar."""

import pytest

from loosehand.judge.part_heard import hear_part
from loosehand.studio.part_take_words import (
    asked_in_words,
    bars_heard,
    drive_in_words,
    often_missed,
    often_unasked,
    told_in_words,
)
from tests.judge.part_scenes import ACCENTS, HEAD, LINES, TEXT
from tests.studio.part_take_scenes import asked_of, heard_of_part


def heard(count_held=48, **how):
    """Return a take against the part."""
    return hear_part(heard_of_part(**how)[2], asked_of(), count_held=count_held)


def test_each_bar_has_its_marks():
    """What came, what did not, what nobody asked for, each at its place."""
    bars = bars_heard(heard())
    assert [bar.bar for bar in bars] == list(range(1, 13))
    first = bars[0].marks
    assert (first[0], first[6], first[12], first[1]) == ("came", "missed", "came", "stroke")
    assert (bars[0].due, bars[0].came, bars[0].missed_at) == (3, 2, "2 &")
    assert (bars[3].due, bars[3].came, bars[3].unasked_at) == (2, 2, "1 &")
    assert all(bar.is_judged and bar.break_at is None for bar in bars)
    assert sum(bar.due for bar in bars) == 30


@pytest.mark.parametrize(("held", "bar", "at"), [(24, 6, 16), (22, 6, 8)])
def test_after_the_break_nothing_is_said(held, bar, at):
    """The break stands in its bar, at its place; what comes after is not judged."""
    bars = bars_heard(heard(count_held=held))
    assert [(each.bar, each.break_at) for each in bars if each.break_at is not None] == [(bar, at)]
    assert [each.is_judged for each in bars] == [each.bar <= bar for each in bars]
    assert bars[-1].due == 0


def test_an_accent_missed_again_and_again_is_named():
    """Three times and every second time; fewer are not."""
    assert often_missed(bars_heard(heard())) == "The accent at 2 & was missed 3 times of 6."
    few = tuple(sorted(set(ACCENTS) - {6, 38}))
    assert often_missed(bars_heard(heard(accents=few))) == ""
    assert often_missed([]) == ""


def test_an_accent_that_comes_unasked_again_and_again_is_named():
    """Three times; fewer are not."""
    assert often_unasked(bars_heard(heard())) == ""
    many = tuple(sorted(set(ACCENTS) | {17, 49, 81}))
    told = often_unasked(bars_heard(heard(accents=many)))
    assert told == "3 times one came unasked at 1 e."
    assert often_unasked([]) == ""


def test_all_of_it_is_told_in_one():
    """How many came, then what went wrong again and again."""
    found = told_in_words(heard())
    assert found.startswith("Accents of the right hand: 27 of 30 came")
    assert found.endswith("The accent at 2 & was missed 3 times of 6.")
    assert told_in_words(heard(count_held=2)).startswith("Accents cannot be told yet")


def test_what_is_asked_is_said():
    """Strokes, bars and accents; where the part goes on, and where accents are not compared."""
    assert asked_in_words(asked_of()) == "192 strokes in 12 bars, 30 of them accents."
    plain = asked_in_words(asked_of(f"{HEAD}RH hat {'x' * 16}\n"))
    assert plain.startswith("16 strokes in 1 bar, none of them an accent: hold, evenness")
    assert "every one an accent" in asked_in_words(asked_of(f"{HEAD}RH hat {'X' * 16}\n"))
    gap = asked_in_words(asked_of(f"{HEAD}[a]\n{LINES}[b]\nrest 2\n"))
    assert gap.endswith(
        "The part has 4 bars; it is heard up to bar 2, where this limb leaves out a place."
    )


def test_without_accents_there_are_no_bars():
    """Neither where the take is too short, nor where the part asks for none."""
    assert bars_heard(heard(count_held=2)) == []
    plain = asked_of(TEXT.replace("X", "x"))
    assert bars_heard(hear_part(heard_of_part()[2], plain, count_held=48)) == []


def test_bars_of_broken_counts_name_places_by_number():
    """In 7/8 to a click in quarters a bar has no whole counts."""
    text = "tempo: 100\nmeter: 7/8 as 2+2+3\ngrid: 2\n[a] x8\nRH ride Xxxx xxxx xxxxxx\n"
    asked = asked_of(text)
    accents = tuple(sorted((set(asked.accents) - {14}) | {19}))
    body = heard_of_part(accents, places=112)[2]
    bars = bars_heard(hear_part(body, asked, count_held=28))
    assert (bars[1].missed_at, bars[1].unasked_at) == ("place 1", "place 6")


@pytest.mark.parametrize(
    ("strokes", "text", "says"),
    [
        (4, TEXT, "every 4th stroke"),
        (4, f"{HEAD}RH hat {'Xxxx' * 4}\n", "every 4th stroke, as the part asks"),
        (2, f"{HEAD}RH hat {'Xxxx' * 4}\n", "every 2nd stroke, as the part asks"),
        (1, f"{HEAD}RH hat {'Xxxx' * 4}\n", "single strokes"),
        (None, TEXT, "cannot be told"),
    ],
)
def test_the_drive_is_said(strokes, text, says):
    """With what else would sound like it."""
    body = {"technique": {"drive_length": {"strokes": strokes}}}
    assert drive_in_words(body, asked_of(text)) == says


def test_no_drive_is_no_words():
    """Where nothing was measured."""
    for technique in ({}, {"drive_length": None}):
        assert drive_in_words({"technique": technique}, asked_of()) == ""
