"""Today: whose day it is, what comes next, or rest."""

from datetime import timedelta

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.click.sound import TIMBRES
from loosehand.errors import InputError
from loosehand.studio.care import CARE
from loosehand.studio.chart import player_names
from loosehand.studio.practice_days import (
    ladder_start,
    practice_days,
    rest_on,
    rounds_apart,
)
from loosehand.studio.round_tags import LOUDNESSES
from loosehand.studio.workouts import add_player
from loosehand.web.desk import desk_of, page
from loosehand.web.live.said import void_reason

__all__ = ["ROUTES"]

_DAYS_SHOWN = 28
_DAYS_APART = 7


def _today(request: Request) -> Response:
    """The next workout of a player, and the last four weeks."""
    desk = desk_of(request)
    now = desk.now()
    with desk.studio.look() as session:
        players = player_names(session)
    player = request.query_params.get("player") or (players[0] if players else None)
    start = days = None
    apart = []
    if player is not None:
        start = ladder_start(desk.studio, player, now=now)
        days = practice_days(desk.studio, player, last=now.astimezone().date(), days=_DAYS_SHOWN)
        apart = rounds_apart(
            desk.studio, player, first=now.astimezone().date() - timedelta(days=_DAYS_APART)
        )
    return page(
        request,
        "today.html",
        apart=apart,
        players=players,
        player=player,
        start=start,
        days=days,
        timbres=TIMBRES,
        loudnesses=LOUDNESSES,
        void_reason=void_reason,
        care=CARE,
        here="today",
    )


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
