"""The stand: the page in front of the drummer, and the form that begins a workout."""

import math
from collections.abc import Mapping, Sequence
from datetime import datetime

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.rounds.plan_steps import Plan
from loosehand.rounds.workout import Workout, check_workout
from loosehand.studio.care import CARE, CARE_SHORT
from loosehand.studio.database import Studio
from loosehand.studio.plan_today import day_rng, plan_for
from loosehand.studio.round_tags import check_player
from loosehand.studio.workouts import begin_workout, last_setting, load_workout
from loosehand.web.desk import desk_of, page
from loosehand.web.pages.plan_form import (
    asked_of_words,
    check_care,
    click_of_setting,
    rounds_of_text,
    setting_of_words,
)

__all__ = ["ROUTES", "workout_of_words"]


def workout_of_words(
    studio: Studio, words: Mapping[str, str], *, hands: Sequence[str], now: datetime
) -> tuple[Workout, Plan | None]:
    """The workout that a form asks for, and the plan that it is played by.

    Parameters
    ----------
    studio : the studio
    words : of the form, by name; its rounds are played as they stand
    hands : that are ticked
    now : the moment, with its zone

    Returns
    -------
    workout : of these rounds
    plan : the day's, where it has just these rounds; None where they were changed by hand: then
        nothing is changed while playing either

    Raises
    ------
    NotFound                            if there is no such player
    InputError, BadTempo, BadNotation   naming what cannot be
    """
    player = check_player(words.get("player", ""))
    click = click_of_setting(last_setting(studio, player))
    asked = asked_of_words(words, hands=hands, count_in_counts=click.count_in_counts)
    today = now.astimezone().date()
    day = plan_for(studio, player, asked, now=now, rng=day_rng(player, today))
    kind = day.kind if asked.kind is None else asked.kind
    setting = setting_of_words(words, asked, kind=kind, rest_s=day.plan.frame.rest_s)
    rounds = rounds_of_text(
        words.get("rounds", ""),
        places_per_count=kind.places_per_count,
        round_s=setting.round_s,
    )
    check_care(day, rounds)
    warm = not any(each.kind == "warm-up" for each in rounds)
    workout = check_workout(Workout(player, setting, rounds, warm))
    return workout, day.plan if day.plan.rounds == rounds else None


async def _begin(request: Request) -> Response:
    """Begin a workout and go to its stand."""
    desk = desk_of(request)
    async with request.form(max_files=0, max_fields=60) as form:
        words = {name: str(word) for name, word in form.items()}
        hands = [str(hand) for hand in form.getlist("hand")]
    now = desk.now()

    def begin() -> str:
        workout, plan = workout_of_words(desk.studio, words, hands=hands, now=now)
        return begin_workout(desk.studio, workout, now=now, plan=plan)

    return RedirectResponse(f"/stand/{await run_in_threadpool(begin)}", 303)


def _stand(request: Request) -> Response:
    """The page in front of the drummer."""
    stored = load_workout(desk_of(request).studio, request.path_params["workout"])
    workout, plan = stored.workout, stored.plan
    minutes = math.ceil(workout.length_s / 60.0)
    if plan is not None:
        minutes = max(round(plan.length.expected_s / 60.0), 1)
    return page(
        request,
        "stand.html",
        key=stored.key,
        workout=workout,
        plan=plan,
        minutes=minutes,
        care=CARE,
        care_short=CARE_SHORT,
        here="stand",
    )


ROUTES = [
    Route("/workouts", _begin, methods=["POST"], name="begin"),
    Route("/stand/{workout}", _stand, name="stand"),
]
