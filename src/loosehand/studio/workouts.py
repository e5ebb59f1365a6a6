"""Workouts in the studio: begun, gone on with, ended."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import uuid4

from sqlalchemy import select

from loosehand.errors import NotFound
from loosehand.rounds.workout import Workout as PlannedWorkout
from loosehand.rounds.workout import workout_from_json
from loosehand.studio.database import Studio
from loosehand.studio.models import Player, Workout
from loosehand.studio.round_tags import check_player

__all__ = ["StoredWorkout", "add_player", "begin_workout", "load_workout", "save_progress"]


@dataclass(frozen=True)
class StoredWorkout:
    """A workout and how far it got (None: not begun)."""

    key: str
    workout: PlannedWorkout
    progress: dict[str, Any] | None


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


def begin_workout(studio: Studio, workout: PlannedWorkout, *, now: datetime) -> str:
    """Keep a workout that is about to be played; return its key.

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
                plan=workout.to_json(),
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
        return StoredWorkout(key, workout_from_json(found.plan), found.progress or None)


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
