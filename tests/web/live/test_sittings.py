"""Checks of who plays which workout, and of pages that go away."""

import os
from datetime import timedelta

import pytest
from sqlalchemy import select

from loosehand.errors import Conflict, DiskFull, NotFound
from loosehand.studio.models import Round, Workout
from loosehand.studio.practice_days import rounds_apart
from loosehand.web.live import sittings as sittings_module
from loosehand.web.live.journal import journals_in
from loosehand.web.live.sittings import Sittings
from tests.web.live.conftest import NOW, new_sittings, workout_of
from tests.web.live.page_and_room import steady


def hold(planned):
    """Hold to the end."""
    return steady(planned["counts"], planned["places_per_count"])


def in_round(stand, key, page_key="page-1", **how):
    """A page in the middle of its first round."""
    page = stand.page(stand.seat(key, page_key, **how), play_round=hold)
    page.arm()
    stand.play(page, until=lambda each: len(each.strokes) > 8)
    return page


def standings(stand):
    """Standing of all rounds, and why they are void."""
    with stand.studio.look() as session:
        return [
            (each.standing, each.why_void)
            for each in session.scalars(select(Round).order_by(Round.id))
        ]


def test_a_second_page_is_refused(stand):
    """While one page plays a workout, another is told so."""
    key = stand.begin(workout_of())
    stand.seat(key, "page-1").leave = lambda: None
    with pytest.raises(Conflict, match="open in another window"):
        stand.seat(key, "page-2")


def test_a_second_page_takes_over(stand):
    """Where it is to be taken over, the first page is sent away and its round is void, kept."""
    key = stand.begin(workout_of())
    page = in_round(stand, key)
    sent_away = []
    stand.seat(key, "page-1").leave = lambda: sent_away.append(True)
    second = stand.seat(key, "page-2", take_over=True)
    assert sent_away == [True]
    assert second.sitting is not page.sitting
    assert standings(stand) == [("void", "another window took over")]


def test_a_page_comes_back_to_its_sitting(stand):
    """The same page finds its sitting, and the round in it, as they were."""
    key = stand.begin(workout_of())
    page = in_round(stand, key)
    seat = stand.seat(key)
    stand.sittings.depart(seat)
    assert stand.seat(key).sitting is page.sitting
    assert page.sitting.run is not None
    stand.play(page, until=lambda each: each.results)
    assert standings(stand) == [("counts", None)]


def test_a_page_that_stays_away_leaves_a_void_round(stand):
    """After its grace, the round of a page that went away is filed as void, its sound kept."""
    key = stand.begin(workout_of())
    in_round(stand, key)
    stand.sittings.depart(stand.seat(key))
    assert stand.sittings.clear_away(grace_s=60.0) == 0
    assert standings(stand) == []
    stand.sittings.clear_away(grace_s=-1.0)
    assert standings(stand) == [("void", "the page went away in the round")]
    assert journals_in(stand.studio.folder) == []


def test_a_new_server_finds_what_was_left(stand):
    """What a stopped server left is filed once by the next one, however often it looks."""
    key = stand.begin(workout_of())
    in_round(stand, key)
    later = Sittings(stand.studio, hearing=stand.hearing, now=lambda: NOW)
    assert later.clear_away(grace_s=-1.0) == 1
    assert later.clear_away(grace_s=-1.0) == 0
    assert len(standings(stand)) == 1


def test_a_new_server_goes_on_with_the_round(stand):
    """The page that comes back to a new server goes on with its round and its checked sound."""
    key = stand.begin(workout_of())
    page = in_round(stand, key)
    before = page.sitting.run.capture.next_frame
    stand.sittings = Sittings(stand.studio, hearing=stand.hearing, now=lambda: NOW)
    page.sitting = stand.seat(key).sitting
    assert page.sitting.run.capture.next_frame == before
    fresh = stand.page(stand.seat(key), play_round=hold)
    page.send = fresh.send
    page.send({"kind": "arm", "rate": 48_000, "listens": "microphone", "latency_s": 0.0})
    page.send(page.begun)
    for _, data in page.unacked:
        page.send(data)
    stand.play(page, until=lambda each: len(each.results) == 2)
    assert standings(stand) == [("counts", None)] * 2


def test_messages_sent_again_give_one_row(stand):
    """A round whose beginning and sound are sent thrice is one row."""
    key = stand.begin(workout_of())
    page = in_round(stand, key)
    for _ in range(2):
        page.send(page.begun)
        for _, data in page.unacked:
            page.send(data)
    stand.play(page, until=lambda each: each.results)
    page.send(page.begun)
    stand.settle(page)
    assert standings(stand) == [("counts", None)]


