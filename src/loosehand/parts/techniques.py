"""Techniques of one hand as data: what a drive pays for, what comes for nothing, what it costs.

The table stands in ``techniques.toml``. A teacher's own file of the same shape is read by
``read_techniques``; whoever calls it fetches the text. Nothing in the table is measured: each
entry names its source, or says that it has none.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from importlib import resources
from types import MappingProxyType
from typing import Any, Literal, TypeVar

from loosehand.errors import BadNotation
from loosehand.parts.instruments import SURFACES

__all__ = [
    "CURES",
    "KINDS",
    "NO_SOURCE",
    "TECHNIQUES",
    "WEAK_KINDS",
    "Fault",
    "StrokeKind",
    "Technique",
    "TechniqueTable",
    "read_techniques",
]

StrokeKind = Literal["full", "down", "tap", "up", "push", "pull"]
KINDS: tuple[StrokeKind, ...] = ("full", "down", "tap", "up", "push", "pull")
WEAK_KINDS: frozenset[StrokeKind] = frozenset(("tap", "up", "pull"))
"""Kinds of strokes that have no drive of their own."""

NO_SOURCE = "common practice, no source"
_Entry = TypeVar("_Entry")
_MOST_CHARACTERS = 200_000
_LOWEST_BPM, _HIGHEST_BPM = 20, 400


@dataclass(frozen=True)
class Technique:
    """How the strokes of a hand are made.

    Attributes
    ----------
    name : as in the glossary: whip fours
    strokes_per_drive : strokes that one motion pays for
    cycle : kinds of the strokes of one drive
    accents : phases of the cycle, from 0, where an accent costs nothing
    leans_on : phases that come out louder unless held back
    tempo_range_bpm : roughly where it is used, in one-handed sixteenths
    surfaces : where the stick gives back what it needs, words of SURFACES
    gives, costs, first_fault, cure, develop : a sentence or two each
    source : where this comes from, or NO_SOURCE
    """

    name: str
    strokes_per_drive: int
    cycle: tuple[StrokeKind, ...]
    accents: tuple[int, ...]
    leans_on: tuple[int, ...]
    tempo_range_bpm: tuple[int, int]
    surfaces: tuple[str, ...]
    gives: str
    costs: str
    first_fault: str
    cure: str
    develop: str
    source: str


@dataclass(frozen=True)
class Fault:
    """Something heard to go wrong, whatever the technique.

    Attributes
    ----------
    key : the word for it
    what : a sentence that says it
    cure : what to try
    source : where this comes from, or NO_SOURCE
    """

    key: str
    what: str
    cure: str
    source: str


@dataclass(frozen=True)
class TechniqueTable:
    """All that a file of techniques holds.

    Attributes
    ----------
    techniques : by name, in the order of the file
    faults : by key, in the order of the file; may be empty
    """

    techniques: Mapping[str, Technique]
    faults: Mapping[str, Fault]


def read_techniques(text: str) -> TechniqueTable:
    """Techniques and faults of a file's text.

    Parameters
    ----------
    text : TOML as in ``techniques.toml``: tables [[technique]] and [[fault]]

    Raises
    ------
    BadNotation    in one sentence that names the entry and its field: one is missing, unknown,
        of the wrong kind, or contradicts another
    """
    if len(text) > _MOST_CHARACTERS:
        raise BadNotation(
            f"the techniques are {len(text)} characters long: want {_MOST_CHARACTERS} at most"
        )
    try:
        read = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadNotation(f"the techniques are no TOML: {error}") from error
    strange = sorted(set(read) - {"technique", "fault"})
    if strange:
        raise BadNotation(
            f"'{strange[0]}' is no table of techniques: want [[technique]] or [[fault]]"
        )
    techniques = [
        Technique(**_checked(entry, _TECHNIQUE_FIELDS, "technique", "name"))
        for entry in _entries(read, "technique")
    ]
    faults = [
        Fault(**_checked(entry, _FAULT_FIELDS, "fault", "key")) for entry in _entries(read, "fault")
    ]
    if not techniques:
        raise BadNotation("the file has no technique: want one [[technique]] or more")
    for technique in techniques:
        _check_technique(technique)
    return TechniqueTable(
        _by_name([(technique.name, technique) for technique in techniques], "technique"),
        _by_name([(fault.key, fault) for fault in faults], "fault"),
    )


def _entries(read: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    entries = read.get(kind, [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        raise BadNotation(f"'{kind}' is no list of tables: want [[{kind}]] above each entry")
    return entries


def _by_name(pairs: list[tuple[str, _Entry]], kind: str) -> Mapping[str, _Entry]:
    found: dict[str, _Entry] = {}
    for name, entry in pairs:
        if name in found:
            raise BadNotation(f"{kind} '{name}' stands there twice: want each once")
        found[name] = entry
    return MappingProxyType(found)


def _is_words(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _is_list_of(check: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, list) and all(check(item) for item in value)


_FieldCheck = tuple[Callable[[object], bool], str]
_WORDS: _FieldCheck = (_is_words, "a sentence")
_FAULT_FIELDS: dict[str, _FieldCheck] = {field.name: _WORDS for field in fields(Fault)}
_TECHNIQUE_FIELDS: dict[str, _FieldCheck] = {
    **{field.name: _WORDS for field in fields(Technique)},
    "strokes_per_drive": (_is_whole, "a whole number"),
    "cycle": (_is_list_of(lambda kind: kind in KINDS), f"a list of {', '.join(KINDS)}"),
    "accents": (_is_list_of(_is_whole), "a list of whole numbers"),
    "leans_on": (_is_list_of(_is_whole), "a list of whole numbers"),
    "tempo_range_bpm": (_is_list_of(_is_whole), "two whole numbers such as [80, 150]"),
    "surfaces": (
        _is_list_of(lambda surface: surface in SURFACES.values()),
        f"a list of {', '.join(dict.fromkeys(SURFACES.values()))}",
    ),
}


def _checked(
    entry: dict[str, Any], wanted: Mapping[str, _FieldCheck], kind: str, name: str
) -> dict[str, Any]:
    """Return an entry's fields, lists as tuples, each of the kind that is wanted."""
    who = f"{kind} '{entry[name]}'" if _is_words(entry.get(name)) else f"a {kind}"
    for field, (check, what) in wanted.items():
        if field not in entry:
            raise BadNotation(f"{who} has no '{field}': want {what}")
        if not check(entry[field]):
            raise BadNotation(f"{who} has {field} = {str(entry[field])[:40]!r}: want {what}")
    strange = sorted(set(entry) - set(wanted))
    if strange:
        raise BadNotation(
            f"{who} has a field '{strange[0]}' that nothing reads: want {', '.join(wanted)}"
        )
    return {
        field: tuple(value) if isinstance(value, list) else value for field, value in entry.items()
    }


