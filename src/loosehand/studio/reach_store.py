"""Fits of hands, and their scored forecasts, kept in the studio so that they are made once.

A stored fit is used while its fingerprint holds (see ``loosehand.studio.reach_work``). So that a
page need not read a chart of years to find that nothing changed, each fit also carries a stamp of
the player's whole chart: sums over rounds, readings and corrections that any act of the studio
moves. Where the stamp holds, the rounds are not read at all.

After a round a fit goes on from the one stored before it; ``afresh`` makes it from the beginning.

What is stored was made from the chart as it stood when it was stored: an act that came in between
makes the work be done again, not be kept.
"""

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, delete, func, select, update
from sqlalchemy.orm import Session, undefer

from loosehand.errors import BadTable, DiskFull, StudioLocked
from loosehand.reach.reach import Reach
from loosehand.reach.record import ForecastRecord, RoundForetold, WeekForetold, record_of_weeks
from loosehand.reach.seen import HandKind
from loosehand.reach.stored import reach_from_bytes, reach_to_bytes
from loosehand.studio.chart import chart_rows, player_of
from loosehand.studio.database import Studio
from loosehand.studio.models import Correction, Day, ReachFit, ReachForecast, Reading, Round, Take
from loosehand.studio.reach_hands import Workers
from loosehand.studio.reach_rounds import kind_place, rounds_of_rows
from loosehand.studio.reach_work import (
    MOST_ADDED,
    FitBefore,
    HandDone,
    HandWork,
    code_version,
    day_told_of,
    do_work,
    ready_work,
    work_of_rounds,
)

__all__ = [
    "PlayerWork",
    "StoredReach",
    "do_players",
    "fill_record",
    "plan_player",
    "reach_of",
    "save_work",
]


@dataclass(frozen=True)
class StoredReach:
    """What one hand can hold, as it is stored.

    Attributes
    ----------
    player, kind : whose
    reach : the fit, with the notes on the rows of the chart
    record : of the forecasts that were scored so far, or None; see ``fill_record``
    """

    player: str
    kind: HandKind
    reach: Reach
    record: ForecastRecord | None


@dataclass(frozen=True)
class PlayerWork:
    """What is stored of a player, and what is to do.

    Attributes
    ----------
    player, player_id : whose
    today : the day on which this was looked at
    stamp : of the chart then
    hands : those that can be told of, each with what is to do
    kept : stored fits that hold, by their fingerprint: their row's id and the fit
    weeks : stored forecasts that hold, by their fingerprint: their row's id and the week
    is_new : whether the chart changed since it was last compared
    """

    player: str
    player_id: int
    today: date
    stamp: str
    hands: tuple[HandWork, ...]
    kept: dict[str, tuple[int, Reach]]
    weeks: dict[str, tuple[int, WeekForetold]]
    is_new: bool

    @property
    def to_do(self) -> tuple[HandWork, ...]:
        """Hands of which there is something to do."""
        return tuple(hand for hand in self.hands if hand.to_fit or hand.to_foretell)


def reach_of(studio: Studio, player: str, *, today: date) -> list[StoredReach]:
    """What a player's hands can hold, one entry a kind: stored fits, and new ones where need be.

    Parameters
    ----------
    today : see ``loosehand.studio.reach_work.day_told_of`` for the day that is told of

    Raises
    ------
    NotFound   if there is no such player
    """
    with studio.look() as session:
        found = _as_stored(session, player, today=today)
    if found is not None:
        return found
    work = plan_player(studio, player, today=today, with_record=False)
    ((_, done),) = do_players([work], map)
    save_work(studio, work, done)
    return _told(work, done)


def fill_record(studio: Studio, player: str, *, today: date) -> int:
    """Foretell and score the weeks of a player that are over and were not scored yet.

    A fit for every week and hand: seconds where nothing was scored before.

    Returns
    -------
    weeks : how many were scored now
    """
    work = plan_player(studio, player, today=today, with_record=True)
    ((_, done),) = do_players([work], map)
    save_work(studio, work, done)
    return sum(len(each.weeks) for each in done)


