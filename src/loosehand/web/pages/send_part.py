"""Sending a take of a part: whose line it is, and what comes from the part."""

from collections.abc import Mapping
from dataclasses import dataclass

from loosehand.errors import BadNotation, Conflict, InputError
from loosehand.judge.part_to_hear import PartToHear, limb_named, part_to_hear
from loosehand.parts.demand import demand_of
from loosehand.parts.part import LIMBS, Limb, Part
from loosehand.parts.text import parse_part
from loosehand.parts.text_signs import words_of_tempo
from loosehand.rounds.ways import kind_asked
from loosehand.studio.database import Studio
from loosehand.studio.filing import PartTaken
from loosehand.studio.part_take_words import asked_in_words
from loosehand.studio.parts_store import StoredPart, load_part
from loosehand.studio.round_tags import check_tempo_bpm

__all__ = ["LimbChoice", "PartChosen", "part_chosen", "part_words", "taken_of"]

_HANDS: tuple[Limb, ...] = LIMBS[:2]
"""The ear judges hands: a take of a foot is not offered."""
_SECONDS_A_MINUTE = 60.0


@dataclass(frozen=True)
class LimbChoice:
    """A hand that a take may be of.

    Attributes
    ----------
    limb : the hand
    asked : what a take of it is heard against, None where it cannot be heard
    sentence : what is asked, or why it cannot be heard
    """

    limb: Limb
    asked: PartToHear | None
    sentence: str


@dataclass(frozen=True)
class PartChosen:
    """A part that a take is sent of.

    Attributes
    ----------
    stored, part : the part, as it is kept and as it was read
    tempo : its tempo in words, with the note value that it counts
    choices : the hands, whether or not they can be heard
    limb : the hand that is chosen, None where none can be heard
    """

    stored: StoredPart
    part: Part
    tempo: str
    choices: tuple[LimbChoice, ...]
    limb: Limb | None

    @property
    def places_per_count(self) -> int | None:
        """Places in a count, None where no hand can be heard."""
        heard = [choice.asked for choice in self.choices if choice.asked is not None]
        return heard[0].places_per_count if heard else None


def part_chosen(studio: Studio, said: Mapping[str, str]) -> PartChosen | None:
    """Find the part that a form or an address names; None where it names none.

    Raises
    ------
    NotFound, InputError   if there is no such part, or no such limb
    """
    word = said.get("part", "")
    if not word:
        return None
    stored = load_part(studio, _number(word, field="part"))
    part = parse_part(stored.text)
    choices = []
    for hand in _HANDS:
        try:
            asked = part_to_hear(part, hand)
            choices.append(LimbChoice(hand, asked, asked_in_words(asked)))
        except BadNotation as error:
            choices.append(LimbChoice(hand, None, _as_sentence(str(error))))
    heard = [choice.limb for choice in choices if choice.asked is not None]
    wanted = limb_named(said["limb"]) if said.get("limb") else None
    limb = wanted if wanted in heard else (heard[0] if heard else None)
    tempo = words_of_tempo(part.tempo_bpm, part.beat)
    return PartChosen(stored, part, tempo, tuple(choices), limb)


def part_words(chosen: PartChosen) -> dict[str, str]:
    """What the part says of a round, unless somebody says otherwise."""
    words = {} if chosen.stored.player is None else {"player": chosen.stored.player}
    asked = next((each.asked for each in chosen.choices if each.asked is not None), None)
    if asked is None:
        return words
    return words | {"tempo": f"{asked.tempo_bpm:g}"} | _kind_words(chosen)


def _kind_words(chosen: PartChosen) -> dict[str, str]:
    """Surface and loudness of the hand that leads, where its line is the one chosen."""
    kind = kind_asked(chosen.part, demand_of(chosen.part))
    if kind is None or chosen.limb != f"{kind.hand} hand":
        return {}
    words = {"surface": kind.surface, "loudness": kind.loudness}
    return {name: word for name, word in words.items() if word is not None}


def taken_of(chosen: PartChosen, said: Mapping[str, str]) -> tuple[PartTaken, dict[str, str]]:
    """What a take that is sent was of, and what that says of its round.

    Parameters
    ----------
    chosen : the part
    said : words of the form; its tempo is the one that was played

    Returns
    -------
    taken : the part as it is kept with the take
    words : hand, places a count and length of the round, as the form would say them

    Raises
    ------
    BadTempo      if the tempo is none
    BadNotation   if the hand cannot be heard, in the sentence that says why
    Conflict      if the part was changed while the form was open
    InputError    if the hand is none
    """
    limb = limb_named(said.get("limb", ""))
    choice = next((each for each in chosen.choices if each.limb == limb), None)
    if choice is None:
        raise InputError(f"the {limb} is not heard: send a take of one of the hands")
    if choice.asked is None:
        raise BadNotation(choice.sentence)
    if said.get("version", "") != str(chosen.stored.version):
        raise Conflict(
            "the part was changed since this form was opened, so nothing was filed: "
            "look whether it still asks what was played, and send the take again"
        )
    tempo_bpm = check_tempo_bpm(said.get("tempo", ""))
    words = {
        "hand": limb.split()[0],
        "per_count": str(choice.asked.places_per_count),
        "round_s": repr(_SECONDS_A_MINUTE * choice.asked.counts / tempo_bpm),
    }
    return PartTaken(chosen.stored.part_id, chosen.stored.version, choice.asked), words


def _number(word: str, *, field: str) -> int:
    """Whole number of an address. Raises InputError."""
    if not (word.isascii() and word.isdigit() and len(word) < 10):
        raise InputError(f"{field} = {word[:20]!r}: want the number of a part")
    return int(word)


def _as_sentence(words: str) -> str:
    """Begin with a capital and end with a full stop.

    Examples
    --------
    >>> _as_sentence("the part is swung")
    'The part is swung.'
    """
    return f"{words[:1].upper()}{words[1:]}."
