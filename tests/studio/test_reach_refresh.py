"""Every hand of a studio, fitted where need be."""

import pytest

from loosehand.studio.filing import import_rows, write_count
from loosehand.studio.reach_hands import hands_of_rows
from loosehand.studio.reach_refresh import Refreshed, refresh_studio, stored_reach_of_hands
from loosehand.studio.reach_store import reach_of
from tests.studio.reach_scenes import LAST, chart_rows, ladder_rows, of_hand


@pytest.fixture
def two_players(studio, now):
    """Put two players on the chart."""
    import_rows(studio, [*chart_rows(days=8), *chart_rows("Otto", days=8)], now=now)
    return studio


def refreshed(studio, *, processes=1, with_record=False, done=lambda player: None):
    """Fit what need be on the last day of the chart."""
    return refresh_studio(
        studio, today=LAST, processes=processes, with_record=with_record, done=done
    )


def test_all_is_fitted_once_and_then_nothing(two_players, now):
    """The first time every hand, the second none, after a round that hand."""
    named = []
    assert refreshed(two_players, done=named.append) == Refreshed(2, 4, 4, 0, 0)
    assert named == ["Ines", "Otto"]
    assert refreshed(two_players) == Refreshed(2, 4, 0, 0, 0)
    write_count(two_players, chart_rows("Otto")[-2], now=now)
    assert refreshed(two_players) == Refreshed(2, 4, 1, 0, 0)


def test_weeks_are_foretold_where_asked(two_players):
    """With the record each hand has one that the pages show."""
    done = refreshed(two_players, with_record=True)
    assert (done.fitted, done.weeks) == (4, 4)
    assert all(each.record.origins == 1 for each in reach_of(two_players, "Otto", today=LAST))
    assert refreshed(two_players, with_record=True).weeks == 0


def test_several_processes_fit_the_same(two_players):
    """What comes from other processes is what this one would have made."""
    assert refreshed(two_players, processes=2).fitted == 4
    apart = [each.reach.tempo_held_bpm(60.0) for each in reach_of(two_players, "Ines", today=LAST)]
    two_players.engine.dispose()
    with two_players.act() as session:
        session.connection().exec_driver_sql("DELETE FROM reach_fits")
    alone = [each.reach.tempo_held_bpm(60.0) for each in reach_of(two_players, "Ines", today=LAST)]
    assert apart == alone


def test_hands_that_lean_are_fitted_after_those_they_lean_on(studio, now):
    """On two processes as on one; players whose hands lean on none are done first."""
    rows = ladder_rows("Ines", days=8)
    import_rows(studio, [*rows, *of_hand(rows[-9:], "right"), *chart_rows("Otto")], now=now)
    named = []
    assert refreshed(studio, processes=2, done=named.append) == Refreshed(2, 4, 4, 0, 0)
    assert named == ["Otto", "Ines"]
    apart = [each.reach.tempo_held_bpm(60.0) for each in reach_of(studio, "Ines", today=LAST)]
    with studio.act() as session:
        session.connection().exec_driver_sql("DELETE FROM reach_fits")
    alone = [each.reach.tempo_held_bpm(60.0) for each in reach_of(studio, "Ines", today=LAST)]
    assert apart == alone


def test_what_was_gone_on_with_is_fitted_from_the_beginning(two_players, now):
    """A page goes on from the fit before a round; this fits that hand whole, once."""
    refreshed(two_players)
    write_count(two_players, chart_rows("Otto")[-2], now=now)
    reach_of(two_players, "Otto", today=LAST)
    assert refreshed(two_players).fitted == 1
    assert refreshed(two_players).fitted == 0


@pytest.mark.parametrize("processes", [None, 2])
def test_hands_are_told_from_their_stored_fits(two_players, now, processes):
    """Those asked for, in their order; what is fitted on the way is stored."""
    rows = [*chart_rows(days=8), *chart_rows("Otto", days=8)]
    jobs = hands_of_rows(rows, player=None, hand=None, as_of=LAST).jobs[1:]
    told = stored_reach_of_hands(two_players, jobs, today=LAST, processes=processes)
    assert [(each.player, each.reach.kind.hand) for each in told] == [
        ("Ines", "right"),
        ("Otto", "left"),
        ("Otto", "right"),
    ]
    stored = [each.reach.tempo_held_bpm(60.0) for each in reach_of(two_players, "Otto", today=LAST)]
    assert [each.reach.tempo_held_bpm(60.0) for each in told[1:]] == stored
    assert refreshed(two_players).fitted == 0


def test_an_empty_studio_is_refreshed_at_once(studio):
    """Nobody, nothing."""
    assert refreshed(studio, processes=2) == Refreshed(0, 0, 0, 0, 0)
