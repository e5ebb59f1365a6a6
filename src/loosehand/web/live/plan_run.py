"""A plan while it is played at the stand: the time it has, and what comes after each round."""

from collections.abc import Sequence
from typing import Any

from loosehand.rounds.conduct import Outcome
from loosehand.rounds.plan_running import next_rounds
from loosehand.rounds.plan_steps import Plan
from loosehand.rounds.workout import PlannedRound

__all__ = ["PlanRun"]


class PlanRun:
    """A plan, and how much of its time is over.

    Parameters
    ----------
    plan : as it stands
    spent_s : time that the workout took so far; time away from the stand is none

    Attributes
    ----------
    reason : why what comes was changed after the last round, or None
    """

    def __init__(self, plan: Plan, *, spent_s: float) -> None:
        self.plan = plan
        self.spent_s = spent_s
        self.reason: str | None = None

    @property
    def time_left_s(self) -> float | None:
        """Time left, None where the plan takes as long as it takes."""
        return None if self.plan.target_s is None else self.plan.target_s - self.spent_s

    def after_round(self, outcomes: Sequence[Outcome], next_index: int) -> tuple[PlannedRound, ...]:
        """All rounds of the plan, those that come changed where what came of the others asks so.

        Parameters
        ----------
        outcomes : of the rounds so far
        next_index : of the round that comes next
        """
        before = self.plan
        self.plan = next_rounds(
            before, outcomes, next_index=next_index, time_left_s=self.time_left_s
        )
        said = self.plan.changes[len(before.changes) :]
        if not said and self.plan.steps != before.steps:
            said = self.plan.changes[-1:]
        self.reason = " ".join(said) or None
        return self.plan.rounds

    def to_json(self) -> dict[str, Any]:
        """Return it as it is stored with how far the workout got."""
        return {"plan": self.plan.to_json(), "spent_s": self.spent_s}
