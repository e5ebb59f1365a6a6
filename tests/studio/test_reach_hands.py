"""The hands of a chart, sorted and fitted."""

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loosehand.errors import InputError
from loosehand.reach.fit import fit_hand
from loosehand.reach.pool import leaning_prior
from loosehand.reach.prior import NOBODY_KNOWN
from loosehand.reach.report import Asked, report_to_json
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.reach_hands import (
    fit_job,
    hands_of_rows,
    reach_of_hands,
    ready_job,
    workers,
)
from loosehand.studio.reach_rounds import rounds_of_rows
from loosehand.studio.round_tags import ENDED, RoundTags
from tests.studio.reach_scenes import chart_rows, ladder_rows, of_hand

DAY = date(2027, 3, 1)
TAGS = RoundTags("left", 100.0, 4, 60.0, None, "pad", None, None)


def rows(player="Ines", *, hand="left", days=4, last=DAY):
    """Return a few days of a player: 90 held, 100 lost, 110 lost soon."""
    return [
        ChartRow(
            last - timedelta(days=back),
            None,
            player,
            replace(TAGS, hand=hand, tempo_bpm=bpm),
            n,
            None,
        )
        for back in range(days)
        for bpm, n in ((90.0, 90), (100.0, 60 + back), (110.0, 12 + back))
    ]


def hands(found, *, player=None, hand=None, as_of=None):
    """Sort rows, with nothing asked unless said."""
    return hands_of_rows(found, player=player, hand=hand, as_of=as_of)


def test_each_hand_of_each_player_is_told():
    """Players by name, hands left before right, and the day is the last of the whole chart."""
    chart = [
        *rows("Otto", last=DAY - timedelta(days=9)),
        *rows(hand="right"),
        *rows(),
    ]
    found = hands(chart)
    assert [(job.player, job.kind.hand) for job in found.jobs] == [
        ("Ines", "left"),
        ("Ines", "right"),
        ("Otto", "left"),
    ]
    assert {job.as_of for job in found.jobs} == {found.as_of} == {DAY}
    assert found.notes == ()
    assert [job.kind.hand for job in hands(chart, player="Ines", hand="right").jobs] == ["right"]


def test_a_day_may_be_asked_for():
    """Rounds after the day are left out and counted; a hand with none before it is named."""
    found = hands([*rows(), *rows(hand="right", days=1)], as_of=DAY - timedelta(days=1))
    (job,) = found.jobs
    assert any("3 rounds after 2027-02-28 left out." in note for note in fit_job(job).notes)
    assert found.notes == (
        "Of Ines, 1 kind of rounds has no round with a count up to 2027-02-28, and no answer.",
    )


def test_a_hand_that_was_never_judged_is_named():
    """Rounds without a count give no hand, but a note."""
    silent = replace(
        rows(days=1)[0], count_held=None, ended="not judged", tags=replace(TAGS, hand="right")
    )
    found = hands([*rows(), silent])
    assert [job.kind.hand for job in found.jobs] == ["left"]
    assert "no round with a count" in found.notes[0]


@pytest.mark.parametrize(
    ("chart", "asked", "sentence"),
    [
        ([], {}, "holds no rounds"),
        (rows(), {"player": "Otto"}, "no player 'Otto' on this chart; it knows Ines"),
        (rows(), {"hand": "right"}, "no round of hand 'right' on this chart; it has left"),
        (rows(), {"as_of": date(2020, 1, 1)}, "no round with a count is on the chart up to 2020"),
    ],
)
def test_nothing_to_tell_is_one_sentence(chart, asked, sentence):
    """An empty chart, a player or a hand that is not there, a day before it all."""
    with pytest.raises(InputError, match=sentence):
        hands(chart, **asked)


def test_the_fit_is_the_models_own():
    """What was kept back from the fit does not matter to it: the same hand comes out."""
    chart = [*rows(), *rows(hand="right")]
    everything = rounds_of_rows(chart).rounds
    for job in hands(chart).jobs:
        whole = fit_hand(everything, kind=job.kind, as_of=DAY)
        assert fit_job(job).tempo_held_bpm(60.0) == whole.tempo_held_bpm(60.0)


def test_hands_are_told_in_their_order():
    """A hand is told with its player, in this process or on another."""
    jobs = hands([*rows(), *rows("Otto")]).jobs
    alone = reach_of_hands(jobs, processes=1)
    assert [each.player for each in alone] == ["Ines", "Otto"]
    apart = reach_of_hands(jobs, processes=2)
    assert [each.reach.tempo_held_bpm(60.0) for each in apart] == [
        each.reach.tempo_held_bpm(60.0) for each in alone
    ]


