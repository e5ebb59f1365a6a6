"""Checks of what is typed into the forms of a day's plan."""

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.errors import InputError
from loosehand.rounds.workout import PlannedRound, RoundSetting
from loosehand.studio.chart import Kind
from loosehand.web.pages.plan_form import (
    ClickWords,
    asked_of_words,
    check_care,
    click_of_setting,
    rounds_of_text,
    setting_of_words,
    text_of_rounds,
    words_of_asked,
    words_of_kind,
)

KIND = Kind("whip fours", "pad", None, 3)
CLICK = {"timbre": "pip", "level_db": "-6", "count_in_counts": "2", "counts_per_bar": "3"}


def asked_of(*, hands=(), **words):
    """What is asked by some words."""
    return asked_of_words(words, hands=hands, count_in_counts=4)


def test_the_usual_is_asked_where_nothing_is_said():
    """Twenty minutes, all hands, a minute a round and a minute of rest; the chart says the kind."""
    asked = asked_of()
    plan = asked.plan
    assert (plan.minutes, plan.round_s, plan.rest_s) == (20.0, 60.0, 60.0)
    assert plan.hands == ("left", "right", "alternating")
    ticks = (plan.full_ladder, plan.warm_already, plan.play_out, plan.light_anyway)
    assert not any(ticks)
    assert (asked.kind, asked.weak) == (None, None)


def test_an_emptied_time_is_as_long_as_it_takes():
    """Minutes that were emptied are none, and a comma is a point."""
    assert asked_of(minutes="").plan.minutes is None
    assert asked_of(minutes="12,5").plan.minutes == 12.5


def test_a_word_of_the_kind_chooses_all_of_it():
    """Where the form says what is played, what it leaves empty is not said."""
    assert asked_of(technique="push-pull", surface="").kind == Kind("push-pull", None, None, 4)
    assert asked_of(per_count="3").kind == Kind(None, None, None, 3)


words = st.fixed_dictionaries(
    {
        "minutes": st.sampled_from(["", "10", "20.5"]),
        "round_s": st.sampled_from(["60", "33.25"]),
        "full": st.sampled_from(["yes", ""]),
        "warm": st.sampled_from(["already", ""]),
        "play_out": st.sampled_from(["yes", ""]),
        "light": st.sampled_from(["yes", ""]),
        "weak": st.sampled_from(["", "left", "right"]),
        "technique": st.sampled_from(["", "whip fours"]),
        "loudness": st.sampled_from(["", "soft"]),
        "per_count": st.sampled_from(["3", "4"]),
    }
)


@given(words=words, hands=st.sets(st.sampled_from(["left", "right", "alternating"]), min_size=1))
def test_what_is_asked_comes_back_from_its_words(words, hands):
    """Written into a form and read again it is the same."""
    asked = asked_of(hands=sorted(hands), **words)
    written = words_of_asked(asked, kind=asked.kind)
    again = asked_of(hands=[word for name, word in written if name == "hand"], **dict(written))
    assert again == asked


def test_a_kind_comes_back_from_its_words():
    """So does what is played."""
    assert asked_of(**dict(words_of_kind(KIND))).kind == KIND


def test_the_click_is_that_of_the_last_workout():
    """What the last workout had is offered; the usual where there was none."""
    asked = asked_of(rest_s="30")
    setting = setting_of_words(CLICK | {"grip": "loose"}, asked, kind=KIND, rest_s=37.0)
    assert (setting.rest_s, setting.technique, setting.loudness) == (37.0, "whip fours", None)
    assert isinstance(setting, RoundSetting)
    assert click_of_setting(setting) == ClickWords("pip", -6.0, 2, 3, False, False, "loose")
    assert click_of_setting(None) == ClickWords()


rounds = st.builds(
    PlannedRound,
    kind=st.sampled_from(["round", "warm-up"]),
    hand=st.sampled_from(["left", "right", "alternating"]),
    tempo_bpm=st.integers(80, 1600).map(lambda quarters: quarters / 4),
    places_per_count=st.just(4),
    round_s=st.integers(20, 3600).map(lambda tenths: tenths / 10),
    purpose=st.sampled_from(["round", "test"]),
)


@given(rounds=st.lists(rounds, min_size=1, max_size=5).map(tuple))
def test_rounds_come_back_from_their_text(rounds):
    """Written one a line and read again they are the same."""
    assert rounds_of_text(text_of_rounds(rounds), places_per_count=4, round_s=60.0) == rounds


@pytest.mark.parametrize(
    ("line", "hand", "tempo_bpm", "round_s", "purpose"),
    [
        ("left 96", "left", 96.0, 45.0, "round"),
        ("  RIGHT, 96.5 , 30 ", "right", 96.5, 30.0, "round"),
        ("warm-up 60", "alternating", 60.0, 45.0, "warm-up"),
        ("Warm-up left 60 20", "left", 60.0, 20.0, "warm-up"),
        ("test alternating 120 60", "alternating", 120.0, 60.0, "test"),
    ],
)
def test_a_line_is_read_as_people_write(line, hand, tempo_bpm, round_s, purpose):
    """Commas, capitals and a length left out are fine."""
    (found,) = rounds_of_text(f"\n{line}\n\n", places_per_count=3, round_s=45.0)
    assert (found.hand, found.tempo_bpm, found.round_s) == (hand, tempo_bpm, round_s)
    assert (found.purpose, found.places_per_count) == (purpose, 3)


@pytest.mark.parametrize(
    "line", ["", " \n ", "left", "96 left", "left 96 60 4", "test 96", "left 96 long", "left inf"]
)
def test_a_line_that_is_no_round_is_named(line):
    """It is said which line, and how one is written."""
    with pytest.raises(InputError, match="want a hand, a tempo and seconds, such as: left 96 60"):
        rounds_of_text(line, places_per_count=4, round_s=60.0)


def test_only_light_rounds_pass_on_a_day_after_pain():
    """Alternating at 60 or slower is light; on other days anything goes."""
    light = rounds_of_text("alternating 60\nwarm-up 50", places_per_count=4, round_s=60.0)
    other = rounds_of_text("left 60", places_per_count=4, round_s=60.0)
    check_care(SimpleNamespace(day_kind="pain"), light)
    check_care(SimpleNamespace(day_kind="light"), other)
    with pytest.raises(InputError, match="'left 60 60' is not light: rest, or alternate"):
        check_care(SimpleNamespace(day_kind="pain"), other)