def _check_technique(technique: Technique) -> None:
    """Refuse an entry whose fields contradict each other."""
    who = f"technique '{technique.name}'"
    if technique.strokes_per_drive != len(technique.cycle) or not technique.cycle:
        raise BadNotation(
            f"{who} has {technique.strokes_per_drive} strokes a drive and a cycle of "
            f"{len(technique.cycle)}: want as many, one or more"
        )
    phases = range(len(technique.cycle))
    for field in ("accents", "leans_on"):
        outside = [phase for phase in getattr(technique, field) if phase not in phases]
        if outside:
            raise BadNotation(f"{who} has {field} with {outside[0]}: want phases 0 to {phases[-1]}")
    if not technique.surfaces:
        raise BadNotation(f"{who} has no surface: want one or more")
    _check_tempo_range(technique.tempo_range_bpm, who)


def _check_tempo_range(tempo_range_bpm: tuple[int, ...], who: str) -> None:
    if len(tempo_range_bpm) == 2:
        low, high = tempo_range_bpm
        if _LOWEST_BPM <= low < high <= _HIGHEST_BPM:
            return
    raise BadNotation(
        f"{who} has tempo_range_bpm = {list(tempo_range_bpm)}: "
        f"want two, rising, within {_LOWEST_BPM} to {_HIGHEST_BPM}"
    )


_OWN = read_techniques(
    resources.files("loosehand.parts").joinpath("techniques.toml").read_text("utf-8")
)
TECHNIQUES: Mapping[str, Technique] = _OWN.techniques
"""Our own table, by name."""
CURES: Mapping[str, str] = MappingProxyType({key: fault.cure for key, fault in _OWN.faults.items()})
"""What to try, by the key of a fault."""
