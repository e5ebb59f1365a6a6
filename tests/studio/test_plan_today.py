"""Checks of a player's day as it is planned from the studio."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from loosehand.errors import InputError, NotFound
from loosehand.rounds.day_known import PlanAsked
from loosehand.studio.chart import Kind, rounds_since
from loosehand.studio.filing import import_rows
from loosehand.studio.models import Round
from loosehand.studio.plan_today import DayAsked, day_rng, past_rounds, plan_for
from loosehand.studio.workouts import add_player

TODAY = date(2027, 3, 1)
TWENTY = DayAsked(PlanAsked(20.0))
FOUR = Kind("whip fours", "pad", "medium", 4)


def put(studio, row, now, rounds, **tags):
    """Write rounds of a minute: days ago, hand, tempo, count held."""
    rows = [
        replace(
            row,
            day=TODAY - timedelta(days=ago),
            tags=replace(row.tags, hand=hand, tempo_bpm=float(tempo), feel=None, **tags),
            count_held=held,
            ended=None,
        )
        for ago, hand, tempo, held in rounds
    ]
    import_rows(studio, rows, now=now)


def known(*, ago=3, left=90, right=96):
    """Rounds around what each hand holds for a minute."""
    return [
        (ago + day, hand, edge + off, edge + off if off < 0 else 50 - off)
        for day in (0, 2, 4)
        for hand, edge in (("left", left), ("right", right))
        for off in (-8, -4, 4, 8)
    ]


def plan(studio, now, asked=TWENTY, player="Ines"):
    """Plan a day."""
    return plan_for(studio, player, asked, now=now, rng=day_rng(player, TODAY))


def change(studio, **columns):
    """Change the columns of the round that was filed last."""
    with studio.act() as session:
        found = session.scalars(select(Round).order_by(Round.id.desc()).limit(1)).one()
        for name, value in columns.items():
            setattr(found, name, value)


def test_a_plan_is_made_around_each_hands_edge(studio, row, now):
    """The hands are those of the chart: tempos lie where each is likely to hold."""
    put(studio, row, now, known())
    day = plan(studio, now)
    assert (day.kind, day.weak, day.day_kind) == (FOUR, "left", "ordinary")
    assert day.weak_why.startswith("by the minute it holds: left ")
    tempos = {
        each.planned.hand: each.planned.tempo_bpm for each in day.plan.steps if each.block == "test"
    }
    assert 84 <= tempos["left"] <= 96
    assert 90 <= tempos["right"] <= 102
    assert day.plan.length.expected_s == pytest.approx(1200.0, abs=60.0)


def test_the_same_day_is_planned_the_same(studio, row, now):
    """Looked at again, the plan is the same to the last figure; another day's may differ."""
    put(studio, row, now, known())
    assert plan(studio, now) == plan(studio, now)
    draws = {day_rng(name, TODAY).random() for name in ("Ines", "Otto")}
    assert len({*draws, day_rng("Ines", TODAY + timedelta(days=1)).random()}) == 3


def test_a_new_player_is_searched_for(studio, now):
    """Of somebody without a round nothing is known, and the plan begins with a search."""
    add_player(studio, "Ines", now=now)
    day = plan(studio, now)
    assert day.kind == Kind(None, None, None, 4)
    assert (day.weak, day.weak_why) == ("left", "not known yet; left is taken")
    assert "placement" in {each.block for each in day.plan.steps}


def test_the_technique_played_longest_ago_is_due(studio, row, now):
    """Of two in use it is the older one's turn, on the surface it was played on last."""
    put(studio, row, now, known(ago=9), technique="push-pull", surface="hat", loudness="soft")
    put(studio, row, now, known(ago=2))
    day = plan(studio, now)
    assert day.kind == Kind("push-pull", "hat", "soft", 4)
    assert "push-pull: of the 2 in use the one played longest ago" in day.plan.why
    assert day.kinds == (FOUR, day.kind)


def test_what_the_player_chooses_is_played(studio, row, now):
    """A kind that is chosen is taken as it is; what is due anyway is not called a choice."""
    put(studio, row, now, known(ago=9), technique="push-pull")
    put(studio, row, now, known(ago=2))
    chosen = plan(studio, now, replace(TWENTY, kind=FOUR))
    assert (chosen.kind, chosen.technique_why) == (FOUR, "whip fours, as you chose.")
    due = plan(studio, now, replace(TWENTY, kind=replace(FOUR, technique="push-pull")))
    assert due.technique_why.startswith("push-pull: of the 2 in use")
    none = plan(studio, now, replace(TWENTY, kind=Kind(None, None, None, 3)))
    assert (none.kind.technique, none.technique_why) == (None, None)
    assert {each.planned.places_per_count for each in none.plan.steps} == {3}