def plan_player(
    studio: Studio, player: str, *, today: date, with_record: bool, afresh: bool = False
) -> PlayerWork:
    """Find what is stored of a player and still holds, and what is to do.

    Parameters
    ----------
    with_record : whether to foretell the weeks that were not scored yet, too
    afresh : whether to fit from the beginning, also what was only gone on with since

    Raises
    ------
    NotFound   if there is no such player
    """
    with studio.look() as session:
        player_id = player_of(session, player).id
        rounds = rounds_of_rows(chart_rows(session, player=player))
        as_of = day_told_of((each.day for each in rounds.rounds), today=today)
        hands = work_of_rounds(player, rounds, as_of=as_of)
        stamp = _stamp(session, player_id, today=today)
        own = ReachFit.player_id == player_id
        fits = session.scalars(select(ReachFit).options(undefer(ReachFit.fit)).where(own)).all()
        stored = [
            _StoredFit(row.id, row.fingerprint, row.rounds_mark, row.rounds_added, reach)
            for row in fits
            if (reach := _read(row.fit)) is not None
        ]
        weeks = _weeks_that_hold(session, player_id, hands)
    hands = _with_fits(hands, stored, afresh=afresh)
    wanted = {hand.fingerprint for hand in hands if not hand.to_fit}
    kept = {fit.fingerprint: (fit.id, fit.reach) for fit in stored if fit.fingerprint in wanted}
    is_new = any(row.stamp != stamp for row in fits) or len(kept) != len(fits)
    planned = [
        replace(hand, to_foretell=_missing(hand, weeks) if with_record else ()) for hand in hands
    ]
    return PlayerWork(player, player_id, today, stamp, tuple(planned), kept, weeks, is_new)


def do_players(
    plans: Sequence[PlayerWork], run: Workers
) -> Iterator[tuple[PlayerWork, list[HandDone]]]:
    """Do the work of players: the well known hands first, then those that lean on them.

    Parameters
    ----------
    run : does the work of hands, see ``loosehand.studio.reach_hands.workers``

    Yields
    ------
    plan, done : of each hand of ``plan.to_do``; players whose hands lean on none come first
    """
    ready = [ready_work(hand, None) for plan in plans for hand in plan.to_do if not _leans(hand)]
    first = run(do_work, ready)
    waiting: list[tuple[PlayerWork, dict[HandKind, HandDone]]] = []
    for plan in plans:
        own = {hand.job.kind: next(first) for hand in plan.to_do if not _leans(hand)}
        if len(own) < len(plan.to_do):
            waiting.append((plan, own))
        else:
            yield plan, list(own.values())
    ready = [
        ready_work(hand, _donor(hand, plan, own))
        for plan, own in waiting
        for hand in plan.to_do
        if _leans(hand)
    ]
    then = run(do_work, ready)
    for plan, own in waiting:
        own |= {hand.job.kind: next(then) for hand in plan.to_do if _leans(hand)}
        yield plan, [own[hand.job.kind] for hand in plan.to_do]


def save_work(studio: Studio, work: PlayerWork, done: Sequence[HandDone]) -> bool:
    """Store what was done, and forget what does not hold any more.

    Parameters
    ----------
    done : of each hand of ``work.to_do``

    Returns
    -------
    saved : whether it was stored: not where the chart changed meanwhile, the disk is full, or
        another program holds the studio; then it will be done again
    """
    if not done and not work.is_new:
        return True
    with suppress(DiskFull, StudioLocked), studio.act() as session:
        if _stamp(session, work.player_id, today=work.today) != work.stamp:
            return False
        _forget(session, ReachFit, work.player_id, [place for place, _ in work.kept.values()])
        _forget(session, ReachForecast, work.player_id, [place for place, _ in work.weeks.values()])
        session.execute(
            update(ReachFit).where(ReachFit.player_id == work.player_id).values(stamp=work.stamp)
        )
        for hand, each in zip(work.to_do, done, strict=True):
            session.add_all(_rows(work, hand, each))
        return True
    return False


