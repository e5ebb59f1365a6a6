"""A workout run without hands: what comes when, decided from strokes, keys and the sound's clock.

The conductor holds no sound, page or database. It is told what happened and answers with orders.
All times are seconds of one clock, that of the sound.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from loosehand.rounds.wake import Knock, count_of_answer, feel_of_strokes, is_woken, loud_ones
from loosehand.rounds.workout import PlannedRound, Workout

__all__ = ["Adapt", "Conductor", "Cue", "Order", "Outcome", "Phase"]

Phase = Literal["check", "waiting", "round", "judging", "feel", "confirm", "rest", "done", "pain"]
Act = Literal["begin", "end", "rated", "show", "cue"]
Cue = Literal["pip", "last pip", "next", "held", "ask", "done", "pain"]

_ANSWER_S = 5.0
_CALM_S = 0.7
_COUNTDOWN_S = 3
_KNOCKS_KEPT = 40


@dataclass(frozen=True)
class Outcome:
    """What came of a round.

    Attributes
    ----------
    index : of the round in its workout
    held : counts held, or None
    counts : counts of the round
    ended : how it ended
    void : why it does not count, or None
    feel : what the person said of it, or None
    """

    index: int
    held: int | None
    counts: int
    ended: str
    void: str | None
    feel: str | None


Adapt = Callable[[Sequence[Outcome], int], tuple[PlannedRound, ...]]
"""Told what came of the rounds and which comes next, it says all rounds anew."""


@dataclass(frozen=True)
class Order:
    """Something to be done now.

    Attributes
    ----------
    act : begin the round, end it, file how it felt, show the phase anew, sound a cue
    why : of an end
    cue : which sound
    outcome : the round that was rated
    """

    act: Act
    why: str | None = None
    cue: Cue | None = None
    outcome: Outcome | None = None


@dataclass
class Conductor:
    """Runs a workout.

    Attributes
    ----------
    workout : what is played
    waits : whether every round waits to be woken, also after a rest
    index : of the round that comes or runs
    phase : what is going on
    since_s, until_s : of the phase; no end for None
    own_level_db : level of the player's strokes
    extra_answer_s : how much longer an answer is waited for, where the question is spoken
    outcomes : of the rounds played
    adapt : asked after each round which rounds come, None where they stay as they are
    """

    workout: Workout
    waits: bool
    index: int = 0
    phase: Phase = "check"
    since_s: float = 0.0
    until_s: float | None = None
    own_level_db: float = -30.0
    extra_answer_s: float = 0.0
    outcomes: list[Outcome] = field(default_factory=list)
    adapt: Adapt | None = None
    _knocks: list[Knock] = field(default_factory=list)
    _pips: int = 0

    @property
    def planned(self) -> PlannedRound | None:
        """The round that comes or runs, None when all are played."""
        rounds = self.workout.rounds
        return rounds[self.index] if self.index < len(rounds) else None

    @property
    def _answer_s(self) -> float:
        return _ANSWER_S + self.extra_answer_s

    def checked(self, now_s: float, *, own_level_db: float) -> list[Order]:
        """The sound check is done: wait to be woken, where there is anything left to play."""
        self.own_level_db = own_level_db
        return self._turn("waiting", now_s) if self.planned else self._finish(now_s)

    def knock(self, knock: Knock) -> None:
        """A stroke was heard outside a round."""
        self._knocks = [*self._knocks, knock][-_KNOCKS_KEPT:]

    def tick(self, now_s: float) -> list[Order]:
        """Time has come this far."""
        match self.phase:
            case "waiting":
                return self._begin(now_s) if self._woken(now_s) else []
            case "rest":
                return self._tick_rest(now_s)
            case "feel":
                return self._tick_feel(now_s)
            case "confirm":
                return self._tick_confirm(now_s)
            case _:
                return []

    def press(self, key: str, now_s: float) -> list[Order]:
        """A key, a pedal or a touch: go, stop, wait, skip, or a word of how it felt."""
        if key == "go" and self.phase in {"waiting", "rest"}:
            return self._begin(now_s)
        if key == "stop" and self.phase == "round":
            return [Order("end", why="stopped by choice")]
        if key == "wait" and self.phase == "rest":
            return self._turn("waiting", now_s)
        if key == "skip" and self.phase in {"waiting", "rest"}:
            return self._skip(now_s)
        if key == "finish" and self.phase in {"check", "waiting", "rest", "feel", "confirm"}:
            return self._finish(now_s)
        if key in {"loose", "working", "tense"} and self.phase in {"feel", "confirm"}:
            return self._rate(key, now_s)
        if key == "pain" and self.phase in {"feel", "confirm", "rest", "waiting"}:
            return self._hurt(now_s)
        return []

    def judging(self, now_s: float) -> list[Order]:
        """The round is over and is being read."""
        return self._turn("judging", now_s)

    def judged(self, outcome: Outcome, now_s: float) -> list[Order]:
        """The round was read: ask how it felt, or offer it again where it is void."""
        self.outcomes.append(outcome)
        if outcome.void is not None:
            return self._turn("waiting", now_s)
        self.index += 1
        return [*self._turn("feel", now_s, for_s=self._answer_s), Order("cue", cue="held")]

    def voided(self, now_s: float) -> list[Order]:
        """What was going on is void: the round is offered again."""
        return self._turn("waiting", now_s) if self.phase in {"round", "judging"} else []

    def to_json(self) -> dict[str, Any]:
        """Return how far the workout got, as it is stored."""
        return {
            "index": self.index,
            "waits": self.waits,
            "phase": self.phase,
            "outcomes": [each.__dict__ for each in self.outcomes],
        }

    def resume(self, stored: dict[str, Any]) -> None:
        """Go on from what was stored; a new sitting begins with its sound check."""
        self.index = stored["index"]
        self.outcomes = [Outcome(**each) for each in stored["outcomes"]]
        if stored["phase"] in {"done", "pain"}:
            self.phase = stored["phase"]
        elif self.planned is None:
            self.phase = "done"

    def _turn(self, phase: Phase, now_s: float, *, for_s: float | None = None) -> list[Order]:
        self.phase, self.since_s = phase, now_s
        self.until_s = None if for_s is None else now_s + for_s
        self._knocks, self._pips = [], _COUNTDOWN_S
        return [Order("show")]

    def _woken(self, now_s: float) -> bool:
        return is_woken(self._knocks, now_s=now_s, own_level_db=self.own_level_db)

    def _begin(self, now_s: float) -> list[Order]:
        if self.planned is None:
            return self._finish(now_s)
        return [*self._turn("round", now_s), Order("begin")]

    def _skip(self, now_s: float) -> list[Order]:
        planned = self.planned
        # A warm-up is left out only where the person says to be warm already.
        self.index += planned is not None
        return self._finish(now_s) if self.planned is None else self._turn("waiting", now_s)

    def _finish(self, now_s: float) -> list[Order]:
        return [*self._turn("done", now_s), Order("cue", cue="done")]

    def _tick_rest(self, now_s: float) -> list[Order]:
        if self._woken(now_s):
            return self._begin(now_s)
        assert self.until_s is not None, "a rest has an end"
        left_s = self.until_s - now_s
        if left_s <= 0:
            return self._turn("waiting", now_s) if self.waits else self._begin(now_s)
        if left_s <= self._pips:
            self._pips -= 1
            return [Order("cue", cue="last pip" if self._pips == 0 else "pip")]
        return []

    def _tick_feel(self, now_s: float) -> list[Order]:
        """Strokes that merely go on after the round are no answer: a moment of calm comes first."""
        calm_s = self.since_s + _CALM_S
        loud = loud_ones(self._knocks, own_level_db=self.own_level_db)
        early = [each for each in loud if each.time_s < calm_s]
        if early:
            self._turn("feel", early[-1].time_s, for_s=self._answer_s)
            return []
        count = count_of_answer(self._knocks, now_s=now_s, own_level_db=self.own_level_db)
        if count is not None:
            feel = feel_of_strokes(count)
            return self._confirm(now_s) if feel == "pain" else self._rate(feel, now_s)
        assert self.until_s is not None, "an answer is waited for so long"
        over = now_s >= self.until_s and not loud
        return self._rate(None, now_s) if over else []

    def _confirm(self, now_s: float) -> list[Order]:
        return [*self._turn("confirm", now_s, for_s=self._answer_s), Order("cue", cue="ask")]

    def _tick_confirm(self, now_s: float) -> list[Order]:
        assert self.until_s is not None, "a confirmation is waited for so long"
        loud = loud_ones(self._knocks, own_level_db=self.own_level_db)
        if any(each.time_s > self.since_s + _CALM_S for each in loud):
            return self._hurt(now_s)
        return self._rate(None, now_s) if now_s >= self.until_s else []

    def _rate(self, feel: str | None, now_s: float) -> list[Order]:
        rated = self._rated(feel)
        if self.adapt is not None:
            rounds = self.adapt(self.outcomes, self.index)
            self.workout = replace(self.workout, rounds=rounds)
        if self.planned is None:
            return [*rated, *self._finish(now_s)]
        rest = self._turn("rest", now_s, for_s=self.workout.setting.rest_s)
        return [*rated, *rest, Order("cue", cue="next")]

    def _hurt(self, now_s: float) -> list[Order]:
        return [*self._rated("pain"), *self._turn("pain", now_s), Order("cue", cue="pain")]

    def _rated(self, feel: str | None) -> list[Order]:
        if feel is None or not self.outcomes:
            return []
        last = self.outcomes[-1]
        rated = Outcome(last.index, last.held, last.counts, last.ended, last.void, feel)
        self.outcomes[-1] = rated
        return [Order("rated", outcome=rated)]