def test_kinds_are_never_pooled(studio, row, now):
    """Soft rounds tell nothing of medium ones: the hands are searched for anew."""
    put(studio, row, now, known())
    day = plan(studio, now, replace(TWENTY, kind=replace(FOUR, loudness="soft")))
    assert "placement" in {each.block for each in day.plan.steps}


def test_the_weaker_hand_is_known_from_another_kind(studio, row, now):
    """Where today's kind is new the one played last tells; a person's word is above both."""
    put(studio, row, now, known(left=99, right=90))
    new = replace(TWENTY, kind=replace(FOUR, loudness="soft"))
    assert plan(studio, now, new).weak == "right"
    said = plan(studio, now, replace(new, weak="left"))
    assert (said.weak, said.weak_why) == ("left", "as you said")


@pytest.mark.parametrize("standing", ["counts", "warm-up", "void"])
def test_pain_counts_wherever_it_was(studio, row, now, standing):
    """A round that hurt yesterday brings rest, also if it was a warm-up or void without count."""
    put(studio, row, now, [*known(), (1, "left", 60, 60)])
    change(studio, feel="pain", standing=standing, count_written=None)
    day = plan(studio, now)
    assert (day.day_kind, day.plan.rest_proposed, day.plan.steps) == ("pain", True, ())


def test_a_test_is_not_asked_for_twice_a_week(studio, row, now):
    """A test of three days ago is the week's; a void one is none."""
    put(studio, row, now, [*known(), (3, "left", 88, 60)])
    change(studio, purpose="test")
    hands = {each.planned.hand for each in plan(studio, now).plan.steps if each.block == "test"}
    assert hands == {"right"}
    change(studio, standing="void")
    hands = {each.planned.hand for each in plan(studio, now).plan.steps if each.block == "test"}
    assert hands == {"left", "right"}


def past_of(studio):
    """All rounds of Ines as the planner looks at them."""
    with studio.look() as session:
        return past_rounds(rounds_since(session, player="Ines", first=date(2020, 1, 1)))


def test_rounds_that_were_struck_are_known(studio, row, now):
    """Warm-ups and what was struck of void rounds are load; void ones tell nothing of holding."""
    put(studio, row, now, [(1, "left", 90, 90)])
    change(studio, standing="warm-up", purpose="warm-up")
    put(studio, row, now, [(1, "right", 90, 30)])
    change(studio, standing="void", purpose="test")
    put(studio, row, now, [(1, "right", 95, None)])
    change(studio, standing="void")
    assert [
        (each.hand, each.purpose, each.held_on, each.counts_played) for each in past_of(studio)
    ] == [
        ("left", "warm-up", True, None),
        ("right", "round", True, 30),
    ]


@pytest.mark.parametrize(
    ("held", "ended", "held_on", "played"),
    [
        (90, None, True, None),
        (41, "lost the click", False, None),
        (41, None, False, None),
        (41, "stopped by choice", True, 41),
        (41, "recording ended", True, 41),
        (None, "not judged", False, None),
    ],
)
def test_a_round_was_lost_or_held_on(studio, row, now, held, ended, held_on, played):
    """Who stops by choice did not lose the click, and struck no more than that."""
    put(studio, row, now, [(1, "left", 90, held)])
    change(studio, ended_written=ended)
    (found,) = past_of(studio)
    assert (found.count_held, found.held_on, found.counts_played) == (held, held_on, played)


def test_what_is_long_ago_tells_nothing(studio, row, now):
    """Rounds of half a year ago make no load and no technique of today; the kind is still known."""
    put(studio, row, now, known(ago=180))
    day = plan(studio, now)
    assert day.kind == FOUR
    assert day.technique_why is None


def test_what_cannot_be_is_refused(studio, row, now):
    """Nobody has no day; a time that is too short is said."""
    with pytest.raises(NotFound, match="no player 'Ines'"):
        plan(studio, now)
    put(studio, row, now, known())
    with pytest.raises(InputError, match="minutes = 1 cannot be"):
        plan(studio, now, DayAsked(PlanAsked(1.0)))
