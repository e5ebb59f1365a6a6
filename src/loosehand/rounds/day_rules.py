"""What kind of day it is: rest, light, easy or as any other; what is due today, and why."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from loosehand.rounds.day_known import PastRound, PlayerToday
from loosehand.rounds.load import day_loads
from loosehand.rounds.workout import Hand

__all__ = [
    "DayKind",
    "DayRule",
    "TechniqueDue",
    "day_rule",
    "days_in_a_row",
    "hard_day_why",
    "holds_in_week",
    "holds_left",
    "is_hold_to_failure",
    "is_test_due",
    "technique_due",
]

DayKind = Literal["ordinary", "easy", "light", "pain"]

_HOLDS_A_WEEK = 2
"""Common practice, no source."""
_WEEK_DAYS = 7
_DAYS_IN_A_ROW = 6
"""After so many days of practice rest is proposed first (common practice, no source)."""
_HARD_TIMES_MEAN = 1.3
_MEAN_DAYS = 28
_FEWEST_DAYS = 4
_LOOSE_ROUNDS = 3
"""So many rounds that felt loose end a light time. Ours."""
_PAIN_DAYS, _TENSE_DAYS = 28, 14
"""Without any word of how rounds felt, a light time ends after so many days. Ours."""
_SHORT_S = 30.0
"""A shorter round is no hold to failure: it looks for the edge, or fills up. Ours."""
_IN_USE_DAYS = 28


@dataclass(frozen=True)
class DayRule:
    """What kind of day it is.

    Attributes
    ----------
    kind : as any other, easy, light, or one of pain
    why : one sentence, None on an ordinary day
    rest_proposed : whether rest is the first proposal
    """

    kind: DayKind
    why: str | None
    rest_proposed: bool


@dataclass(frozen=True)
class TechniqueDue:
    """The technique of today, None where none is on the chart, and one sentence why."""

    technique: str | None
    why: str | None


def day_rule(player: PlayerToday) -> DayRule:
    """What kind of day it is for a player.

    Parameters
    ----------
    player : with the rounds played so far

    Returns
    -------
    rule : pain of today or yesterday comes before all else; then tension or older pain that no
        three loose rounds followed; then six days in a row; then a hard day yesterday or today

    Source
    ------
    Ours, after common practice (no source).
    """
    if any(each.feel == "pain" for each in player.since(2)):
        return DayRule(
            "pain",
            "A round hurt today or yesterday: rest; if it comes back or is there at rest, "
            "see a clinician.",
            rest_proposed=True,
        )
    row = days_in_a_row(player.history, today=player.today)
    rests = row >= _DAYS_IN_A_ROW
    rest_why = f"{row} days in a row were played: a day off is part of the work. " if rests else ""
    strained = _strained(player)
    if strained is not None:
        return DayRule("light", f"{rest_why}{strained}", rest_proposed=rests)
    if rests:
        return DayRule("easy", f"{rest_why}If you play, easy rounds.", rest_proposed=True)
    for day, name in ((player.today, "Today"), (player.today - timedelta(days=1), "Yesterday")):
        hard = hard_day_why(player, day=day)
        if hard is not None:
            return DayRule("easy", f"{name} was hard ({hard}): easy rounds.", rest_proposed=False)
    return DayRule("ordinary", None, rest_proposed=False)


def days_in_a_row(history: Sequence[PastRound], *, today: date) -> int:
    """Days played without a day between, up to yesterday; 0 where today was begun already.

    Parameters
    ----------
    history : rounds played
    today : the day
    """
    days = {each.day for each in history}
    count = 0
    while today not in days and today - timedelta(days=count + 1) in days:
        count += 1
    return count


def hard_day_why(player: PlayerToday, *, day: date) -> str | None:
    """Why a day was hard: a hold to failure, a tense round, or many strokes. None if it was not.

    Parameters
    ----------
    player : with the rounds played so far
    day : the day asked about

    Source
    ------
    Ours: many is more than 1.3 times the mean of the days played in the 28 before, of at least 4.
    """
    own = [each for each in player.history if each.day == day]
    if any(is_hold_to_failure(each, player) for each in own):
        return "a round was played to where the hand gives out"
    if any(each.feel == "tense" for each in own):
        return "a round felt tense"
    loads = {each.day: each.both for each in day_loads(player.history)}
    before = [
        strokes
        for other, strokes in loads.items()
        if day - timedelta(days=_MEAN_DAYS) <= other < day
    ]
    if len(before) < _FEWEST_DAYS or day not in loads:
        return None
    mean = sum(before) / len(before)
    many = loads[day] > _HARD_TIMES_MEAN * mean
    return f"{loads[day]:.0f} strokes, {mean:.0f} are usual" if many else None


def is_hold_to_failure(past: PastRound, player: PlayerToday) -> bool:
    """Whether a round was played where its hand was to give out.

    Parameters
    ----------
    past : a round
    player : with what is known of the hands; where nothing is, each round that was lost is one

    Source
    ------
    Ours: less likely held than not by what is known today. Rounds up to 30 s are none.
    """
    if past.purpose == "warm-up" or past.round_s <= _SHORT_S:
        return False
    reach = player.hands.get(past.hand) if player.is_alike(past) else None
    if reach is None:
        return past.is_lost
    return reach.chance_of_holding(tempo_bpm=past.tempo_bpm, time_s=past.round_s) < 0.5


def holds_in_week(player: PlayerToday) -> int:
    """Holds to failure of the last seven days, of all techniques."""
    return sum(is_hold_to_failure(each, player) for each in player.since(_WEEK_DAYS))


def holds_left(player: PlayerToday) -> int:
    """Holds to failure that may still be planned: two a week."""
    return max(_HOLDS_A_WEEK - holds_in_week(player), 0)


def is_test_due(player: PlayerToday, *, hand: Hand) -> bool:
    """Whether a week has passed since a hand's last test of its kind, and the hands are fresh."""
    fresh = all(each.day != player.today for each in player.history)
    tests = [
        each.day
        for each in player.history
        if each.purpose == "test" and each.hand == hand and player.is_alike(each)
    ]
    return fresh and (not tests or max(tests) <= player.today - timedelta(days=_WEEK_DAYS))


