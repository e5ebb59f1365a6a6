"""A part: drawn while it is typed, changed on its staff, saved, heard and taken along."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from loosehand.errors import Conflict, InputError, LoosehandError
from loosehand.parts.edit import apply_edit, keep_notes
from loosehand.parts.part import LIMBS, Part
from loosehand.parts.text import write_part
from loosehand.studio.chart import player_names, player_of
from loosehand.studio.part_takes import takes_of_part
from loosehand.studio.parts_store import (
    MOST_CHARACTERS,
    StoredPart,
    change_part,
    check_part_text,
    delete_part,
    load_part,
)
from loosehand.web.desk import desk_of, page
from loosehand.web.limited_body import limited
from loosehand.web.pages.part_files import file_name_of
from loosehand.web.pages.part_listen import address_to_hear, heard_texts_of
from loosehand.web.pages.part_staff import StaffAsked, staff_of, width_asked
from loosehand.web.pages.part_view import Problem, at_asked, figures_of, problem_of
from loosehand.web.statuses import http_status

__all__ = ["ROUTES"]

_MOST_BODY_BYTES = 8_000_000
_TOO_LONG = f"the text is too long: want {MOST_CHARACTERS} characters at most"
_MOST_FIELDS = 20
_MOST_TAKES = 8

Words = Mapping[str, str]


# ------------------------------------------------------------------ the page


def _part(request: Request) -> Response:
    stored = _stored(request)
    return _laid_out(request, stored, stored.text, words=request.query_params)


async def _post(request: Request) -> Response:
    """Save what was typed, or draw it, or have it heard, without saving."""
    return await run_in_threadpool(_save_or_draw, request, await _words_of(request))


def _save_or_draw(request: Request, words: Words) -> Response:
    desk, stored, text = desk_of(request), _stored(request), _text_of(words)
    if words.get("act") in {"draw", "listen"}:
        return _laid_out(request, stored, text, words=words)
    try:
        seen = _whole(words.get("version", ""), field="version")
        change_part(desk.studio, stored.part_id, text, seen=seen, now=desk.now())
    except (Conflict, InputError) as error:
        return _laid_out(request, stored, text, words=words, error=error)
    return RedirectResponse(f"/part/{stored.part_id}{_player_chosen(request)}", 303)


def _player_chosen(request: Request) -> str:
    """The player who was chosen, as the end of an address; empty where none was."""
    player = request.query_params.get("player")
    return f"?{urlencode({'player': player})}" if player else ""


async def _delete(request: Request) -> Response:
    return await run_in_threadpool(_delete_told, request, await _words_of(request))


def _delete_told(request: Request, words: Words) -> Response:
    stored = _stored(request)
    if words.get("yes") != "yes":
        raise InputError("the part was kept: tick the box that says yes to have it deleted")
    delete_part(desk_of(request).studio, stored.part_id)
    return RedirectResponse("/parts", 303)


def _laid_out(
    request: Request,
    stored: StoredPart,
    text: str,
    *,
    words: Words,
    error: LoosehandError | None = None,
) -> Response:
    """Lay the page out with a text that may differ from the one that is kept."""
    drawn = _drawn(text, words, fallback=stored.text)
    problem = drawn["problem"]
    if error is not None and problem is None:
        problem = Problem(str(error))
    status = 200 if problem is None else http_status(error or InputError(problem.sentence))
    values = drawn | {
        "problem": problem,
        "part": stored,
        "text": text,
        "is_kept": text == stored.text,
        "other": stored.text if isinstance(error, Conflict) else None,
        "heard": _address_unsaved(request, stored, text),
        "most_characters": MOST_CHARACTERS,
        "player_chosen": _player_chosen(request),
        "file_name": file_name_of(stored.title, stored.part_id),
        "here": "parts",
    }
    return page(request, "part.html", status, **values, **_takes_shown(request, stored))


def _takes_shown(request: Request, stored: StoredPart) -> dict[str, Any]:
    """The takes of the player who is chosen, else of the one whose part it is, else nobody's."""
    studio = desk_of(request).studio
    player = request.query_params.get("player") or stored.player
    with studio.look() as session:
        shown: dict[str, Any] = {"players": player_names(session)}
        if player is not None:
            player_of(session, player)
    if player is None:
        return shown | {"takes": None, "takes_player": None}
    takes = takes_of_part(studio, stored.part_id, player=player, most=_MOST_TAKES)
    return shown | {"takes": takes, "takes_player": player}


def _address_unsaved(request: Request, stored: StoredPart, text: str) -> str | None:
    """Where a text that is not saved is heard; None where the saved one is, or it cannot be."""
    if text == stored.text:
        return None
    try:
        part = check_part_text(text)
        return address_to_hear(heard_texts_of(request), text, part, section="")
    except InputError:
        return None


