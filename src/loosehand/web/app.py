"""The app: routes, what guards them, and how errors are said."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from datetime import datetime
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
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
from loosehand.web.live import socket
from loosehand.web.live.sittings import Sittings
from loosehand.web.local_network import LocalNetwork
from loosehand.web.pages import (
    chart,
    compare,
    part,
    part_files,
    part_listen,
    part_ways,
    parts,
    phone,
    reach,
    send,
    stand,
    take,
    today,
)
from loosehand.web.pairing import Pairing
from loosehand.web.refit_beside import RefitBeside
from loosehand.web.statuses import http_status

__all__ = ["make_app"]

_HERE = Path(__file__).parent
_LEAST_TO_ZIP_BYTES = 600
_CLEAR_AWAY_EVERY_S = 2.0
_MOST_TEXTS_HEARD = 8


def make_app(
    studio: Studio,
    *,
    hearing: Hearing,
    now: Callable[[], datetime],
    hosts: frozenset[str],
    network: LocalNetwork | None = None,
    refit: RefitBeside | None = None,
) -> Starlette:
    """Make the app of one studio.

    Parameters
    ----------
    studio : the open studio
    hearing : what hears a stored take
    now : tells the moment, with its zone
    hosts : names that this server answers to; others are refused
    network : how this machine is reached from others, None where it is not
    refit : what scores forecasts beside the pages, None for nothing; closed with the app

    Returns
    -------
    app : an ASGI app
    """
    templates = Jinja2Templates(_HERE / "templates")
    urls = StaticUrls(_HERE / "static")
    templates.env.globals["static"] = urls.url
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
        lifespan=_running,
    )
    app.state.sittings = Sittings(studio, hearing=hearing, now=now)
    app.state.heard_texts = part_listen.HeardTexts(most=_MOST_TEXTS_HEARD)
    app.state.desk = Desk(studio, hearing, now, templates, pairing, network, refit)
    return app


@asynccontextmanager
async def _running(app: Starlette) -> AsyncIterator[None]:
    """Do what goes on beside the pages, while the app runs."""
    desk: Desk = app.state.desk
    if desk.refit is not None:
        await run_in_threadpool(desk.refit.ask, today=desk.today())
    async with _clearing_away(app):
        yield
    if desk.refit is not None:
        await run_in_threadpool(desk.refit.close)


@asynccontextmanager
async def _clearing_away(app: Starlette) -> AsyncIterator[None]:
    """File the rounds of pages that went away and do not come back."""
    sittings: Sittings = app.state.sittings

    async def keep_clearing() -> None:
        while True:
            await asyncio.sleep(_CLEAR_AWAY_EVERY_S)
            # What cannot be filed now (a full disk, say) stays in its journal for the next time.
            with suppress(LoosehandError):
                await run_in_threadpool(sittings.clear_away)

    task = asyncio.create_task(keep_clearing())
    yield
    task.cancel()


def _routes() -> list[BaseRoute]:
    return [
        *socket.ROUTES,
        *take.ROUTES,
        *today.ROUTES,
        *stand.ROUTES,
        *chart.ROUTES,
        *reach.ROUTES,
        *parts.ROUTES,
        *part.ROUTES,
        *part_files.ROUTES,
        *part_listen.ROUTES,
        *part_ways.ROUTES,
        *compare.ROUTES,
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
