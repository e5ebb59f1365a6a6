"""Files of a part: taken in from other programs, given out to them, and its sound."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

import numpy as np
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from loosehand.errors import BadNotation, InputError
from loosehand.parts.part import Part
from loosehand.parts.text import parse_part, write_part
from loosehand.studio.parts_store import load_part
from loosehand.web.desk import desk_of
from loosehand.web.wav_answer import byte_range

__all__ = [
    "FORMS",
    "MOST_BYTES",
    "ROUTES",
    "file_name_of",
    "part_of_file",
    "section_asked",
    "sound_answer",
]

MOST_BYTES = 8_000_000
"""Size of the largest file that is taken in (ours): a score of a whole evening is smaller."""

_NOT_IN_A_NAME = re.compile(r"[^a-z0-9]+")
_LONGEST_NAME = 60
_SOUND_SEED = 20270301
_COUNT_IN = 4
_CLICK_DB = -6.0
_TIMBRE = "low wood"
_KEPT_SOUNDS = 3

_PLAYING = Lock()
"""Held while a part is played: a browser asks for one sound in several pieces at once."""


@dataclass(frozen=True)
class Form:
    """A form in which a part is given out.

    Attributes
    ----------
    name : as the page calls it
    media_type : of the file
    written : makes the file
    """

    name: str
    media_type: str
    written: Callable[[Part], bytes]


def file_name_of(title: str, part_id: int) -> str:
    """Name of the files of a part, without an ending: its title in plain letters, else its number.

    Examples
    --------
    >>> file_name_of("Evening groove, 2nd", 3), file_name_of("...", 3)
    ('evening-groove-2nd', 'part-3')
    """
    name = _NOT_IN_A_NAME.sub("-", title.lower()).strip("-")[:_LONGEST_NAME].strip("-")
    return name or f"part-{part_id}"


def part_of_file(data: bytes) -> Part:
    """Part in a file: MIDI, MusicXML (plain or packed), or our own text.

    Raises
    ------
    BadNotation   in one sentence, if it is none of them or holds no part
    """
    from loosehand.sheets.part_midi import part_from_midi
    from loosehand.sheets.part_musicxml import part_from_musicxml

    if data.startswith(b"MThd"):
        return part_from_midi(data)
    if data.startswith(b"PK") or data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        return part_from_musicxml(data)
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        return part_from_musicxml(data)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise BadNotation(
            "the file is neither MIDI, nor MusicXML, nor text: want a part as one of the three"
        ) from error
    return parse_part(text)


def _musicxml(part: Part) -> bytes:
    from loosehand.sheets.part_musicxml import part_to_musicxml

    return part_to_musicxml(part)


def _midi(part: Part) -> bytes:
    from loosehand.sheets.part_midi import part_to_midi

    return part_to_midi(part)


def _text(part: Part) -> bytes:
    return write_part(part).encode("utf-8")


FORMS = {
    "musicxml": Form("MusicXML", "application/vnd.recordare.musicxml+xml", _musicxml),
    "mid": Form("MIDI", "audio/midi", _midi),
    "txt": Form("Text", "text/plain; charset=utf-8", _text),
}
"""Forms by the ending of their files."""


def _file(request: Request) -> Response:
    stored = load_part(desk_of(request).studio, request.path_params["part_id"])
    ending = request.path_params["ending"]
    form = FORMS.get(ending)
    if form is None:
        raise InputError(f"a part is not given out as {ending[:20]!r}: want one of {_endings()}")
    data = form.written(parse_part(stored.text))
    name = f"{file_name_of(stored.title, stored.part_id)}.{ending}"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(data, media_type=form.media_type, headers=headers)


def _endings() -> str:
    return ", ".join(FORMS)


def _sound(request: Request) -> Response:
    """The part as it was last saved, as it sounds."""
    return sound_answer(
        request, load_part(desk_of(request).studio, request.path_params["part_id"]).text
    )


def sound_answer(request: Request, text: str) -> Response:
    """Give out a part as it sounds, with a click: all of it, or the range that was asked for.

    Parameters
    ----------
    request : may ask for a range of bytes, and for one section
    text : of the part

    Raises
    ------
    InputError   if the section is no number, or the part cannot be played
    """
    with _PLAYING:
        data = _played(text, section_asked(request.query_params.get("section")))
    size = len(data)
    headers = {"accept-ranges": "bytes"}
    asked = request.headers.get("range")
    wanted = None if asked is None or "if-range" in request.headers else byte_range(asked, size)
    if wanted is None:
        return Response(data, media_type="audio/wav", headers=headers)
    first, end = wanted
    if first >= end:
        headers["content-range"] = f"bytes */{size}"
        return Response(status_code=416, headers=headers)
    headers["content-range"] = f"bytes {first}-{end - 1}/{size}"
    return Response(data[first:end], 206, media_type="audio/wav", headers=headers)


def section_asked(word: str | None) -> int | None:
    """Section to be heard, from 1 as it is said, from 0 as it is kept. Raises InputError."""
    if not word:
        return None
    if not (word.isascii() and word.isdigit() and len(word) < 7 and int(word) > 0):
        raise InputError(f"section = {word[:20]!r}: want its number from 1, or nothing for all")
    return int(word) - 1


@lru_cache(maxsize=_KEPT_SOUNDS)
def _played(text: str, section: int | None) -> bytes:
    """Play a part; the last few are kept, since a player asks for one in many pieces."""
    from loosehand.players.part_sound import SoundPlan, sound_of_part, wav_bytes

    plan = SoundPlan(section=section, timbre=_TIMBRE, count_in_counts=_COUNT_IN, click_db=_CLICK_DB)
    return wav_bytes(
        sound_of_part(parse_part(text), plan, np.random.default_rng(_SOUND_SEED)).samples
    )


ROUTES = [
    Route("/part/{part_id:int}/sound.wav", _sound, name="part-sound"),
    Route("/part/{part_id:int}/part.{ending}", _file, name="part-file"),
]
