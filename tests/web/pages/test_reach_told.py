"""The record of forecasts, the laws and what is taken for granted, laid out."""

import math
from dataclasses import replace
from datetime import timedelta

import pytest

from loosehand.reach.fit import fit_hand
from loosehand.reach.laws import Curve
from loosehand.reach.reach import RecoveryShift
from loosehand.reach.record import ForecastRecord, ReliabilityBin
from loosehand.web.pages.reach_told import (
    curves_view,
    law_rows,
    prior_words,
    record_view,
    recovery_rows,
    recovery_words,
)
from tests.reach.known_reach import a_reach
from tests.reach.ladder_hands import FIRST, KIND, a_player, ladders
from tests.web.plots.reach_pictures import drawn, moves

RECORD = ForecastRecord(
    origins=4,
    rounds=57,
    rounds_in_doubt=40,
    share_in_80=0.775,
    reliability=(ReliabilityBin(0.1, 0.2, 20), ReliabilityBin(0.9, 0.865, 37)),
    mean_log_score=-0.41,
    baseline_log_score=-0.6,
)


@pytest.fixture(scope="module")
def curve_reach():
    """Return the reach of a hand after four weeks of ladders."""
    days = range(0, 28, 2)
    rounds = ladders(a_player(), days, seed=5)
    return fit_hand(rounds, kind=KIND, as_of=FIRST + timedelta(days=27))


def test_no_record_is_said():
    """Where nothing was foretold yet there is a sentence and no picture."""
    view = record_view(None)
    assert (view.svg, view.rows) == (None, ())
    assert view.words[0].startswith("No forecast was checked yet")


def test_a_record_is_a_picture_a_table_and_words():
    """Both bins are drawn and stand in the table; the sentence has the interval of the share."""
    view = record_view(RECORD)
    assert moves(drawn(view.svg), "lost") == 2
    assert view.rows == (("10 %", "20 %", 20), ("90 %", "86 %", 37))
    assert "In 4 past weeks" in view.words[0]
    assert "57 rounds in all" in view.words[0]
    assert "Of the 40 rounds in doubt, 78 % of the counts held" in view.words[1]
    assert "62 to 88 %" in view.words[1]
    assert "−0.41, better than −0.60" in view.words[2]
    assert len(view.words) == 3


def test_few_rounds_are_said_to_be_few():
    """Nineteen rounds cannot say whether forecasts can be relied on; a worse score is said."""
    few = replace(RECORD, rounds=19, rounds_in_doubt=1, origins=1, mean_log_score=-0.7)
    words = record_view(few).words
    assert "In 1 past week each" in words[0]
    assert "Of the 1 round in doubt" in words[1]
    assert "not better than" in words[2]
    assert "too few to say" in words[3]


def test_sure_rounds_try_no_interval():
    """Where no round was in doubt there is no share, and no figure stands for it."""
    sure = replace(RECORD, rounds_in_doubt=0, share_in_80=math.nan)
    words = record_view(sure).words
    assert "no interval could be tried" in words[1]
    assert not any("nan" in sentence for sentence in words)


def test_the_law_that_foretells_best_is_marked():
    """All three laws have a row with score and weight; one that was not tried says so."""
    reach = a_reach()
    laws = (replace(reach.laws[0], held_out_score=math.nan), *reach.laws[1:])
    rows = law_rows(replace(reach, laws=laws))
    assert [row.law for row in rows if row.chosen] == ["log-linear"]
    assert rows[0].score == "could not be tried"
    assert [row.score for row in rows[1:]] == ["−1.00", "−1.00"]
    assert {row.weight for row in rows} == {"33 %"}


def test_recovery_is_shown_where_it_is_known():
    """A reach that says how it moves with the time of recovery has a row for each."""
    reach = a_reach()
    assert recovery_rows(reach) == []
    shifts = (RecoveryShift(22.5, 99.5, 95.26), RecoveryShift(90.0, 101.0, 97.0))
    moved = replace(reach, recovery=shifts)
    assert recovery_rows(moved) == [("22.5 s", "99.5", "95.3"), ("90 s", "101.0", "97.0")]


def test_a_recovery_that_is_believed_is_called_so():
    """Where the rounds tell nothing of it, it is a belief; where they do, it is weighed."""
    assert "a stated belief, not a finding" in recovery_words(a_reach())
    assert "weighed by the order" in recovery_words(replace(a_reach(), recovery_is_told=True))


def test_what_was_believed_is_said_where_rounds_are_few():
    """With 29 rounds the prior is named, in counts of the hand's own grid; with 30 it is not."""
    reach = a_reach()
    assert prior_words(replace(reach, rounds=30), []) is None
    assert "88 for a minute (70 to 106)" in prior_words(replace(reach, rounds=29), [])
    eight = replace(a_reach(places=8), rounds=5)
    assert "44 for a minute (35 to 53)" in prior_words(eight, [])


def test_what_was_believed_is_another_where_the_hand_leans():
    """With a well known hand of the same person beside it the belief is drawn towards that."""
    reach = replace(a_reach(), rounds=12)
    other = replace(reach.kind, hand="right")
    donor = replace(a_reach(Curve("hyperbolic", 120.0, 2.0), kind=other), rounds=200)
    said = prior_words(reach, [reach, donor])
    assert "leans on another of the same person: 112 for a minute" in said
    assert "88 for a minute" in prior_words(reach, [reach, replace(donor, rounds=39)])


def test_a_target_is_told_by_every_practice_curve(curve_reach):
    """Three rows with shares of the evidence and levels neared; the straight line nears none."""
    asked = {"time_s": 60.0, "last": curve_reach.as_of + timedelta(days=364)}
    view = curves_view(curve_reach, tempo_bpm=70.0, **asked)
    assert view.sentence is None
    assert {row.words.split(",")[0] for row in view.rows} == {
        "in a straight line",
        "and levels off (exponential",
        "and levels off (power",
    }
    assert {row.reached for row in view.rows} == {"already"}
    assert [row.nears for row in view.rows if "straight" in row.words] == ["no level"]
    shares = [int(row.share.split()[-2]) for row in view.rows]
    assert shares == sorted(shares, reverse=True)
    assert 98 <= sum(shares) <= 102
    assert all(float(row.nears) > 80.0 for row in view.rows if "levels" in row.words)
    far = curves_view(curve_reach, tempo_bpm=300.0, **asked)
    assert {row.reached for row in far.rows} == {"not within a year"}


def test_two_days_tell_of_no_practice_curve():
    """Where there is nothing to fit a sentence says so, and there is no row."""
    reach = fit_hand(ladders(a_player(), 2, seed=3), kind=KIND, as_of=FIRST + timedelta(days=1))
    view = curves_view(reach, tempo_bpm=100.0, time_s=60.0, last=reach.as_of)
    assert view.rows == ()
    assert "cannot be told yet" in view.sentence
