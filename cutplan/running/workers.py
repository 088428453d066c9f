"""Several jobs side by side: by processes of our own, one on each core, or by any executor that the budget brings."""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from types import TracebackType
from typing import Any, TypeVar

from cutplan.running.budget import Budget
from cutplan.running.jobs import InTurn, JobAsked, WorkerPool

Job = TypeVar("Job")
Done = TypeVar("Done")

GRACE = 1.0  # seconds that a job has to end once the budget is over
NO_PROCESSES = ("emscripten", "wasi")  # Python in a browser


class Workers(AbstractContextManager["Workers"]):
    """Work for one budget, on up to so many jobs at a time.

    A job that does not end once the budget has (a solver may not look up for long) is given up. What it handed on last
    is then its result; where that is nothing, it is done here, by a budget that is spent.
    """

    def __init__(self, budget: Budget, jobs: int) -> None:
        self.budget = budget
        self._pool = pool_for(budget, jobs)
        self.number = self._pool.number

    def each(self, work: Callable[[Job, Budget], Done], jobs: Sequence[Job], load: Callable[[Job], int],
             parts: Callable[[int], float], settle: Callable[[Job, Any], Done] | None = None,
             grace: Callable[[Job], float] = lambda job: GRACE) -> list[Done]:
        """`work` on every job, the heaviest by `load` first; its results in the order of the jobs.

        The k-th to begin may take one of parts(k) equal parts of the time left then, and `grace` seconds to end.
        `settle` makes a result of what it handed on before. Raises what a job raises.
        """
        order = sorted(range(len(jobs)), key=lambda k: -load(jobs[k]))
        keeps, gap = settle is not None, self.budget.gap
        waiting = deque(JobAsked(k, jobs[k], parts(n), keeps, grace(jobs[k]), gap) for n, k in enumerate(order))
        results = self._pool.run(self.budget, work, waiting, settle)
        return [results[k] for k in range(len(jobs))]

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self._pool.close(failed=kind is not None)


def pool_for(budget: Budget, jobs: int) -> WorkerPool:
    """The budget's own executor; else processes, where they help; else none.

    A forked process costs next to nothing and can be ended by force, so that even a lone job gets one.
    """
    if budget.workers is not None:
        from cutplan.running.executors import Submitted

        return Submitted(budget.workers, min(jobs, budget.at_once or cores()))
    refuse_reading_a_script()
    number = min(jobs, cores())
    if not can_start() or number < (1 if can_fork() else 2):
        return InTurn()
    from cutplan.running.processes import Processes

    return Processes(number, "fork" if can_fork() else "spawn")


def side_by_side(makers: Sequence[Callable[[], Done]]) -> list[Done]:
    """What each of them makes: the last here, the others each by a process that knows what is known here now.

    Where none can be forked they are made in turn: to tell a new process all it must know takes longer.
    """
    if not can_fork() or cores() == 1:
        return [make() for make in makers]
    from cutplan.running.processes import made_apart

    return made_apart(makers)


def can_start() -> bool:
    """Whether there can be processes; one that was itself started to work beside others starts none."""
    return sys.platform not in NO_PROCESSES and multiprocessing.parent_process() is None


def refuse_reading_a_script() -> None:
    """Raises RuntimeError in a process that is just being spawned: its caller's script, which it reads, came here."""
    if getattr(multiprocessing.current_process(), "_inheriting", False):  # as multiprocessing looks itself
        from cutplan.running.processes import UNGUARDED

        raise RuntimeError(UNGUARDED)


def can_fork() -> bool:
    """Elsewhere than on Linux a fork is not safe, or there is none."""
    return sys.platform == "linux" and can_start()


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
