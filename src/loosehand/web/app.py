"""The app: routes, what guards them, and how errors are said."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles
from starlette.templating import Jinja2Templates

from loosehand.errors import LoosehandError
from loosehand.studio.database import Studio
from loosehand.studio.hearing import Hearing
from loosehand.web.assets import StaticUrls
from loosehand.web.desk import Desk, page
from loosehand.web.guard import PairedOnly, SameSite, SecurityHeaders
from loosehand.web.local_network import LocalNetwork
from loosehand.web.pages import phone, send, today
from loosehand.web.pairing import Pairing
from loosehand.web.statuses import http_status

__all__ = ["make_app"]

_HERE = Path(__file__).parent
_LEAST_TO_ZIP_BYTES = 600


def make_app(
    studio: Studio,
    *,
    hearing: Hearing,
    now: Callable[[], datetime],
    hosts: frozenset[str],
    network: LocalNetwork | None = None,
) -> Starlette:
    """Make the app of one studio.

    Parameters
    ----------
    studio : the open studio
    hearing : what hears a stored take
    now : tells the moment, with its zone
    hosts : names that this server answers to; others are refused
    network : how this machine is reached from others, None where it is not

    Returns
    -------
    app : an ASGI app
    """
    templates = Jinja2Templates(_HERE / "templates")
    urls = StaticUrls(_HERE / "static")
    templates.env.globals["static"] = urls.url
    templates.env.globals["import_map"] = urls.import_map
    pairing = Pairing(studio.folder, now=now)
    app = Starlette(
        routes=_routes(),
        middleware=[
            Middleware(SecurityHeaders),
            Middleware(SameSite, hosts=hosts),
            Middleware(PairedOnly, pairing=pairing),
            Middleware(GZipMiddleware, minimum_size=_LEAST_TO_ZIP_BYTES),
        ],
        exception_handlers={
            LoosehandError: _say_error,
            404: _say_not_found,
        },
    )
    app.state.desk = Desk(studio, hearing, now, templates, pairing, network)
    return app


def _routes() -> list[BaseRoute]:
    return [
        *today.ROUTES,
        *phone.ROUTES,
        *send.ROUTES,
        Mount("/static", StaticFiles(directory=_HERE / "static"), name="static"),
    ]


async def _say_error(request: Request, error: Exception) -> Response:
    """Say an error of ours in one sentence."""
    assert isinstance(error, LoosehandError)
    return page(
        request, "error.html", http_status(error), sentence=str(error), title="That did not work"
    )


async def _say_not_found(request: Request, _error: Exception) -> Response:
    return page(
        request,
        "error.html",
        404,
        sentence="There is no such page here: go on from one of those above.",
        title="No such page",
    )
