"""Checks of workouts in the studio."""

import json
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import func, select

from loosehand.errors import InputError, NotFound
from loosehand.rounds.plan_steps import EasyTempo, Frame, Length, Plan, Step
from loosehand.rounds.workout import RoundSetting, Workout, ladder_rounds
from loosehand.studio import models
from loosehand.studio.chart import player_names
from loosehand.studio.workouts import (
    add_player,
    begin_workout,
    last_setting,
    load_workout,
    save_progress,
    workout_of_stored,
)

SETTING = RoundSetting(
    round_s=30.0,
    rest_s=20.0,
    count_in_counts=4,
    counts_per_bar=3,
    accent=False,
    silent_bars=True,
    timbre="tick",
    level_db=-6.0,
    play_out=True,
    technique=None,
    surface="hat",
    loudness="soft",
    grip="as it comes",
)
PROGRESS = {"index": 1, "waits": False, "phase": "rest", "outcomes": []}


def workout_of(player="Ines"):
    """A workout of four rounds."""
    rounds = ladder_rounds(tempos_bpm=[80.0, 82.5], weak="right", round_s=30.0, alternate=False)
    return Workout(player, SETTING, rounds)


@pytest.fixture
def key(studio, now):
    """Begin a workout and return its key."""
    add_player(studio, "Ines", now=now)
    return begin_workout(studio, workout_of(), now=now)


def row_of(studio, key):
    """The row of a workout."""
    with studio.look() as session:
        return session.scalars(select(models.Workout).where(models.Workout.key == key)).one()


def test_a_player_is_added_once(studio, now):
    """A player of a name is there once, and keeps the moment of being added."""
    assert add_player(studio, "Ines", now=now) == "Ines"
    assert add_player(studio, "  Ines ", now=now + timedelta(days=1)) == "Ines"
    with studio.look() as session:
        assert player_names(session) == ["Ines"]
        assert session.scalar(select(models.Player.added_at)) == now


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "x" * 81])
def test_what_is_no_name_adds_nobody(studio, now, name):
    """A name that cannot be is refused, and nobody is added."""
    with pytest.raises(InputError, match="player"):
        add_player(studio, name, now=now)
    with studio.look() as session:
        assert player_names(session) == []


def test_a_workout_comes_back_as_it_was_planned(studio, key, now):
    """What was planned is kept whole; nothing of it is begun."""
    stored = load_workout(studio, key)
    assert (stored.key, stored.workout, stored.progress) == (key, workout_of(), None)
    assert re.fullmatch("[0-9a-f]{32}", key)
    row = row_of(studio, key)
    assert (row.began_at, row.ended_at) == (now, None)


def test_every_workout_has_its_own_key(studio, key, now):
    """The same plan begun twice is two workouts."""
    other = begin_workout(studio, workout_of(), now=now)
    assert other != key
    save_progress(studio, other, PROGRESS, ended_at=None)
    assert load_workout(studio, key).progress is None


def test_a_workout_of_nobody_is_not_begun(studio, now):
    """A workout needs its player."""
    with pytest.raises(NotFound, match="no player 'Ines' in this studio: add one first"):
        begin_workout(studio, workout_of(), now=now)
    with studio.look() as session:
        assert session.scalar(select(func.count(models.Workout.id))) == 0


def test_how_far_a_workout_got_is_kept(studio, key):
    """The last that was written stands."""
    save_progress(studio, key, PROGRESS, ended_at=None)
    save_progress(studio, key, PROGRESS | {"index": 2}, ended_at=None)
    assert load_workout(studio, key).progress == PROGRESS | {"index": 2}
    assert row_of(studio, key).ended_at is None


def test_a_workout_ends_once(studio, key, now):
    """The first end stands, whatever is written later."""
    done = PROGRESS | {"phase": "done"}
    save_progress(studio, key, done, ended_at=now + timedelta(minutes=20))
    save_progress(studio, key, done, ended_at=now + timedelta(minutes=30))
    save_progress(studio, key, done, ended_at=None)
    assert row_of(studio, key).ended_at == now + timedelta(minutes=20)
    assert load_workout(studio, key).progress == done


@pytest.mark.parametrize("wrong", ["", "0" * 32, "../../etc"])
def test_a_workout_that_is_not_there(studio, key, wrong):
    """A key that names nothing is one sentence."""
    with pytest.raises(NotFound, match="no such workout: begin one"):
        load_workout(studio, wrong)
    with pytest.raises(NotFound, match="no such workout: begin one"):
        save_progress(studio, wrong, PROGRESS, ended_at=None)
    assert load_workout(studio, key).progress is None


def plan_of(workout):
    """A plan of a workout's rounds."""
    frame = Frame("right", 20.0, 30.0, 4, 4, (EasyTempo("left", 70.0, 0.95),))
    steps = tuple(Step(each, "ladder", 0.5, 25.0) for each in workout.rounds)
    length = Length(200.0, 180.0, 220.0)
    return Plan(steps, "Because.", (), (), False, frame, 600.0, length)


def test_a_workout_comes_back_with_its_plan(studio, key, now):
    """The plan is kept beside the workout; one without a plan has none."""
    plan = plan_of(workout_of())
    other = begin_workout(studio, workout_of(), now=now, plan=plan)
    assert load_workout(studio, other).plan == plan
    assert load_workout(studio, other).workout == workout_of()
    assert load_workout(studio, key).plan is None


def test_what_was_changed_while_playing_is_gone_on_with(studio, key, now):
    """The plan of the progress is the later one, and its rounds are those of the workout."""
    plan = plan_of(workout_of())
    other = begin_workout(studio, workout_of(), now=now, plan=plan)
    changed = replace(plan, steps=plan.steps[:2], changes=("Time runs short.",))
    save_progress(studio, other, PROGRESS | {"plan": changed.to_json()}, ended_at=None)
    stored = load_workout(studio, other)
    assert stored.plan == changed
    assert stored.workout == replace(workout_of(), rounds=workout_of().rounds[:2])


@pytest.mark.parametrize(
    ("field", "value"), [("rest_s", float("nan")), ("round_s", float("inf")), ("rest_s", "long")]
)
def test_a_plan_of_no_figures_is_refused(field, value):
    """A plan whose figures are none is no plan to go on with."""
    plan = plan_of(workout_of()).to_json()
    plan["frame"][field] = value
    stored = workout_of().to_json() | {"proposal": json.loads(json.dumps(plan))}
    with pytest.raises((InputError, TypeError)):
        workout_of_stored(stored, {})


def test_the_last_setting_is_the_last_workouts(studio, key, now):
    """Of two workouts the later one says how the click was; without one nothing does."""
    assert last_setting(studio, "Ines") == SETTING
    later = replace(SETTING, timbre="pip")
    begin_workout(studio, replace(workout_of(), setting=later), now=now)
    assert last_setting(studio, "Ines") == later
    add_player(studio, "Otto", now=now)
    assert last_setting(studio, "Otto") is None
    with pytest.raises(NotFound, match="no player 'Maud'"):
        last_setting(studio, "Maud")
