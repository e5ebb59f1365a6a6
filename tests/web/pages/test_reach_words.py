"""Sentences of the page of the reach: plain, and never cheering."""

import re
from datetime import date, timedelta

import pytest

from loosehand.reach.compare import Crossover
from loosehand.reach.reach import Interval, Reaching
from loosehand.web.pages.reach_words import (
    beyond_words,
    chance_sentence,
    crossover_words,
    improved_words,
    reaching_words,
    so_often,
    trend_words,
)
from tests.reach.known_reach import DAY, a_reach

CHEERS = re.compile(r"!|great|well done|bravo|congrat|record|keep it up|best ever", re.IGNORECASE)
SOON, LATER = DAY + timedelta(days=30), DAY + timedelta(days=200)


def test_chances_in_words_are_in_order():
    """From hardly ever to nearly always every tenth has its words, none of them 0 or 10."""
    said = [so_often(chance / 100) for chance in range(101)]
    assert said[0] == "hardly ever"
    assert said[-1] == "nearly always"
    assert "about 1 time in 10" in said
    assert not any("0 times" in one or "10 times" in one for one in said)


def test_a_length_never_seen_is_said():
    """An answer beyond the longest hold says so; one within it does not."""
    reach = a_reach(longest_held_s=60.0)
    assert beyond_words(reach, 60.0) == ""
    assert beyond_words(reach, 120.0) == (
        "No hold of 2 minutes was seen yet: this goes beyond what was seen."
    )
    said = chance_sentence(reach, tempo_bpm=104.0, time_s=240.0)
    assert "104 for 4 minutes: under 1 %, hardly ever" in said
    assert said.endswith("this goes beyond what was seen.")


def test_one_day_shows_no_trend():
    """Of one day neither a gain nor an improvement is told."""
    reach = a_reach(days=1)
    assert trend_words(reach) == ["One day alone shows no trend."]
    assert improved_words(reach, DAY) == (
        "Whether it is better than before cannot be told from one day."
    )


def test_a_gain_smaller_than_shows_is_said_to_be_none_perhaps():
    """Where the gain is uncertain, the smallest that would show stands beside it."""
    reach = a_reach(days=20, gain_bpm=0.0)
    wide = a_reach(days=20, gain_bpm=0.5)
    object.__setattr__(
        wide.draws,
        "level_bpm",
        wide.draws.level_bpm + [[0.0, 3.0 * (-1) ** row, 0.0] for row in range(1000)],
    )
    assert any("so it may be none" in sentence for sentence in trend_words(wide))
    assert not any("so it may be none" in sentence for sentence in trend_words(reach))


def test_standing_still_is_said_only_where_it_is_one():
    """A level trend of twenty days is no plateau yet, one of sixty is."""
    assert not any("stands still" in one for one in trend_words(a_reach(days=20)))
    assert any("stands still" in one for one in trend_words(a_reach(days=60)))


def test_better_than_before_is_a_chance():
    """A sure gain is over 99 %; the day compared with is named."""
    assert improved_words(a_reach(days=20, gain_bpm=2.0), DAY - timedelta(days=10)) == (
        "Chance that the hand is better than on 19 February 2027: over 99 %."
    )


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (Reaching(0.99, DAY, DAY, SOON), "is held with even chance already"),
        (Reaching(0.03, None, None, None), "not within a year, if the trend goes on (chance 3 %)"),
        (Reaching(0.3, SOON, None, None), "(chance within it 30 %)"),
        (Reaching(0.7, SOON, LATER, None), "by 17 September 2027 with even chance"),
        (Reaching(0.95, SOON, LATER, LATER), "between 31 March 2027 and 17 September 2027"),
        (Reaching(0.95, DAY, SOON, LATER), "between now and 17 September 2027"),
    ],
)
def test_a_date_is_told_as_far_as_it_is_known(found, words):
    """Each way that a target may be reached, or not, has its own sentence."""
    assert words in reaching_words(found, tempo_bpm=110.0, time_s=60.0, as_of=DAY)


def test_a_crossing_says_which_is_longer_above():
    """The technique that is held longer above the crossing is named first, whichever was asked."""
    there = Interval(104.0, 101.0, 108.0)
    said = crossover_words(Crossover(0.9, there, 0.95, 0.05), one="whip fours", other="singles")
    assert said.startswith("Above 104.0 (101.0 to 108.0) whip fours is held longer, below it")
    turned = crossover_words(Crossover(0.9, there, 0.05, 0.05), one="singles", other="whip fours")
    assert turned == said


def test_where_none_crosses_the_longer_one_is_named():
    """Without a crossing the one that is likely longer throughout is named, with its chance."""
    said = crossover_words(Crossover(0.1, None, 0.0, 0.85), one="whip fours", other="singles")
    assert "do not cross" in said
    assert "whip fours is held longer at every tempo with 85 %," in said
    assert said.endswith("The chance that they cross is 10 %.")
    other = crossover_words(Crossover(0.1, None, 0.0, 0.05), one="whip fours", other="singles")
    assert "singles is held longer at every tempo with 85 %," in other


def test_no_sentence_cheers():
    """A high gain is told as plainly as none."""
    reach = a_reach(days=60, gain_bpm=9.0)
    said = [
        *trend_words(reach),
        improved_words(reach, date(2027, 2, 1)),
        chance_sentence(reach, tempo_bpm=80.0, time_s=60.0),
        reaching_words(Reaching(1.0, DAY, DAY, DAY), tempo_bpm=80.0, time_s=60.0, as_of=DAY),
    ]
    assert [sentence for sentence in said if CHEERS.search(sentence)] == []
