"""What every page works with."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from starlette.requests import HTTPConnection
from starlette.responses import Response
from starlette.templating import Jinja2Templates

from loosehand.studio.database import Studio
from loosehand.studio.hearing import Hearing
from loosehand.web.local_network import LocalNetwork
from loosehand.web.pairing import Pairing
from loosehand.web.refit_beside import RefitBeside

__all__ = ["Desk", "desk_of", "page"]


@dataclass(frozen=True)
class Desk:
    """What every page works with.

    Attributes
    ----------
    studio : the open studio
    hearing : what hears a stored take
    now : tells the moment, with its zone
    templates : the pages' texts
    pairing : the devices that may come in from the local network
    network : how this machine is reached there, None where it is not
    refit : what scores forecasts beside the pages, None for nothing
    """

    studio: Studio
    hearing: Hearing
    now: Callable[[], datetime]
    templates: Jinja2Templates
    pairing: Pairing
    network: LocalNetwork | None
    refit: RefitBeside | None = None

    def today(self) -> date:
        """Return the day it is here."""
        return self.now().astimezone().date()


def desk_of(connection: HTTPConnection) -> Desk:
    """Return the desk that a request came to."""
    desk = connection.app.state.desk
    assert isinstance(desk, Desk), "the app was made with a desk"
    return desk


def page(request: HTTPConnection, name: str, status_code: int = 200, **values: Any) -> Response:
    """Lay out a page.

    Parameters
    ----------
    request : what asked for it
    name : of the template
    status_code : of the answer
    values : what the template shows
    """
    templates = desk_of(request).templates
    return templates.TemplateResponse(request, name, values, status_code=status_code)  # type: ignore[arg-type]
