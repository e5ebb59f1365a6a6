"""Parts: all of them, new ones, and files of other programs taken in."""

from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.errors import InputError, LoosehandError
from loosehand.parts.text import write_part
from loosehand.studio.chart import player_names
from loosehand.studio.part_examples import EXAMPLES
from loosehand.studio.parts_store import add_part, list_parts
from loosehand.web.desk import Desk, desk_of, page
from loosehand.web.limited_body import limited
from loosehand.web.pages.part_files import MOST_BYTES, part_of_file
from loosehand.web.statuses import http_status

__all__ = ["ROUTES"]

_MOST_FIELDS = 10
_TOO_LARGE = f"the file is larger than {MOST_BYTES // 1_000_000} MB: want one part in a file"


def _parts(request: Request) -> Response:
    return _laid_out(request)


async def _new(request: Request) -> Response:
    """Begin a part from an example, or take a file in."""
    small = limited(request, most_bytes=MOST_BYTES, sentence=_TOO_LARGE)
    try:
        async with small.form(max_files=1, max_fields=_MOST_FIELDS) as form:
            said = {name: word for name, word in form.items() if isinstance(word, str)}
            file = form.get("file")
            data = await file.read() if isinstance(file, UploadFile) and file.filename else None
        wanted = "file" in form
        part_id = await run_in_threadpool(_add, desk_of(request), said, data, wanted)
    except HTTPException as error:
        wrong: LoosehandError = InputError(f"the form could not be read: {error.detail}")
    except LoosehandError as error:
        wrong = error
    else:
        return RedirectResponse(f"/part/{part_id}", 303)
    return await run_in_threadpool(_laid_out, request, wrong)


def _add(desk: Desk, said: Mapping[str, str], data: bytes | None, is_file: bool) -> int:
    """Keep a new part; return its number."""
    if is_file and data is None:
        raise InputError("no file was chosen: choose a MIDI, MusicXML or text file of one part")
    text = _example(said.get("example", "")) if data is None else write_part(part_of_file(data))
    return add_part(desk.studio, text, player=said.get("player") or None, now=desk.now())


def _example(title: str) -> str:
    """Text to begin from. Raises InputError if there is none of that title."""
    if title not in EXAMPLES:
        raise InputError(f"example = {title[:40]!r}: want one of {', '.join(EXAMPLES)}")
    return EXAMPLES[title]


def _laid_out(request: Request, wrong: LoosehandError | None = None) -> Response:
    desk = desk_of(request)
    with desk.studio.look() as session:
        players = player_names(session)
    zone = desk.now().tzinfo
    return page(
        request,
        "parts.html",
        200 if wrong is None else http_status(wrong),
        sentence=None if wrong is None else str(wrong),
        parts=[
            (one, f"{one.changed_at.astimezone(zone):%-d %B %Y}") for one in list_parts(desk.studio)
        ],
        players=players,
        examples=list(EXAMPLES),
        most_mb=MOST_BYTES // 1_000_000,
        here="parts",
    )


ROUTES = [
    Route("/parts", _parts, name="parts"),
    Route("/parts", _new, methods=["POST"], name="part-new"),
]
