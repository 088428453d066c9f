"""What is asked of those who work side by side, whoever they are, and the plainest of them: no one else."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Protocol

from cutplan.running.budget import Budget

Doing = Callable[[Any, Budget], Any]
Settle = Callable[[Any, Any], Any]


@dataclass(frozen=True)
class JobAsked:
    """A job and its number. It may take one of so many equal `parts` of the time that is left when it is handed out.

    `keeps`: what is found so far is wanted too. `grace`: seconds that it has to end once the budget has. `gap`: which
    is enough (see Budget).
    """

    number: int
    job: Any
    parts: float
    keeps: bool
    grace: float
    gap: Fraction


class WorkerPool(Protocol):
    """Those who work: `number` of them at a time."""

    number: int

    def run(self, budget: Budget, work: Doing, waiting: deque[JobAsked], settle: Settle | None) -> dict[int, Any]:
        """The results of these jobs by their numbers; see Workers.each. Raises what a job raises."""

    def close(self, *, failed: bool) -> None:
        """Lets them go. `failed`: some may still be at work, for nothing."""


class InTurn:
    """No workers: the jobs are done here, one after the other."""

    number = 1

    def run(self, budget: Budget, work: Doing, waiting: deque[JobAsked], settle: Settle | None) -> dict[int, Any]:
        return {asked.number: work(asked.job, budget.share(asked.parts)) for asked in waiting}

    def close(self, *, failed: bool) -> None:
        pass
