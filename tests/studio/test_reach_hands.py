"""The hands of a chart, sorted and fitted."""

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loosehand.errors import InputError
from loosehand.reach.fit import fit_hand
from loosehand.reach.report import Asked, report_to_json
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.reach_hands import (
    fit_job,
    hands_of_rows,
    in_turn,
    reach_of_hands,
)
from loosehand.studio.reach_rounds import rounds_of_rows
from loosehand.studio.round_tags import ENDED, RoundTags

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
    assert any("3 rounds after 2027-02-28 are left out." in note for note in fit_job(job).notes)
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


def test_jobs_are_done_in_turn():
    """One process works lazily, in order."""
    assert list(in_turn(abs, [-1, 2], processes=1)) == [1, 2]
    assert list(in_turn(abs, [-1, 2, -3], processes=2)) == [1, 2, 3]
    assert list(in_turn(abs, [], processes=None)) == []


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
