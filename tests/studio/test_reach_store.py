"""Fits that are kept: made once, and again when the chart changes."""

import threading
import time
from contextlib import closing
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import delete, select, update

from loosehand.errors import NotFound
from loosehand.reach.fit import fit_hand
from loosehand.reach.pool import leaning_prior
from loosehand.studio import reach_store, reach_work
from loosehand.studio.archive import pack, unpack
from loosehand.studio.database import open_studio
from loosehand.studio.filing import RoundPlace, correct_count, import_rows, write_count
from loosehand.studio.models import Player, ReachFit, ReachForecast, Round
from loosehand.studio.reach_rounds import rounds_of_rows
from loosehand.studio.reach_store import (
    do_players,
    fill_record,
    plan_player,
    reach_of,
    save_work,
)
from tests.studio.reach_scenes import LAST, chart_rows, ladder_rows, of_hand


@pytest.fixture
def fits(monkeypatch):
    """Return the hands that were fitted: from the beginning, or 'again' from a fit before."""
    done = []
    fit_job, refit_hand = reach_work.fit_job, reach_work.refit_hand

    def noted(job):
        done.append(job.kind.hand)
        return fit_job(job)

    def noted_again(reach, rounds, **options):
        done.append(f"{reach.kind.hand} again")
        return refit_hand(reach, rounds, **options)

    monkeypatch.setattr(reach_work, "fit_job", noted)
    monkeypatch.setattr(reach_work, "refit_hand", noted_again)
    return done


@pytest.fixture
def no_reading(monkeypatch):
    """Return a function after which no rounds may be read."""

    def forbid():
        def fail(*_, **__):
            raise AssertionError("rounds were read")

        monkeypatch.setattr(reach_store, "chart_rows", fail)

    return forbid


def filled(studio, now, **rows):
    """Put two hands of a player on the chart."""
    import_rows(studio, chart_rows(**rows), now=now)


def minutes(found):
    """Return the tempos held for a minute, by hand."""
    return {each.kind.hand: each.reach.tempo_held_bpm(60.0) for each in found}


def test_a_hand_is_fitted_once(studio, now, fits, no_reading):
    """The second time the same fits come from the store, and not a round is read."""
    filled(studio, now)
    first = reach_of(studio, "Ines", today=LAST)
    assert [each.kind.hand for each in first] == fits == ["left", "right"]
    assert {each.reach.as_of for each in first} == {LAST}
    no_reading()
    again = reach_of(studio, "Ines", today=LAST)
    assert minutes(again) == minutes(first)
    assert [each.reach.notes for each in again] == [each.reach.notes for each in first]
    assert fits == ["left", "right"]


def test_after_a_round_that_hand_alone_is_fitted(studio, now, fits):
    """A new number moves its hand; the other's fit stays."""
    filled(studio, now)
    before = minutes(reach_of(studio, "Ines", today=LAST))
    more = chart_rows()[-2]
    assert more.tags.hand == "left"
    write_count(studio, replace(more, count_held=80), now=now)
    after = minutes(reach_of(studio, "Ines", today=LAST))
    assert fits == ["left", "right", "left again"]
    assert after["left"] != before["left"]
    assert after["right"] == before["right"]


def test_after_a_round_the_number_is_that_of_a_whole_fit(studio, now, fits):
    """After each round of a day's ladder it lies within 0.2 bpm and 2 points of a whole fit's."""
    rows = ladder_rows()
    today = [row for row in rows if row.day == LAST]
    import_rows(studio, [row for row in rows if row.day < LAST], now=now)
    reach_of(studio, "Ines", today=LAST)
    for row in today:
        write_count(studio, row, now=now)
        (found,) = reach_of(studio, "Ines", today=LAST)
    assert fits == ["left", *["left again"] * len(today)]
    rounds = rounds_of_rows(rows).rounds
    whole = fit_hand(rounds, kind=found.kind, as_of=LAST)
    assert found.reach.rounds == whole.rounds == len(rows)
    for time_s in (15.0, 60.0):
        held = whole.tempo_held_bpm(time_s).median
        assert found.reach.tempo_held_bpm(time_s).median == pytest.approx(held, abs=0.2)
        for tempo_bpm in (held - 3.0, held, held + 3.0):
            asked = {"tempo_bpm": tempo_bpm, "time_s": time_s}
            chance = whole.chance_of_holding(**asked)
            assert found.reach.chance_of_holding(**asked) == pytest.approx(chance, abs=0.02)


