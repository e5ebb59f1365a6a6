"""Send: a recorded file, from this computer or a paired phone, heard and put on the chart."""

import re
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from loosehand.errors import InputError, LoosehandError, MediaError, NotFound
from loosehand.hear.heard import ListenRequest
from loosehand.studio.chart import chart_rounds, player_names
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.filing import RoundPlace, sweep_studio
from loosehand.studio.hearing import Told
from loosehand.studio.intake import hear_and_file
from loosehand.studio.round_tags import (
    FEELS,
    HANDS,
    LOUDNESSES,
    RoundTags,
    check_player,
    check_tags,
    check_tempo_bpm,
    check_whole,
)
from loosehand.web.desk import Desk, desk_of, page
from loosehand.web.limited_body import limited
from loosehand.web.pages.send_part import PartChosen, part_chosen, part_words, taken_of
from loosehand.web.statuses import http_status

__all__ = ["MOST_BYTES", "ROUTES"]

MOST_BYTES = 300_000_000
"""About an hour and a half of uncompressed sound; a minute is 6 MB, compressed 1 MB."""

_MOST_FIELDS = 30
_MOST_PLACES = 12
_LONGEST_NAME = 60
_SUFFIX = re.compile(r"[.][A-Za-z0-9]{1,5}")
_FIRST = {"hand": "left", "tempo": "100", "per_count": "4", "round_s": "60"}
_NOBODY = "nobody plays in this recording, so it was not filed: listen to it, and send another"


async def _send(request: Request) -> Response:
    """Show the form, or take what it sends."""
    if request.method != "POST":
        return await run_in_threadpool(_asked_form, request)
    said: Mapping[str, str] = _FIRST
    try:
        async with _limited(request).form(max_files=1, max_fields=_MOST_FIELDS) as form:
            said = {name: word for name, word in form.items() if isinstance(word, str)}
            place = await run_in_threadpool(_take_in, desk_of(request), said, _file_of(form))
    except HTTPException as error:
        wrong: LoosehandError = InputError(f"the form could not be read: {error.detail}")
    except LoosehandError as error:
        wrong = error
    else:
        address = await run_in_threadpool(_address_of, desk_of(request), place)
        return RedirectResponse(address, 303)
    return await run_in_threadpool(_sent_form, request, said, wrong)


def _asked_form(request: Request) -> Response:
    """Lay out the form as an address asks for it. Raises NotFound, InputError."""
    said = dict(request.query_params)
    chosen = part_chosen(desk_of(request).studio, said)
    from_part = {} if chosen is None else part_words(chosen)
    return _form(request, {**_FIRST, **from_part, **said}, chosen=chosen)


def _sent_form(request: Request, said: Mapping[str, str], wrong: LoosehandError) -> Response:
    """Lay out the form again, with what is wrong in it."""
    try:
        chosen = part_chosen(desk_of(request).studio, said)
    except (NotFound, InputError):
        chosen = None
    return _form(request, said, chosen=chosen, sentence=str(wrong), status_code=http_status(wrong))


def _form(
    request: Request,
    said: Mapping[str, str],
    *,
    chosen: PartChosen | None,
    sentence: str | None = None,
    status_code: int = 200,
) -> Response:
    """Lay out the form, with what was said already."""
    with desk_of(request).studio.look() as session:
        players = player_names(session)
    if "player" not in said and len(players) == 1:
        said = {**said, "player": players[0]}
    return page(
        request,
        "send.html",
        status_code,
        here="phone" if chosen is None else "parts",
        said={**_FIRST, **said},
        chosen=chosen,
        sentence=sentence,
        players=players,
        hands=HANDS,
        loudnesses=LOUDNESSES,
        feels=FEELS,
        most_mb=MOST_BYTES // 1_000_000,
    )


def _limited(request: Request) -> Request:
    """Return a request whose body ends with an error where it is too long."""
    too_long = (
        f"the file is larger than {MOST_BYTES // 1_000_000} MB: send one round, not a whole session"
    )
    return limited(request, most_bytes=MOST_BYTES, sentence=too_long)


def _file_of(form: FormData) -> UploadFile:
    """Return the file that was sent. Raises InputError if there is none."""
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        raise InputError("no file was chosen: choose the recording of one round")
    return file


def _take_in(desk: Desk, said: Mapping[str, str], file: UploadFile) -> RoundPlace:
    """Hear what was sent and file it; return where it stands."""
    now = desk.now()
    chosen = part_chosen(desk.studio, said)
    part, from_part = (None, {}) if chosen is None else taken_of(chosen, said)
    tags = _tags_of({**said, **from_part})
    row = ChartRow(
        day=now.astimezone().date(),
        order=None,
        player=check_player(said.get("player", "")),
        tags=tags,
        count_held=None,
        ended=None,
    )
    request = ListenRequest(
        tempo_bpm=tags.tempo_bpm,
        places_per_count=tags.places_per_count,
        hand=tags.hand,  # type: ignore[arg-type]
        counts_planned=tags.counts,
        first_count_s=None,
    )
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / f"take{_suffix_of(file.filename)}"
        with source.open("wb") as out:
            shutil.copyfileobj(file.file, out)
        told = Told(request, None)
        try:
            place, _ = hear_and_file(
                desk.studio, source, row, told, hearing=desk.hearing, now=now, part=part
            )
        except MediaError as error:
            raise type(error)(_as_sent(str(error), source.name, file.filename or "")) from error
    sweep_studio(desk.studio, now=now)
    if place is None:
        raise InputError(_NOBODY)
    return place


def _tags_of(said: Mapping[str, str]) -> RoundTags:
    """Return the tags of the round. Raises InputError naming the first that cannot be."""
    return check_tags(
        RoundTags(
            hand=said.get("hand", ""),
            tempo_bpm=check_tempo_bpm(said.get("tempo", "")),
            places_per_count=check_whole(
                said.get("per_count", ""), field="per_count", lowest=1, highest=_MOST_PLACES
            ),
            round_s=_seconds_of(said.get("round_s", "")),
            technique=said.get("technique"),
            surface=said.get("surface"),
            loudness=said.get("loudness"),
            feel=said.get("feel"),
        )
    )


def _seconds_of(word: str) -> float:
    """Return the length of the round."""
    try:
        return float(word)
    except ValueError as error:
        raise InputError(f"round_s = {word[:40]!r} is not a number of seconds") from error


def _suffix_of(name: str | None) -> str:
    """Return the ending of a file's name where it is a plain one; nothing else of it is used."""
    ending = Path(name or "").suffix
    return ending if _SUFFIX.fullmatch(ending) else ""


def _as_sent(sentence: str, name: str, sent: str) -> str:
    """Call a file in a sentence as it was called where it was sent from.

    Examples
    --------
    >>> _as_sent("take.txt: it is no sound.", "take.txt", "my take.txt")
    'my take.txt: it is no sound.'
    """
    return sentence.replace(name, sent[-_LONGEST_NAME:], 1)


def _address_of(desk: Desk, place: RoundPlace) -> str:
    """Return the address of the take that was filed."""
    with desk.studio.look() as session:
        rounds: list[Any] = chart_rounds(session, player=place.player)
    found = next(one for one in rounds if (one.row.day, one.row.order) == (place.day, place.order))
    return f"/take/{found.take_id}"


ROUTES = [Route("/send", _send, methods=["GET", "POST"], name="send")]
