"""A player's reaches by technique, for the hand and the surface of a part."""

from collections.abc import Iterable, Sequence
from datetime import date

from loosehand.reach.pool import donor_of
from loosehand.reach.reach import Reach
from loosehand.reach.seen import HandKind
from loosehand.rounds.believed_reach import believed_reach, is_heard
from loosehand.studio.database import Studio
from loosehand.studio.reach_store import reach_of

__all__ = ["heard_by_technique", "reaches_for_part"]


def reaches_for_part(
    studio: Studio,
    player: str,
    *,
    kinds: Sequence[HandKind],
    techniques: Iterable[str],
    today: date,
) -> list[dict[str, Reach]]:
    """What hands of a player hold, or are believed to, technique by technique.

    Parameters
    ----------
    kinds : hand, surface and loudness that are asked for: see ``kind_asked`` and
        ``other_kind_asked`` of ``loosehand.rounds.ways``
    techniques : names that are told of
    today : the day told of

    Returns
    -------
    by_kind : a mapping for each kind, as ``heard_by_technique`` says

    Raises
    ------
    NotFound   if there is no such player
    """
    names = tuple(techniques)
    stored = [each.reach for each in reach_of(studio, player, today=today)]
    return [heard_by_technique(stored, kind=kind, techniques=names) for kind in kinds]


def heard_by_technique(
    reaches: Iterable[Reach], *, kind: HandKind, techniques: Iterable[str]
) -> dict[str, Reach]:
    """Choose a reach for each technique; what was not heard on the surface is only believed.

    Parameters
    ----------
    reaches : of one player
    kind : hand, surface and loudness asked for; its technique is not looked at
    techniques : that are told of

    Returns
    -------
    by_technique : each has a reach; one without rounds was never heard on this surface
    """
    known = [each for each in reaches if is_heard(each)]
    found: dict[str, Reach] = {}
    for technique in techniques:
        asked = HandKind(kind.hand, technique, kind.surface, kind.loudness, kind.places_per_count)
        own = [each for each in known if _is_it(each.kind, asked)]
        nearest = max(own, key=lambda each: _nearness(each, asked), default=None)
        found[technique] = nearest or believed_reach(asked, _donor(asked, known))
    return found


def _donor(asked: HandKind, known: Sequence[Reach]) -> Reach | None:
    """Return what a belief leans on: the same hand if it is well known, else another."""
    same_hand = [each for each in known if each.kind.hand == asked.hand]
    return donor_of(asked, same_hand) or donor_of(asked, known)


def _is_it(kind: HandKind, asked: HandKind) -> bool:
    """Whether a kind is what is asked for; names of techniques may differ in capitals."""
    same_technique = (kind.technique or "").casefold() == (asked.technique or "").casefold()
    return same_technique and (kind.hand, kind.surface) == (asked.hand, asked.surface)


def _nearness(reach: Reach, asked: HandKind) -> tuple[bool, bool, int]:
    """Prefer the loudness asked for, then the grid, then what is known best."""
    kind = reach.kind
    same_grid = kind.places_per_count == asked.places_per_count
    return kind.loudness == asked.loudness, same_grid, reach.rounds