def test_after_many_rounds_a_hand_is_fitted_from_the_beginning(studio, now, fits):
    """The twentieth round since the last whole fit is the last that it goes on with."""
    filled(studio, now, hands=("left",))
    reach_of(studio, "Ines", today=LAST)
    for added in (12, 8, 1, 1, 21):
        for _ in range(added):
            write_count(studio, chart_rows()[-2], now=now)
        reach_of(studio, "Ines", today=LAST)
    assert fits == ["left", "left again", "left again", "left", "left again", "left"]


def test_only_rounds_at_the_end_are_gone_on_with(studio, now, fits):
    """A round of an earlier day, a correction, another day to tell of: the whole is fitted."""
    filled(studio, now, hands=("left",))
    reach_of(studio, "Ines", today=LAST)
    before = replace(chart_rows()[-2], day=LAST - timedelta(days=1))
    write_count(studio, before, now=now)
    reach_of(studio, "Ines", today=LAST)
    place = RoundPlace("Ines", LAST, 1)
    correct_count(studio, place, count_held=70, ended=None, why="counted again", now=now)
    reach_of(studio, "Ines", today=LAST)
    write_count(studio, replace(before, day=LAST + timedelta(days=1)), now=now)
    reach_of(studio, "Ines", today=LAST + timedelta(days=1))
    assert fits == ["left"] * 4


def test_a_round_that_was_not_judged_changes_the_notes_only(studio, now, fits):
    """The fit goes on with no round more, and says what was left out."""
    filled(studio, now, hands=("left",))
    reach_of(studio, "Ines", today=LAST)
    silent = replace(chart_rows()[-2], count_held=None, ended="not judged")
    import_rows(studio, [silent], now=now)
    (found,) = reach_of(studio, "Ines", today=LAST)
    assert fits == ["left", "left again"]
    assert found.reach.rounds == 18
    assert any("not judged and left out" in note for note in found.reach.notes)


def test_afresh_nothing_is_gone_on_with(studio, now, fits):
    """What was gone on with is to be fitted from the beginning; a whole fit stands."""
    filled(studio, now)
    reach_of(studio, "Ines", today=LAST)
    write_count(studio, chart_rows()[-2], now=now)
    reach_of(studio, "Ines", today=LAST)
    plan = plan_player(studio, "Ines", today=LAST, with_record=False, afresh=True)
    assert [hand.job.kind.hand for hand in plan.to_do] == ["left"]
    assert plan.to_do[0].go_on is None
    ((_, done),) = do_players([plan], map)
    assert save_work(studio, plan, done)
    assert fits[2:] == ["left again", "left"]
    assert not plan_player(studio, "Ines", today=LAST, with_record=False, afresh=True).to_do
    reach_of(studio, "Ines", today=LAST)
    assert len(fits) == 4
    with studio.look() as session:
        assert sorted(session.scalars(select(ReachFit.hand))) == ["left", "right"]


def test_a_hand_that_leans_is_fitted_with_the_one_it_leans_on(studio, now, fits):
    """After a round of either hand: the well known one goes on, the other one is fitted anew."""
    rows = ladder_rows(days=8)
    import_rows(studio, [*rows, *of_hand(rows[-9:], "right")], now=now)
    left, right = reach_of(studio, "Ines", today=LAST)
    assert fits == ["left", "right"]
    assert any("it leans on the left hand, pad: " in note for note in right.reach.notes)
    rounds = rounds_of_rows([*rows, *of_hand(rows[-9:], "right")]).rounds
    prior = leaning_prior(right.kind, left.reach)
    whole = fit_hand(rounds, kind=right.kind, as_of=LAST, prior=prior)
    assert right.reach.tempo_held_bpm(60.0) == whole.tempo_held_bpm(60.0)
    fits.clear()
    write_count(studio, of_hand(rows[-1:], "right")[0], now=now)
    reach_of(studio, "Ines", today=LAST)
    assert fits == ["right again"]
    fits.clear()
    write_count(studio, rows[-1], now=now)
    reach_of(studio, "Ines", today=LAST)
    assert fits == ["left again", "right"]
    fits.clear()
    with studio.act() as session:
        session.execute(update(ReachFit).where(ReachFit.hand == "right").values(fit=b"not a fit"))
    reach_of(studio, "Ines", today=LAST)
    assert fits == ["right"]