@dataclass(frozen=True)
class _StoredFit:
    """A fit, and what its row says of it."""

    id: int
    fingerprint: str
    rounds_mark: str
    rounds_added: int
    reach: Reach


def _with_fits(
    hands: Sequence[HandWork], stored: Sequence[_StoredFit], *, afresh: bool
) -> list[HandWork]:
    """Say of each hand whether it is to be fitted, and from where.

    A hand whose donor is fitted again is fitted again as well.
    """
    by_mark = {fit.rounds_mark: fit for fit in stored}
    whole = {fit.fingerprint for fit in stored if not (afresh and fit.rounds_added)}
    fitted = {hand.job.kind for hand in hands if hand.fingerprint not in whole}
    fitted |= {hand.job.kind for hand in hands if _leans_on_one_of(hand, fitted)}
    return [
        replace(
            hand,
            to_fit=hand.job.kind in fitted,
            go_on=None if afresh or _leans_on_one_of(hand, fitted) else _fit_before(hand, by_mark),
        )
        for hand in hands
    ]


def _fit_before(hand: HandWork, by_mark: Mapping[str, _StoredFit]) -> FitBefore | None:
    """Return the stored fit to go on from: that of all but the last few rounds."""
    for mark, added in reversed(tuple(hand.before.items())):
        fit = by_mark.get(mark)
        if fit is not None and fit.rounds_added + added <= MOST_ADDED:
            return FitBefore(fit.reach, fit.rounds_added + added)
    return None


def _leans(hand: HandWork) -> bool:
    return hand.to_fit and hand.job.leans_on is not None


def _leans_on_one_of(hand: HandWork, kinds: Iterable[HandKind]) -> bool:
    return hand.job.leans_on is not None and hand.job.leans_on.kind in kinds


def _donor(hand: HandWork, plan: PlayerWork, done: Mapping[HandKind, HandDone]) -> Reach | None:
    """Return what the hand holds on which a leaning one leans: fitted now, or stored."""
    assert hand.job.leans_on is not None, "a hand that leans, leans on one"
    kind = hand.job.leans_on.kind
    if kind in done and done[kind].reach is not None:
        return done[kind].reach
    return next(reach for _, reach in plan.kept.values() if reach.kind == kind)


def _as_stored(session: Session, player: str, *, today: date) -> list[StoredReach] | None:
    """Return what is stored, if the chart is as it was when that was last compared."""
    player_id = player_of(session, player).id
    stamp = _stamp(session, player_id, today=today)
    query = select(ReachFit.stamp, ReachFit.fit).where(ReachFit.player_id == player_id)
    rows = session.execute(query).all()
    if not rows or any(row.stamp != stamp for row in rows):
        return None
    weeks: dict[HandKind, list[WeekForetold]] = {}
    for row in session.scalars(select(ReachForecast).where(ReachForecast.player_id == player_id)):
        weeks.setdefault(_kind_of_row(row), []).append(_week(row))
    reaches = [_read(row.fit) for row in rows]
    if any(reach is None for reach in reaches):
        return None
    return _in_order(
        StoredReach(player, reach.kind, reach, record_of_weeks(weeks.get(reach.kind, [])))
        for reach in reaches
        if reach is not None
    )


def _told(work: PlayerWork, done: Iterable[HandDone]) -> list[StoredReach]:
    """Put together what held and what was done now."""
    new = {hand.fingerprint: each.reach for hand, each in zip(work.to_do, done, strict=True)}
    return _in_order(
        StoredReach(
            work.player,
            hand.job.kind,
            new.get(hand.fingerprint) or work.kept[hand.fingerprint][1],
            record_of_weeks(
                [work.weeks[mark][1] for mark in hand.weeks.values() if mark in work.weeks]
            ),
        )
        for hand in work.hands
    )


def _in_order(found: Iterable[StoredReach]) -> list[StoredReach]:
    return sorted(found, key=lambda each: kind_place(each.kind))