def _drawn(text: str, words: Words, *, fallback: str | None = None) -> dict[str, Any]:
    """The staff of a text, and what is wrong with it; then the staff of what stood before."""
    try:
        return _staff(check_part_text(text), words) | {"problem": None, "is_stale": False}
    except InputError as error:
        problem = problem_of(error, text)
    empty = {"staff": None, "figures": None, "problem": problem, "is_stale": True}
    if fallback is None or fallback == text:
        return empty
    return empty | _drawn(fallback, words) | {"problem": problem, "is_stale": True}


def _staff(part: Part, words: Words) -> dict[str, Any]:
    """The staff of a part, as much of it as was asked for."""
    asked = _staff_asked(words)
    return {
        "staff": staff_of(part, asked),
        "figures": figures_of(part),
        "asked": asked,
        "limbs": LIMBS,
    }


def _staff_asked(words: Words) -> StaffAsked:
    """What of the staff a form or an address asks for. Raises InputError."""
    section = words.get("section", "")
    return StaffAsked(
        start=_start_of(words),
        width_px=width_asked(words.get("width")),
        section=_whole(section, field="section") if section else None,
        sticking=words.get("sticking") == "yes",
        counts=words.get("counts") == "yes",
    )


# ------------------------------------------------------------------ answers to the script


async def _draw(request: Request) -> Response:
    """Draw a text: the staff as it stands in the page, or the sentence that refuses it."""
    return await run_in_threadpool(_draw_text, request, await _words_of(request))


def _draw_text(request: Request, words: Words) -> Response:
    drawn = _drawn(_text_of(words), words)
    if drawn["staff"] is None:
        return _refused(drawn["problem"])
    return JSONResponse({"staff": _staff_as_html(request, drawn), "problem": None})


async def _edit(request: Request) -> Response:
    """Make one change on the staff: the text and the staff after it, and where the stroke is."""
    return await run_in_threadpool(_edit_text, request, await _words_of(request))


def _edit_text(request: Request, words: Words) -> Response:
    text = _text_of(words)
    try:
        part = check_part_text(text)
        at = at_asked(*(words.get(name, "") for name in ("section", "bar", "place", "limb")))
        changed, there = apply_edit(part, words.get("edit", ""), at)
        drawn = _staff(changed, words)
        written = keep_notes(text, write_part(changed))
    except InputError as error:
        return _refused(problem_of(error, text))
    return JSONResponse(
        {
            "staff": _staff_as_html(request, drawn),
            "text": written,
            "limb": LIMBS.index(there.limb),
            "problem": None,
        }
    )


async def _listen(request: Request) -> Response:
    """Say where a text is heard as it stands, or the sentence that refuses it."""
    return await run_in_threadpool(_listen_to, request, await _words_of(request))


def _listen_to(request: Request, words: Words) -> Response:
    text = _text_of(words)
    try:
        part = check_part_text(text)
        texts = heard_texts_of(request)
        address = address_to_hear(texts, text, part, section=words.get("section", ""))
    except InputError as error:
        return _refused(problem_of(error, text))
    return JSONResponse({"address": address, "problem": None})


def _refused(problem: Problem) -> Response:
    """Say why; the page's script shows it, so it is an answer like any other."""
    said = {
        "sentence": problem.sentence,
        "line": problem.line,
        "column": problem.column,
        "shown": problem.shown,
    }
    return JSONResponse({"problem": said})


def _staff_as_html(request: Request, drawn: dict[str, Any]) -> str:
    template = desk_of(request).templates.get_template("part_staff.html")
    return template.render(**drawn)


# ------------------------------------------------------------------ what was asked


async def _words_of(request: Request) -> dict[str, str]:
    """Fields of a form that hold words."""
    small = limited(request, most_bytes=_MOST_BODY_BYTES, sentence=_TOO_LONG)
    async with small.form(
        max_files=0, max_fields=_MOST_FIELDS, max_part_size=_MOST_BODY_BYTES
    ) as form:
        return {name: word for name, word in form.items() if isinstance(word, str)}


def _stored(request: Request) -> StoredPart:
    return load_part(desk_of(request).studio, request.path_params["part_id"])


def _text_of(words: Words) -> str:
    """The text of a form, its lines ended as ours are."""
    return words.get("text", "").replace("\r\n", "\n")


def _start_of(words: Words) -> int:
    word = words.get("from", "")
    return _whole(word, field="from") if word else 0


def _whole(word: str, *, field: str) -> int:
    """Whole number of a field. Raises InputError."""
    if not (word.isascii() and word.isdigit() and len(word) < 10):
        raise InputError(f"{field} = {word[:20]!r}: want a whole number")
    return int(word)


ROUTES = [
    Route("/part/draw", _draw, methods=["POST"], name="part-draw"),
    Route("/part/edit", _edit, methods=["POST"], name="part-edit"),
    Route("/part/listen", _listen, methods=["POST"], name="part-listen"),
    Route("/part/{part_id:int}", _part, name="part"),
    Route("/part/{part_id:int}", _post, methods=["POST"], name="part-save"),
    Route("/part/{part_id:int}/delete", _delete, methods=["POST"], name="part-delete"),
]