def test_every_act_that_changes_the_chart_tells(studio, now, fits):
    """A correction, an import, a round that is made void or deleted, a new day: each is seen."""

    def told():
        fits.clear()
        reach_of(studio, "Ines", today=LAST)
        return sorted(word.split()[0] for word in fits)

    filled(studio, now)
    assert told() == ["left", "right"]
    assert told() == []
    place = RoundPlace("Ines", LAST, 3)
    correct_count(studio, place, count_held=70, ended=None, why="counted again", now=now)
    assert "left" in told()
    correct_count(studio, place, count_held=71, ended=None, why="counted again", now=now)
    assert "left" in told()
    import_rows(studio, chart_rows(hands=("right",), days=1, last=LAST - timedelta(1)), now=now)
    assert told() == ["right"]
    last_round = select(Round.id).where(Round.hand == "right").order_by(Round.id.desc()).limit(1)
    with studio.act() as session:
        number = session.scalar(last_round)
        session.execute(update(Round).where(Round.id == number).values(standing="void"))
    assert told() == ["right"]
    with studio.act() as session:
        session.execute(delete(Round).where(Round.id == number))
    assert told() == []  # a void round told nothing before it was deleted
    with studio.act() as session:
        number = session.scalar(last_round)
        session.execute(delete(Round).where(Round.id == number))
    assert told() == ["right"]
    fits.clear()
    reach_of(studio, "Ines", today=LAST + timedelta(days=1))
    assert sorted(fits) == ["left", "right"]


def test_long_after_the_last_round_its_day_is_told_of(studio, now, fits):
    """From the sixty-first day on nothing is fitted anew."""
    filled(studio, now)
    for days in (61, 62, 400):
        found = reach_of(studio, "Ines", today=LAST + timedelta(days=days))
        assert {each.reach.as_of for each in found} == {LAST}
    assert fits == ["left", "right"]


def test_a_kind_that_is_gone_is_forgotten(studio, now):
    """When the last round of a hand is void, so is its fit."""
    filled(studio, now)
    reach_of(studio, "Ines", today=LAST)
    with studio.act() as session:
        session.execute(update(Round).where(Round.hand == "right").values(standing="void"))
    assert [each.kind.hand for each in reach_of(studio, "Ines", today=LAST)] == ["left"]
    with studio.look() as session:
        assert session.scalars(select(ReachFit.hand)).all() == ["left"]


def test_nobody_and_nothing(studio, now):
    """A player without rounds has no reach; one that is not there is not found."""
    with studio.act() as session:
        session.add(Player(name="Otto", added_at=now))
    assert reach_of(studio, "Otto", today=LAST) == []
    assert fill_record(studio, "Otto", today=LAST) == 0
    with pytest.raises(NotFound, match="Nobody"):
        reach_of(studio, "Nobody", today=LAST)


def test_weeks_are_scored_once(studio, now, no_reading):
    """The record counts all weeks that are over; a new round scores none of them again."""
    filled(studio, now, hands=("left",), days=15)
    (before,) = reach_of(studio, "Ines", today=LAST)
    assert before.record is None
    assert fill_record(studio, "Ines", today=LAST) == 3
    assert fill_record(studio, "Ines", today=LAST) == 0
    write_count(studio, chart_rows(hands=("left",))[-1], now=now)
    assert fill_record(studio, "Ines", today=LAST) == 0
    (found,) = reach_of(studio, "Ines", today=LAST)
    assert (found.record.origins, found.record.rounds) == (3, 30)
    no_reading()
    (again,) = reach_of(studio, "Ines", today=LAST)
    assert again.record == found.record


def test_weeks_after_a_correction_are_scored_again(studio, now):
    """Where a round before or in them changed, forecasts are forgotten and made anew."""
    filled(studio, now, hands=("left",), days=15)
    fill_record(studio, "Ines", today=LAST)
    with studio.look() as session:
        origins = sorted(session.scalars(select(ReachForecast.origin)))
    place = RoundPlace("Ines", LAST - timedelta(days=4), 2)
    assert origins[-1] <= place.day < origins[-1] + timedelta(days=7)
    correct_count(studio, place, count_held=10, ended=None, why="counted again", now=now)
    (found,) = reach_of(studio, "Ines", today=LAST)
    assert found.record.origins == 2
    assert fill_record(studio, "Ines", today=LAST) == 1


def test_what_the_chart_outran_is_not_kept(studio, now):
    """A fit of rounds that changed while it was made is answered with, but not stored."""
    filled(studio, now)
    work = plan_player(studio, "Ines", today=LAST, with_record=False)
    done = [reach_work.do_work(hand) for hand in work.to_do]
    write_count(studio, chart_rows()[-1], now=now)
    assert not save_work(studio, work, done)
    with studio.look() as session:
        assert session.scalars(select(ReachFit.id)).all() == []


