"""The stand: the page in front of the drummer, and the form that begins a workout."""

import math

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.click.sound import TIMBRES
from loosehand.errors import InputError
from loosehand.rounds.workout import (
    RoundSetting,
    Workout,
    check_workout,
    ladder_rounds,
    shortened,
    warm_up_round,
)
from loosehand.studio.care import CARE, CARE_SHORT
from loosehand.studio.round_tags import LOUDNESSES, check_text, check_whole, check_word
from loosehand.studio.workouts import add_player, begin_workout, load_workout
from loosehand.web.desk import desk_of, page

__all__ = ["ROUTES", "workout_of_form"]

_HANDS = ("both", "left", "right")
_LONGEST_WORD = 60
_MOST_TEMPOS = 100
_MOST_COUNTS = 16


def workout_of_form(form: FormData) -> Workout:
    """The workout that a form asks for.

    Raises
    ------
    InputError, BadTempo, BadNotation   naming what cannot be
    """
    low, high = _number(form, "lowest_bpm"), _number(form, "highest_bpm")
    step = _number(form, "step_bpm")
    if not 0 < step <= 100 or high < low:
        raise InputError(
            f"tempos from {low:g} to {high:g} by {step:g} are no ladder: "
            "want the lowest first, and a step above 0"
        )
    steps = (high - low) / step
    if not steps < _MOST_TEMPOS:
        raise InputError(
            f"tempos from {low:g} to {high:g} by {step:g} are more than {_MOST_TEMPOS}: "
            "want a larger step"
        )
    tempos = [low + step * k for k in range(int(steps + 1e-6) + 1)]
    setting = _setting(form)
    rounds = ladder_rounds(
        tempos_bpm=tempos,
        weak="left" if _word(form, "weak", ("left", "right")) == "left" else "right",
        round_s=setting.round_s,
        alternate=form.get("alternate") == "yes",
    )
    only = _word(form, "hands", _HANDS)
    if only != "both":
        rounds = tuple(each for each in rounds if each.hand == only)
    warm = form.get("warm") == "already"
    if not warm:
        rounds = (warm_up_round(lowest_bpm=low, round_s=setting.round_s), *rounds)
    player = check_text(str(form.get("player", "")), field="player", longest=80)
    workout = check_workout(Workout(player, setting, rounds, warm))
    minutes = str(form.get("minutes", "")).strip()
    return shortened(workout, minutes=_number(form, "minutes")) if minutes else workout


def _setting(form: FormData) -> RoundSetting:
    loudness = str(form.get("loudness", ""))
    return RoundSetting(
        round_s=_number(form, "round_s"),
        rest_s=_number(form, "rest_s"),
        count_in_counts=_counts(form, "count_in_counts"),
        counts_per_bar=_counts(form, "counts_per_bar"),
        accent=form.get("accent") == "yes",
        silent_bars=form.get("silent_bars") == "yes",
        timbre=_word(form, "timbre", TIMBRES),
        level_db=_number(form, "level_db"),
        play_out=form.get("play_out") == "yes",
        technique=_own(form, "technique"),
        surface=_own(form, "surface"),
        loudness=check_word(loudness, field="loudness", words=LOUDNESSES) if loudness else None,
        grip=_own(form, "grip"),
    )


def _number(form: FormData, name: str) -> float:
    text = str(form.get(name, "")).strip()
    try:
        value = float(text)
    except ValueError as error:
        raise InputError(f"{name} = {text[:40]!r} is not a number") from error
    if not abs(value) < 1e6:
        raise InputError(f"{name} = {text[:40]!r} cannot be")
    return value


def _counts(form: FormData, name: str) -> int:
    return check_whole(str(form.get(name, "")), field=name, lowest=1, highest=_MOST_COUNTS)


def _word(form: FormData, name: str, words: tuple[str, ...]) -> str:
    return check_word(str(form.get(name, "")), field=name, words=words)


def _own(form: FormData, name: str) -> str | None:
    text = str(form.get(name, "")).strip()
    return check_text(text, field=name, longest=_LONGEST_WORD) if text else None


async def _begin(request: Request) -> Response:
    """Begin a workout and go to its stand."""
    desk = desk_of(request)
    async with request.form(max_files=0, max_fields=60) as form:
        workout = workout_of_form(form)
    add_player(desk.studio, workout.player, now=desk.now())
    key = begin_workout(desk.studio, workout, now=desk.now())
    return RedirectResponse(f"/stand/{key}", 303)


def _stand(request: Request) -> Response:
    """The page in front of the drummer."""
    stored = load_workout(desk_of(request).studio, request.path_params["workout"])
    workout = stored.workout
    return page(
        request,
        "stand.html",
        key=stored.key,
        workout=workout,
        minutes=math.ceil(workout.length_s / 60.0),
        care=CARE,
        care_short=CARE_SHORT,
        here="stand",
    )


ROUTES = [
    Route("/workouts", _begin, methods=["POST"], name="begin"),
    Route("/stand/{workout}", _stand, name="stand"),
]
