"""Today: whose day it is, and the next rounds."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from loosehand.studio.care import CARE
from loosehand.studio.chart import player_names
from loosehand.web.desk import desk_of, page

__all__ = ["ROUTES"]


def _today(request: Request) -> Response:
    desk = desk_of(request)
    with desk.studio.look() as session:
        players = player_names(session)
    return page(request, "today.html", players=players, care=CARE, here="today")


ROUTES = [Route("/", _today, name="today")]
