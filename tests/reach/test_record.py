"""The record of past forecasts, against rounds whose chances are known."""

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from loosehand.reach.fit import fit_hand
from loosehand.reach.record import (
    ForecastRecord,
    RoundForetold,
    WeekForetold,
    foretell_week,
    origins_of,
    record_of_weeks,
    score_week,
)
from loosehand.reach.seen import HandKind, RoundSeen

KIND = HandKind("left", None, "pad", None, 4)
MONDAY = date(2027, 3, 1)
WEEK = timedelta(days=7)


def a_round(day, tempo_bpm, count_held, *, held_on=None, order=1):
    """Return a minute; it was held if all its counts were."""
    on = count_held >= tempo_bpm if held_on is None else held_on
    return RoundSeen(day, order, KIND, float(tempo_bpm), 60.0, count_held, on, None)


def weeks_of_ladders(weeks, *, seed=20270301):
    """Return ladders on three days a week, of a hand that holds about 100 for a minute."""
    rng = np.random.default_rng(seed)
    found = []
    for day in sorted(
        MONDAY - week * WEEK + timedelta(days=each) for week in range(weeks) for each in (0, 2, 4)
    ):
        form = rng.normal(0.0, 1.5)
        for order, tempo_bpm in enumerate(range(90, 115, 4), start=1):
            hold_s = 60.0 * math.exp(rng.normal(0.0, 0.2) + (100 + form - tempo_bpm) / 4.0)
            count = int(min(hold_s, 60.0) * tempo_bpm / 60.0)
            found.append(a_round(day, tempo_bpm, count, order=order))
    return found


def foretold(chance, held, *, in_80=1.0, baseline=0.5):
    """Return a round that was foretold."""
    return RoundForetold(chance, held, in_80, baseline)


def test_each_week_that_is_over_is_an_origin_once_enough_was_played():
    """Mondays of weeks with rounds, not the running one, not before ten rounds, at most twelve."""
    rounds = weeks_of_ladders(20)
    found = origins_of(rounds, kind=KIND, as_of=MONDAY + timedelta(days=3))
    assert found == tuple(MONDAY - back * WEEK for back in range(12, 0, -1))
    assert origins_of(rounds, kind=KIND, as_of=MONDAY + timedelta(days=6))[-1] == MONDAY
    early = origins_of(rounds[:42], kind=KIND, as_of=MONDAY)
    assert early == (MONDAY - 18 * WEEK,)
    assert origins_of(rounds[:21], kind=KIND, as_of=MONDAY) == ()
    assert origins_of([], kind=KIND, as_of=MONDAY) == ()
    assert origins_of(rounds, kind=replace(KIND, hand="right"), as_of=MONDAY) == ()


def test_only_what_was_there_before_is_known():
    """A forecast does not change with the rounds it foretells, nor with those after them."""
    rounds = weeks_of_ladders(6)
    origin = MONDAY - 2 * WEEK
    before = [each for each in rounds if each.day < origin]
    week = [each for each in rounds if origin <= each.day < origin + WEEK]
    all_lost = [replace(each, count_held=0, held_on=False) for each in week]
    once = foretell_week(rounds, kind=KIND, origin=origin)
    again = foretell_week([*before, *all_lost], kind=KIND, origin=origin)
    assert [each.chance for each in once.rounds] == [each.chance for each in again.rounds]
    assert [each.baseline for each in once.rounds] == [each.baseline for each in again.rounds]
    assert any(each.held for each in once.rounds)
    assert not any(each.held for each in again.rounds)
    assert once == foretell_week([*before, *week], kind=KIND, origin=origin)


def test_rounds_are_scored_as_they_were_played():
    """The chance is the reach's own; the baseline counts like rounds; broken-off ones are left."""
    before = weeks_of_ladders(3)
    reach = fit_hand(before, kind=KIND, as_of=MONDAY + timedelta(days=6))
    origin = MONDAY + WEEK
    week = [
        a_round(origin, 90, 90),
        a_round(origin, 102, 30, order=2),
        a_round(origin, 98, 20, held_on=True, order=3),
        replace(a_round(origin, 98, 20, order=4), kind=replace(KIND, hand="right")),
        a_round(origin + WEEK, 98, 20),
    ]
    found = score_week(reach, [*before, *week], origin=origin).rounds
    assert [each.held for each in found] == [True, False]
    assert found[0].chance == reach.chance_of_holding(tempo_bpm=90.0, time_s=60.0)
    held = sum(each.held_on for each in before if each.tempo_bpm == 90.0)
    assert found[0].baseline == pytest.approx((held + 1) / (9 + 2))


@pytest.mark.parametrize(("count", "within"), [(0, 0.0), (101, 0.0)])
def test_counts_that_nobody_expects_lie_outside(count, within):
    """At a tempo far over the edge no long hold is expected, far under it no short one."""
    before = weeks_of_ladders(4)
    reach = fit_hand(before, kind=KIND, as_of=MONDAY)
    tempo_bpm = 80 if count == 0 else 140
    late = [a_round(MONDAY + WEEK, tempo_bpm, count)]
    (found,) = score_week(reach, [*before, *late], origin=MONDAY + WEEK).rounds
    assert found.in_80 == within


def test_the_sums_are_those_done_by_hand():
    """Shares, bins and scores of five rounds."""
    weeks = [
        WeekForetold(MONDAY, (foretold(0.5, True, in_80=1.0), foretold(0.5, False, in_80=0.5))),
        WeekForetold(
            MONDAY + WEEK,
            (
                foretold(0.99999, True, in_80=0.8, baseline=0.9),
                foretold(0.99999, False, in_80=0.0, baseline=0.9),
                foretold(0.1, False, in_80=0.0, baseline=0.2),
            ),
        ),
        WeekForetold(MONDAY + 2 * WEEK, ()),
    ]
    record = record_of_weeks(weeks)
    assert isinstance(record, ForecastRecord)
    assert (record.origins, record.rounds, record.rounds_in_doubt) == (2, 5, 3)
    assert record.share_in_80 == pytest.approx(0.5)
    assert [(each.rounds, each.share_held) for each in record.reliability] == [
        (1, 0.0),
        (2, 0.5),
        (2, 0.5),
    ]
    assert record.reliability[0].mean_chance == pytest.approx(0.1)
    by_hand = (2 * math.log(0.5) + math.log(0.99) + math.log(0.01) + math.log(0.9)) / 5
    assert record.mean_log_score == pytest.approx(by_hand)
    by_hand = (2 * math.log(0.5) + math.log(0.9) + math.log(0.1) + math.log(0.8)) / 5
    assert record.baseline_log_score == pytest.approx(by_hand)


def test_nothing_foretold_is_no_record():
    """No weeks, or weeks without rounds, are no record; sure rounds alone have no share."""
    assert record_of_weeks([]) is None
    assert record_of_weeks([WeekForetold(MONDAY, ())]) is None
    record = record_of_weeks([WeekForetold(MONDAY, (foretold(0.99, True),))])
    assert record is not None
    assert math.isnan(record.share_in_80)


def test_honest_forecasts_score_well():
    """Of a steady hand, intervals hold about 80 in 100, and chances beat the past shares."""
    rounds = weeks_of_ladders(14)
    origins = origins_of(rounds, kind=KIND, as_of=MONDAY + timedelta(days=6))
    record = record_of_weeks(
        [foretell_week(rounds, kind=KIND, origin=origin) for origin in origins]
    )
    assert record.rounds > 200
    assert 0.7 < record.share_in_80 < 0.9
    assert record.mean_log_score > record.baseline_log_score - 0.02