def test_a_workout_goes_on_in_a_new_sitting(stand):
    """A page loaded anew goes on with the round that comes next, after a sound check."""
    key = stand.begin(workout_of())
    page = in_round(stand, key)
    stand.play(page, until=lambda each: each.state["phase"] == "rest")
    stand.sittings.depart(stand.seat(key))
    again = stand.page(stand.seat(key, "page-2"), play_round=hold)
    again.arm()
    stand.play(again, until=lambda each: each.state["phase"] == "done")
    assert [each["index"] for each in again.results] == [1]
    with stand.studio.look() as session:
        assert session.scalars(select(Workout)).one().ended_at is not None


def test_there_is_no_such_workout(stand):
    """A key that leads nowhere is said in a sentence."""
    with pytest.raises(NotFound, match="there is no such workout"):
        stand.seat("0" * 32)


def test_a_void_round_is_found_again(stand):
    """A round that does not count is listed with its take and why."""
    key = stand.begin(workout_of())
    in_round(stand, key)
    stand.sittings.depart(stand.seat(key))
    stand.sittings.clear_away(grace_s=-1.0)
    apart = rounds_apart(stand.studio, "Nerys", first=NOW.date())
    assert [(each.hand, each.why_void) for each in apart] == [
        ("left", "the page went away in the round")
    ]
    assert apart[0].take_id == 1
    assert rounds_apart(stand.studio, "Nerys", first=NOW.date() + timedelta(days=1)) == []


def test_a_round_that_was_filed_as_the_server_stopped_is_not_offered_again(stand):
    """Where a round was filed and the server stopped before it noted so, the next one comes."""
    key = stand.begin(workout_of())
    page = in_round(stand, key)
    while page.sitting.run is not None:
        page.step()
        page.sitting.outbox.clear()
    page.sitting.jobs.pop().work()
    state = new_sittings(stand).join(key, "page-2", take_over=False).sitting.state()
    assert state["index"] == 1
    assert [(each["held"], each["void"]) for each in state["outcomes"]] == [(12, None)]
    assert standings(stand) == [("counts", None)]


@pytest.mark.parametrize("kill_in", ["rest", "round"])
def test_a_round_that_was_noted_is_noted_once(stand, kill_in):
    """Later than that nothing is noted twice: the second round comes."""
    key = stand.begin(workout_of())
    page = in_round(stand, key)
    stand.play(page, until=lambda each: each.results)
    stand.play(page, until=lambda each: each.state["phase"] == kill_in)
    if kill_in == "round":
        assert page.sitting.let_go(void="away") is not None
    state = new_sittings(stand).join(key, "page-2", take_over=False).sitting.state()
    assert state["index"] == 1
    assert [each["index"] for each in state["outcomes"] if each["void"] is None] == [0]


def test_a_round_that_cannot_be_filed_keeps_no_other_and_no_files_open(stand, monkeypatch):
    """Of two rounds that were left, one that fails stops not the other; files are let go of."""
    for page in ("page-1", "page-2"):
        in_round(stand, stand.begin(workout_of()), page)
    first, _ = journals_in(stand.studio.folder)
    fresh = new_sittings(stand)
    fresh._found_at_s -= 100.0
    file_round = sittings_module.file_round

    def fail_first(studio, journal, **how):
        if journal.folder == first:
            raise DiskFull("the disk is full")
        return file_round(studio, journal, **how)

    monkeypatch.setattr(sittings_module, "file_round", fail_first)
    with pytest.raises(DiskFull):
        fresh.clear_away()
    assert journals_in(stand.studio.folder) == [first]
    opened = []
    open_journal = sittings_module.open_journal
    monkeypatch.setattr(
        sittings_module,
        "open_journal",
        lambda folder: opened.append(open_journal(folder)) or opened[-1],
    )
    with pytest.raises(DiskFull):
        fresh.clear_away()
    with pytest.raises(OSError, match="descriptor"):
        os.fstat(opened[0]._sound)


def test_a_seat_that_another_page_took_is_not_held(stand):
    """Of two pages that come at once only the last is seated."""
    key = stand.begin(workout_of())
    first, second = stand.seat(key, "page-1"), stand.seat(key, "page-2")
    assert not stand.sittings.holds(first)
    assert stand.sittings.holds(second)
