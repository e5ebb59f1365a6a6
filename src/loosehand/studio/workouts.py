"""Workouts in the studio: begun, gone on with, ended."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import uuid4

from sqlalchemy import select

from loosehand.errors import InputError, NotFound
from loosehand.rounds.plan_steps import Plan, plan_from_json
from loosehand.rounds.workout import RoundSetting, check_workout, workout_from_json
from loosehand.rounds.workout import Workout as PlannedWorkout
from loosehand.studio.chart import player_of
from loosehand.studio.database import Studio
from loosehand.studio.models import Player, Workout
from loosehand.studio.round_tags import check_player

__all__ = [
    "StoredWorkout",
    "add_player",
    "begin_workout",
    "last_setting",
    "load_workout",
    "save_progress",
    "workout_of_stored",
]

_PROPOSAL = "proposal"


@dataclass(frozen=True)
class StoredWorkout:
    """A workout and how far it got.

    Attributes
    ----------
    key : names it
    workout : its rounds as they stand, changed where its plan was changed while playing
    progress : how far it got, None where it was not begun
    plan : that it is played by, None where its rounds were typed
    """

    key: str
    workout: PlannedWorkout
    progress: dict[str, Any] | None
    plan: Plan | None = None


def add_player(studio: Studio, name: str, *, now: datetime) -> str:
    """Add a player, or find the one of that name; return the name as it is kept.

    Raises
    ------
    InputError   if it is no name
    """
    kept = check_player(name)
    with studio.act() as session:
        if session.scalar(select(Player).where(Player.name == kept)) is None:
            session.add(Player(name=kept, added_at=now))
    return kept


def begin_workout(
    studio: Studio, workout: PlannedWorkout, *, now: datetime, plan: Plan | None = None
) -> str:
    """Keep a workout that is about to be played; return its key.

    Parameters
    ----------
    studio : the studio
    workout : what is played
    now : the moment, with its zone
    plan : of the same rounds, by which what is left is fitted to what was played; None where
        they stay as they are

    Raises
    ------
    NotFound   if there is no such player
    """
    key = uuid4().hex
    with studio.act() as session:
        player = session.scalar(select(Player).where(Player.name == workout.player))
        if player is None:
            raise NotFound(f"there is no player {workout.player!r} in this studio: add one first")
        session.add(
            Workout(
                player_id=player.id,
                key=key,
                plan=workout.to_json() | ({} if plan is None else {_PROPOSAL: plan.to_json()}),
                progress={},
                began_at=now,
                ended_at=None,
            )
        )
    return key


def load_workout(studio: Studio, key: str) -> StoredWorkout:
    """Find a workout.

    Raises
    ------
    NotFound   if there is none of that key
    """
    with studio.look() as session:
        found = session.scalar(select(Workout).where(Workout.key == key))
        if found is None:
            raise NotFound("there is no such workout: begin one from the page Today")
        workout, plan = workout_of_stored(found.plan, found.progress)
        return StoredWorkout(key, workout, found.progress or None, plan)


def workout_of_stored(
    stored: dict[str, Any], progress: Mapping[str, Any]
) -> tuple[PlannedWorkout, Plan | None]:
    """A workout as it stands, and the plan that it is played by.

    Parameters
    ----------
    stored : what was kept when it was begun
    progress : how far it got; its plan, where there is one, is the later one

    Raises
    ------
    InputError, KeyError, TypeError   if it is none
    """
    workout = workout_from_json(stored)
    proposal = progress.get("plan") or stored.get(_PROPOSAL)
    if proposal is None:
        return workout, None
    plan = _check_plan(plan_from_json(proposal))
    return check_workout(replace(workout, rounds=plan.rounds)), plan


def last_setting(studio: Studio, player: str) -> RoundSetting | None:
    """What the rounds of a player's last workout shared, None where there was none.

    Raises
    ------
    NotFound   if there is no such player
    """
    with studio.look() as session:
        query = (
            select(Workout.plan)
            .where(Workout.player_id == player_of(session, player).id)
            .order_by(Workout.id.desc())
            .limit(1)
        )
        found = session.scalar(query)
    return None if found is None else workout_from_json(found).setting


def _check_plan(plan: Plan) -> Plan:
    """Check that the figures that a plan is gone on with are figures."""
    frame = plan.frame
    figures = (
        *(frame.rest_s, frame.round_s, frame.count_in_counts, frame.places_per_count),
        *(each.tempo_bpm for each in frame.easy),
        *(each.played_s for each in plan.steps),
        0.0 if plan.target_s is None else plan.target_s,
    )
    for figure in figures:
        if not math.isfinite(figure):
            raise InputError(f"the plan of a workout holds {figure}, which is no figure")
    return plan


def save_progress(
    studio: Studio, key: str, progress: dict[str, Any], *, ended_at: datetime | None
) -> None:
    """Write how far a workout got. Raises as ``load_workout``."""
    with studio.act() as session:
        found = session.scalar(select(Workout).where(Workout.key == key))
        if found is None:
            raise NotFound("there is no such workout: begin one from the page Today")
        found.progress = progress
        if ended_at is not None and found.ended_at is None:
            found.ended_at = ended_at
