"""A hand and how it plays, in words and in the address of the page of its reach."""

from collections.abc import Sequence
from urllib.parse import quote, urlencode

from loosehand.errors import NotFound
from loosehand.reach.seen import HandKind

__all__ = ["hand_words", "kind_of_word", "kind_word", "kind_words", "reach_path"]

_NOT_SAID = "~"
_FOUR_PLACES = 4


def kind_word(kind: HandKind) -> str:
    """Word of a kind in an address: unlike that of any other kind.

    Examples
    --------
    >>> kind_word(HandKind("left", "whip fours", "pad", None, 4))
    'left/whip fours/pad/~/4'
    """
    words = (kind.technique, kind.surface, kind.loudness)
    said = [_NOT_SAID if word is None else _escaped(word) for word in words]
    return "/".join((kind.hand, *said, str(kind.places_per_count)))


def kind_of_word(word: str, kinds: Sequence[HandKind]) -> HandKind:
    """Find the kind of a word.

    Raises
    ------
    NotFound   if none of the kinds has it
    """
    found = next((kind for kind in kinds if kind_word(kind) == word), None)
    if found is None:
        short = repr(word if len(word) <= 60 else word[:57] + "...")
        raise NotFound(f"kind = {short} has no rounds with a count here; choose one of the page's")
    return found


def hand_words(hand: str) -> str:
    """Name a hand at the head of a sentence.

    Examples
    --------
    >>> hand_words("left"), hand_words("alternating")
    ('Left hand', 'Alternating')
    """
    return "Alternating" if hand == "alternating" else f"{hand.capitalize()} hand"


def kind_words(kind: HandKind) -> str:
    """Name a kind: hand, technique, surface, loudness as far as said, and an unusual grid.

    Examples
    --------
    >>> kind_words(HandKind("left", "whip fours", "pad", "medium", 4))
    'Left hand, whip fours, pad, medium'
    >>> kind_words(HandKind("alternating", None, "pad", None, 8))
    'Alternating, pad, 8 places a count'
    """
    places = kind.places_per_count
    grid = None if places == _FOUR_PLACES else f"{places} places a count"
    words = (hand_words(kind.hand), kind.technique, kind.surface, kind.loudness, grid)
    return ", ".join(word for word in words if word)


def reach_path(player: str, **words: str) -> str:
    """Address of a player's reach.

    Examples
    --------
    >>> reach_path("Ines & Co", kind="left/~/pad/~/4", tempo="")
    '/reach/Ines%20%26%20Co?kind=left%2F~%2Fpad%2F~%2F4'
    """
    query = urlencode({name: word for name, word in words.items() if word})
    path = f"/reach/{quote(player, safe='')}"
    return f"{path}?{query}" if query else path


def _escaped(word: str) -> str:
    """A word without the letters that part words here."""
    for letter in "%/~":
        word = word.replace(letter, f"%{ord(letter):02X}")
    return word