def _stamp(session: Session, player_id: int, *, today: date) -> str:
    """Stamp of a player's chart: it changes with every round, reading and correction."""
    own = Day.player_id == player_id
    figures = (Round.day_id, Round.order_in_day, Round.tempo_bpm, Round.round_s)
    words = (Round.hand, Round.technique, Round.surface, Round.loudness)
    said = (Round.feel, Round.ended_written, Round.standing)
    rounds = (
        select(
            func.count(),
            *_sums(Round.id, *figures, Round.places_per_count, Round.count_written),
            *_sums(Round.id, *(func.length(word) for word in words + said)),
        )
        .join(Day, Round.day_id == Day.id)
        .where(own)
    )
    readings = (
        select(func.count(), *_sums(Reading.id, Reading.count_held))
        .join(Take, Reading.take_id == Take.id)
        .join(Round, Take.round_id == Round.id)
        .join(Day, Round.day_id == Day.id)
        .where(own)
    )
    corrections = (
        select(func.count(), *_sums(Correction.id, Correction.count_held))
        .join(Round, Correction.round_id == Round.id)
        .join(Day, Round.day_id == Day.id)
        .where(own)
    )
    sums = [tuple(session.execute(query).one()) for query in (rounds, readings, corrections)]
    days = select(Day.date).where(own).order_by(Day.date)
    told = day_told_of(session.scalars(days), today=today)
    return hashlib.sha256(repr((code_version(), told, sums)).encode()).hexdigest()


def _sums(number: Any, *columns: Any) -> list[ColumnElement[Any]]:
    """Ask for sums that tell the rows apart by their numbers."""
    return [func.sum(number), *(func.sum(number * func.coalesce(each, -1)) for each in columns)]


def _read(data: bytes) -> Reach | None:
    """Return a stored fit, None where this version cannot read it."""
    try:
        return reach_from_bytes(data)
    except BadTable:
        return None


def _kind_of_row(row: ReachFit | ReachForecast) -> HandKind:
    return HandKind(row.hand, row.technique, row.surface, row.loudness, row.places_per_count)


def _week(row: ReachForecast) -> WeekForetold:
    return WeekForetold(row.origin, tuple(RoundForetold(**each) for each in row.rounds))


def _weeks_that_hold(
    session: Session, player_id: int, hands: Iterable[HandWork]
) -> dict[str, tuple[int, WeekForetold]]:
    wanted = {mark for hand in hands for mark in hand.weeks.values()}
    rows = session.scalars(select(ReachForecast).where(ReachForecast.player_id == player_id))
    return {row.fingerprint: (row.id, _week(row)) for row in rows if row.fingerprint in wanted}


def _missing(hand: HandWork, weeks: dict[str, tuple[int, WeekForetold]]) -> tuple[date, ...]:
    return tuple(origin for origin, mark in hand.weeks.items() if mark not in weeks)


def _forget(
    session: Session, table: type[ReachFit | ReachForecast], player_id: int, but: list[int]
) -> None:
    """Delete a player's rows, but for those that hold."""
    session.execute(delete(table).where(table.player_id == player_id, table.id.not_in(but)))


def _rows(work: PlayerWork, hand: HandWork, done: HandDone) -> list[ReachFit | ReachForecast]:
    """Rows of what was done of a hand."""
    shared = {"player_id": work.player_id, "made_on": work.today, **asdict(hand.job.kind)}
    rows: list[ReachFit | ReachForecast] = [
        ReachForecast(
            **shared,
            origin=week.origin,
            fingerprint=hand.weeks[week.origin],
            rounds=[asdict(each) for each in week.rounds],
        )
        for week in done.weeks
    ]
    if done.reach is not None:
        fit = reach_to_bytes(done.reach)
        row = ReachFit(
            **shared,
            as_of=hand.job.as_of,
            fingerprint=hand.fingerprint,
            rounds_mark=hand.rounds_mark,
            rounds_added=done.added,
            stamp=work.stamp,
            fit=fit,
        )
        rows.append(row)
    return rows