@pytest.fixture(scope="module")
def leaning():
    """Return a chart on which the right hand has few rounds and the left has many."""
    left = ladder_rows(days=8)
    return [*left, *of_hand(left[-9:], "right"), *chart_rows("Otto", days=3, last=DAY)]


def test_a_hand_of_few_rounds_leans_on_the_other(leaning):
    """Its prior is drawn towards the well known hand's fit of the same day, and a note says so."""
    left, right, *otto = reach_of_hands(hands(leaning).jobs, processes=1)
    rounds = rounds_of_rows([row for row in leaning if row.player == "Ines"]).rounds
    prior = leaning_prior(right.reach.kind, left.reach)
    alone = fit_hand(rounds, kind=right.reach.kind, as_of=DAY)
    leant = fit_hand(rounds, kind=right.reach.kind, as_of=DAY, prior=prior)
    assert right.reach.tempo_held_bpm(60.0) == leant.tempo_held_bpm(60.0)
    assert right.reach.tempo_held_bpm(240.0) != alone.tempo_held_bpm(240.0)
    said = "With 9 rounds it leans on the left hand, pad: "
    assert [each.startswith(said) for each in right.reach.notes].count(True) == 1
    assert not any("leans on the" in note for note in left.reach.notes)
    assert not any("leans on the" in note for each in otto for note in each.reach.notes)


def test_a_hand_leans_on_one_that_is_not_asked_for(leaning):
    """Asked for the right hand alone, or fitted elsewhere, it is told the same, and alone."""
    (_, right, *_) = reach_of_hands(hands(leaning).jobs, processes=2)
    (alone,) = reach_of_hands(hands(leaning, hand="right", player="Ines").jobs, processes=1)
    assert alone.reach.tempo_held_bpm(60.0) == right.reach.tempo_held_bpm(60.0)
    assert alone.reach.notes == right.reach.notes


def test_work_that_is_ready_carries_no_other_hand(leaning):
    """What is sent to another process has the prior, and not the rounds it came from."""
    left, right, *_ = hands(leaning).jobs
    assert right.leans_on == left
    assert ready_job(left, None) is left
    ready = ready_job(right, fit_job(left))
    assert ready.leans_on is None
    assert ready.prior.minute_sd_bpm < NOBODY_KNOWN.minute_sd_bpm


@pytest.mark.parametrize(("processes", "jobs"), [(1, 3), (2, 3), (None, 1)])
def test_jobs_are_done_in_turn(processes, jobs):
    """One process or several, what comes of jobs comes in their order, more than once."""
    with workers(processes, jobs=jobs) as run:
        assert list(run(abs, [-1, 2, -3])) == [1, 2, 3]
        assert list(run(abs, [])) == []


@st.composite
def any_row(draw):
    """Return any round that a chart may hold."""
    tempo_bpm = draw(st.floats(20.0, 400.0) | st.sampled_from([90.0, 100.0, 110.0]))
    tags = replace(
        TAGS,
        hand=draw(st.sampled_from(["left", "right", "alternating"])),
        tempo_bpm=tempo_bpm,
        places_per_count=draw(st.sampled_from([1, 4, 8, 12])),
        round_s=draw(st.sampled_from([3.0, 60.0, 14400.0])),
        feel=draw(st.sampled_from([None, "pain"])),
    )
    count_held = draw(st.sampled_from([0, tags.counts]) | st.integers(0, tags.counts))
    day = DAY - timedelta(days=draw(st.integers(0, 30) | st.integers(0, 2000)))
    ended = draw(st.sampled_from([None, *ENDED[:-1]]))
    return ChartRow(day, None, "Ines", tags, count_held, ended)


@settings(max_examples=12, deadline=None)
@given(st.lists(any_row(), min_size=1, max_size=12))
def test_any_chart_is_answered(chart):
    """Whatever rounds a chart holds, each hand of it has an answer in plain, finite JSON."""
    found = hands(chart)
    told = reach_of_hands(found.jobs, processes=1)
    asked = Asked(104.0, 240.0, found.as_of + timedelta(days=300))
    body = report_to_json(told, as_of=found.as_of, asked=asked, notes=found.notes)
    assert json.loads(json.dumps(body, allow_nan=False)) == body
    assert len(body["hands"]) == len({(row.tags.hand, row.tags.places_per_count) for row in chart})