def test_a_studio_that_is_held_is_answered_all_the_same(studio, now):
    """Where the fit cannot be stored the answer comes nevertheless."""
    filled(studio, now)
    with studio.act():
        assert len(reach_of(studio, "Ines", today=LAST)) == 2
    with studio.look() as session:
        assert session.scalars(select(ReachFit.id)).all() == []


def test_two_at_once_store_each_hand_once(studio, now):
    """Two pages that fit the same hands at the same time leave one fit a hand."""
    filled(studio, now)
    plans = [plan_player(studio, "Ines", today=LAST, with_record=False) for _ in range(2)]
    threads = [
        threading.Thread(
            target=lambda work: save_work(studio, work, list(map(reach_work.do_work, work.to_do))),
            args=(work,),
        )
        for work in plans
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with studio.look() as session:
        assert sorted(session.scalars(select(ReachFit.hand))) == ["left", "right"]


def test_a_fit_that_cannot_be_read_is_made_again(studio, now, fits):
    """Damaged bytes are no answer and no obstacle."""
    filled(studio, now, hands=("left",))
    before = minutes(reach_of(studio, "Ines", today=LAST))
    with studio.act() as session:
        session.execute(update(ReachFit).values(fit=b"not a fit"))
    assert minutes(reach_of(studio, "Ines", today=LAST)) == before
    assert fits == ["left", "left"]


def test_another_version_of_the_code_fits_anew(studio, now, fits, monkeypatch):
    """What an older version fitted is not taken for this one's."""
    filled(studio, now, hands=("left",))
    reach_of(studio, "Ines", today=LAST)
    for module in (reach_store, reach_work):
        monkeypatch.setattr(module, "code_version", lambda: "another")
    reach_of(studio, "Ines", today=LAST)
    assert fits == ["left", "left"]


def test_a_player_takes_the_fits_along(studio, now):
    """When a player is deleted nothing points to nobody."""
    with studio.act() as session:
        session.add(Player(name="Otto", added_at=now))
        session.flush()
        number = session.scalar(select(Player.id))
        kind = {"hand": "left", "places_per_count": 4, "player_id": number, "made_on": LAST}
        marks = {"fingerprint": "a", "rounds_mark": "a", "rounds_added": 0, "stamp": "b"}
        session.add(ReachFit(**kind, as_of=LAST, **marks, fit=b""))
        session.add(ReachForecast(**kind, origin=LAST, fingerprint="a", rounds=[]))
    with studio.act() as session:
        session.execute(delete(Player).where(Player.id == number))
    with studio.look() as session:
        assert session.scalars(select(ReachFit.id)).all() == []
        assert session.scalars(select(ReachForecast.id)).all() == []


def test_fits_stay_behind_and_are_made_again(studio, now, tmp_path, fits):
    """An archive has no fits; unpacked, hands are fitted from the rounds, to the same numbers."""
    filled(studio, now)
    before = minutes(reach_of(studio, "Ines", today=LAST))
    pack(studio, tmp_path / "a.zip", now=now)
    with closing(open_studio(tmp_path / "other", create=True, busy_timeout_s=0.2)) as other:
        unpack(other, tmp_path / "a.zip")
        with other.look() as session:
            assert session.scalars(select(ReachFit.id)).all() == []
        assert minutes(reach_of(other, "Ines", today=LAST)) == before
    assert fits == ["left", "right"] * 2


@pytest.mark.timing
def test_after_a_round_its_hand_is_there_soon(studio, now):
    """On a chart of a ladder a day for ninety days, a round costs 0.25 s of the processor."""
    rows = ladder_rows(days=90)
    import_rows(studio, rows[:-3], now=now)
    reach_of(studio, "Ines", today=LAST)
    times = []
    for row in rows[-3:]:
        write_count(studio, row, now=now)
        begin = time.process_time()
        reach_of(studio, "Ines", today=LAST)
        times.append(time.process_time() - begin)
    assert min(times) < 0.25


@pytest.mark.timing
def test_stored_fits_come_at_once(studio, now):
    """Three hands of a chart of ninety days are there within 0.1 s (best of five)."""
    hands = ("left", "right", "alternating")
    filled(studio, now, hands=hands, days=90)
    reach_of(studio, "Ines", today=LAST)
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        assert len(reach_of(studio, "Ines", today=LAST)) == 3
        times.append(time.perf_counter() - begin)
    assert min(times) < 0.1
