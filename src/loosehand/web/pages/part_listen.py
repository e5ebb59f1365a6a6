"""Texts that are heard as they stand, unsaved: kept for a short while, given out as sound."""

from collections import OrderedDict
from hashlib import sha256
from threading import Lock

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from loosehand.errors import BadNotation, InputError, NotFound
from loosehand.parts.part import Part
from loosehand.parts.unroll import played_sections
from loosehand.web.pages.part_files import section_asked, sound_answer

__all__ = ["ROUTES", "HeardTexts", "address_to_hear", "heard_texts_of"]

_KEY_LETTERS = 32


class HeardTexts:
    """The last few texts that were to be heard, each under a key that its words make.

    Parameters
    ----------
    most : texts that are kept; of more, the one that was asked for longest ago is let go
    """

    def __init__(self, *, most: int) -> None:
        self._most = most
        self._texts: OrderedDict[str, str] = OrderedDict()
        self._lock = Lock()

    def keep(self, text: str) -> str:
        """Keep a text, and return its key."""
        key = sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_KEY_LETTERS]
        with self._lock:
            self._texts[key] = text
            self._texts.move_to_end(key)
            while len(self._texts) > self._most:
                self._texts.popitem(last=False)
        return key

    def text_of(self, key: str) -> str:
        """Return a text by its key. Raises NotFound where it was let go, or never kept."""
        with self._lock:
            if key in self._texts:
                self._texts.move_to_end(key)
                return self._texts[key]
        raise NotFound("the sound of this text was let go: press Listen again")


def heard_texts_of(request: Request) -> HeardTexts:
    """Return the texts that the app keeps to be heard."""
    texts = request.app.state.heard_texts
    assert isinstance(texts, HeardTexts), "the app was made with texts to hear"
    return texts


def address_to_hear(texts: HeardTexts, text: str, part: Part, *, section: str) -> str:
    """Keep a text to be heard, and return the address of its sound.

    Parameters
    ----------
    texts : where it is kept
    text : as it stands
    part : as it was read from the text
    section : number of the one section that is to be heard, from 1; empty for the whole tune

    Raises
    ------
    InputError   if there is no such section, or what is to be heard is too long
    """
    _check_length(part, section_asked(section))
    key = texts.keep(text)
    return f"/part/heard/{key}.wav" + (f"?section={section}" if section else "")


def _check_length(part: Part, section: int | None) -> None:
    """Refuse what would not sound, before a player asks for it and says nothing."""
    from loosehand.players.part_sound import LONGEST_S

    played = played_sections(part)
    if section is not None and section >= len(played):
        raise InputError(f"section = {section + 1}: want 1 to {len(played)}")
    chosen = played if section is None else played[section : section + 1]
    length_s = float(chosen[-1].end_s - chosen[0].start_s)
    if length_s > LONGEST_S:
        raise BadNotation(
            f"what is to be heard lasts {length_s:.0f} s: want {LONGEST_S} s at most; "
            "listen to one section"
        )


def _heard(request: Request) -> Response:
    """The sound of a text that was kept."""
    return sound_answer(request, heard_texts_of(request).text_of(request.path_params["key"]))


ROUTES = [Route("/part/heard/{key}.wav", _heard, name="part-heard")]
