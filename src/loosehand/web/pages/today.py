"""Today: whose day it is, what is proposed for it, or rest."""

from datetime import datetime, timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.click.sound import TIMBRES
from loosehand.errors import InputError
from loosehand.studio.care import CARE
from loosehand.studio.chart import player_names
from loosehand.studio.plan_today import day_rng, plan_for
from loosehand.studio.practice_days import practice_days, rest_on, rounds_apart
from loosehand.studio.round_tags import LOUDNESSES
from loosehand.studio.workouts import add_player, last_setting
from loosehand.web.desk import Desk, desk_of, page
from loosehand.web.live.said import void_reason
from loosehand.web.pages.plan_form import asked_of_words, click_of_setting, words_of_asked
from loosehand.web.pages.plan_view import plan_shown
from loosehand.web.pages.reach_strip import strip_lines

__all__ = ["ROUTES"]

_DAYS_SHOWN = 28
_DAYS_APART = 7


def _today(request: Request) -> Response:
    """What is proposed for a player's day, and the last four weeks."""
    desk = desk_of(request)
    with desk.studio.look() as session:
        players = player_names(session)
    player = request.query_params.get("player") or (players[0] if players else None)
    shown = {} if player is None else _day_of(request, desk, player, now=desk.now())
    return page(
        request,
        "today.html",
        players=players,
        player=player,
        care=CARE,
        here="today",
        **shown,
    )


def _day_of(request: Request, desk: Desk, player: str, *, now: datetime) -> dict[str, Any]:
    """All that is shown of a player's day."""
    today = now.astimezone().date()
    click = click_of_setting(last_setting(desk.studio, player))
    words = request.query_params
    asked = asked_of_words(
        words, hands=words.getlist("hand"), count_in_counts=click.count_in_counts
    )
    day = plan_for(desk.studio, player, asked, now=now, rng=day_rng(player, today))
    return {
        "days": practice_days(desk.studio, player, last=today, days=_DAYS_SHOWN),
        "apart": rounds_apart(desk.studio, player, first=today - timedelta(days=_DAYS_APART)),
        "reach_lines": strip_lines(day.reaches, player=player, today=today),
        "asked": asked.plan,
        "weak_said": asked.weak,
        "day": day,
        "plan": plan_shown(day, player=player),
        "words": words_of_asked(asked, kind=day.kind),
        "click": click,
        "timbres": TIMBRES,
        "loudnesses": LOUDNESSES,
        "void_reason": void_reason,
    }


async def _add(request: Request) -> Response:
    """Add a player."""
    desk = desk_of(request)
    async with request.form(max_files=0, max_fields=5) as form:
        name = add_player(desk.studio, str(form.get("name", "")), now=desk.now())
    return RedirectResponse(str(request.url_for("today").include_query_params(player=name)), 303)


async def _rest(request: Request) -> Response:
    """Today is a day of rest."""
    desk = desk_of(request)
    async with request.form(max_files=0, max_fields=5) as form:
        player = str(form.get("player", ""))
    if not player:
        raise InputError("player is empty; want whose day of rest it is")
    rest_on(desk.studio, player, desk.now().astimezone().date())
    return RedirectResponse(str(request.url_for("today").include_query_params(player=player)), 303)


ROUTES = [
    Route("/", _today, name="today"),
    Route("/players", _add, methods=["POST"], name="add-player"),
    Route("/rest", _rest, methods=["POST"], name="rest"),
]