def technique_due(
    history: Sequence[PastRound], *, today: date, chosen: str | None = None
) -> TechniqueDue:
    """The technique of today: of those in use, the one that was played longest ago.

    Parameters
    ----------
    history : rounds played
    today : the day
    chosen : by the player, who has the last word

    Source
    ------
    Ours; in use is what was played in the last 28 days, warm-ups apart.
    """
    if chosen is not None:
        return TechniqueDue(chosen, f"{chosen}, as you chose.")
    last: dict[str, date] = {}
    for each in history:
        recent = today - timedelta(days=_IN_USE_DAYS) <= each.day <= today
        if recent and each.technique is not None and each.purpose != "warm-up":
            last[each.technique] = max(each.day, last.get(each.technique, each.day))
    if not last:
        return TechniqueDue(None, None)
    due = min(last, key=lambda name: (last[name], name))
    if len(last) == 1:
        return TechniqueDue(due, None)
    return TechniqueDue(
        due, f"{due}: of the {len(last)} in use the one played longest ago ({last[due]})."
    )


def _strained(player: PlayerToday) -> str | None:
    """Why rounds are to be light: pain or tension that three loose rounds have not followed."""
    for feel, days, said in (("pain", _PAIN_DAYS, "hurt"), ("tense", _TENSE_DAYS, "felt tense")):
        rated = sorted(player.since(days), key=lambda each: (each.day, each.order))
        at = max((k for k, each in enumerate(rated) if each.feel == feel), default=None)
        if at is None:
            continue
        if sum(each.feel == "loose" for each in rated[at:]) < _LOOSE_ROUNDS:
            day = rated[at].day
            return f"A round {said} ({day}): fewer and slower ones until three have felt loose."
    return None
