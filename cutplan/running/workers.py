"""Several jobs side by side, one on each core: each in a process of its own, stopped and heard together.

A hand is a forked process that talks with its caller over one pipe: jobs come in, words and results go out. It never
writes to the caller's streams, leaves the stop key to the caller (the halt flag of the budget is in memory that both
see), and does not outlive it: an idle one reads the end of its pipe, a busy one is ended by the kernel.
"""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import sys
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection, wait
from types import TracebackType
from typing import Any, TypeVar

from cutplan.running.budget import LOOK, Budget, Keeper

Job = TypeVar("Job")
Done = TypeVar("Done")

PARENT_DIES = 1  # prctl's PR_SET_PDEATHSIG

# what a hand sends is one of these and a text, what there is so far, a result or an exception
SAYS, KEEPS, DONE, FAILED = "says", "keeps", "done", "failed"
GRACE = 1.0  # seconds that a hand has to end once the budget is over


class Crew(AbstractContextManager["Crew"]):
    """Works for one budget. Without forking the jobs are done here, one after the other.

    A hand that does not end once the budget has (a solver may not look up for long) is ended by force. What it handed
    on last is then its result; where that is nothing, the job is done here, by an budget that is spent.
    """

    def __init__(self, budget: Budget, jobs: int) -> None:
        self.budget = budget
        self.hands = min(jobs, cores()) if can_fork() else 1
        self._hands: list[Hand] = []
        if can_fork():
            for _ in range(self.hands):
                self._hire()

    def each(self, work: Callable[[Job, Budget], Done], jobs: Sequence[Job], load: Callable[[Job], int],
             parts: Callable[[int], int], settle: Callable[[Job, Any], Done] | None = None,
             grace: Callable[[Job], float] = lambda job: GRACE) -> list[Done]:
        """`work` on every job, the heaviest by `load` first; its results in the order of the jobs.

        The k-th to begin may take one of parts(k) equal parts of the time left then, and `grace` seconds to end.
        `settle` makes a result of what it handed on before.
        """
        order = sorted(range(len(jobs)), key=lambda k: -load(jobs[k]))
        if not self._hands:
            results = {k: work(jobs[k], self.budget.share(parts(n))) for n, k in enumerate(order)}
        else:
            asked = deque(Asked(k, jobs[k], parts(n), settle is not None, grace(jobs[k])) for n, k in enumerate(order))
            results = self._spread(work, asked, settle)
        return [results[k] for k in range(len(jobs))]

    def _spread(self, work: Callable[[Job, Budget], Done], waiting: deque[Asked],
                settle: Callable[[Job, Any], Done] | None) -> dict[int, Done]:
        """Hands out the jobs, and passes on what is said until all are done."""
        results: dict[int, Done] = {}
        busy: dict[Connection, Begun] = {}
        while waiting or busy:
            for one in self._hands:
                if waiting and one.pipe not in busy:
                    asked = waiting.popleft()
                    one.pipe.send((work, asked, self.budget.ends))
                    busy[one.pipe] = Begun(asked, one)
            ready = set(wait(list(busy), LOOK))
            for pipe, begun in [*busy.items()]:
                if pipe in ready:
                    what, content = hear(pipe)
                    if what == SAYS:
                        self.budget.tell(content)
                    elif what == KEEPS:
                        begun.so_far = content
                    elif what == FAILED:
                        raise content
                    else:
                        results[busy.pop(pipe).asked.number] = content
                elif begun.overdue(self.budget):
                    del busy[pipe]
                    self._end(begun.hand)
                    self._hire()
                    job, so_far = begun.asked.job, begun.so_far
                    results[begun.asked.number] = (
                        work(job, self.budget) if settle is None or so_far is None else settle(job, so_far))
        return results

    def _hire(self) -> None:
        pipe, process = hand(serve, (tuple(one.pipe for one in self._hands), self.budget))
        self._hands.append(Hand(pipe, process))

    def _end(self, one: Hand) -> None:
        self._hands.remove(one)
        one.process.kill()
        one.pipe.close()
        one.process.join()

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        for one in self._hands:
            one.pipe.close()  # an idle hand leaves
        for one in self._hands:
            if kind is not None:
                one.process.kill()  # a busy one leaves too, and can say nothing more
            one.process.join()


@dataclass(frozen=True)
class Hand:
    """A process of the crew, and our end of the pipe to it."""

    pipe: Connection
    process: Any


@dataclass(frozen=True)
class Asked:
    """A job, its number, its part of the time left, whether finds so far are wanted, and the seconds it has to end."""

    number: int
    job: Any
    parts: int
    keeps: bool
    grace: float


@dataclass
class Begun:
    """A job in a hand, what that has handed on so far, and since when it should have ended."""

    asked: Asked
    hand: Hand
    so_far: Any = None
    since: float | None = None

    def overdue(self, budget: Budget) -> bool:
        """Whether the budget has been over for so long since the job began that its hand will not end by itself."""
        if not budget.spent():
            return False
        now = time.monotonic()
        self.since = now if self.since is None else self.since
        return now > self.since + self.asked.grace


def hear(pipe: Connection) -> tuple[str, Any]:
    """The next that a hand sends."""
    try:
        what, content = pipe.recv()
    except (EOFError, ConnectionError):
        raise RuntimeError("a process that was working on the plan was ended from outside, "
                           "as happens where memory runs out") from None
    return what, content


def side_by_side(makers: Sequence[Callable[[], Done]]) -> list[Done]:
    """What each of them makes: the last here, the others each by a hand that knows what is known here now."""
    if not can_fork() or cores() == 1:
        return [make() for make in makers]
    hands = [hand(answered, (make,)) for make in makers[:-1]]
    try:
        here = [make() for make in makers[-1:]]
        said = [hear(pipe) for pipe, _ in hands]
    finally:
        for pipe, process in hands:
            pipe.close()
            process.join()
    for what, content in said:
        if what == FAILED:
            raise content
    return [content for _, content in said] + here


def hand(work: Callable[..., None], about: tuple[Any, ...]) -> tuple[Connection, Any]:
    """A new process at `work`, which gets its end of the pipe and what it is about; our end of the pipe, and it."""
    context = multiprocessing.get_context("fork")
    ours, theirs = context.Pipe()
    process = context.Process(target=alone, args=(work, ours, theirs, about), daemon=True)
    process.start()
    theirs.close()
    return ours, process


def can_fork() -> bool:
    """Whether there can be hands; a hand has none of its own."""
    return sys.platform == "linux" and multiprocessing.parent_process() is None


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def alone(work: Callable[..., None], callers: Connection, pipe: Connection, about: tuple[Any, ...]) -> None:
    """In a new process: `work`, and nothing of what its caller would do. The `callers` end of the pipe is his alone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with_parent()
    callers.close()
    with suppress(EOFError, OSError):  # the caller is gone, or needs nothing more
        work(pipe, *about)
    os._exit(0)  # what the caller has not flushed is not for this process to write


def serve(pipe: Connection, others: Sequence[Connection], budget: Budget) -> None:
    """In a process of the crew: one job after the other, as long as the caller is there.

    `others` are the caller's ends of pipes: held open here, they would hide that it is gone.
    """
    for other in others:
        other.close()
    mine = budget.saying(lambda text: pipe.send((SAYS, text)))
    while True:
        work, asked, ends = pipe.recv()
        keeper = Keeper(lambda found: pipe.send((KEEPS, found))) if asked.keeps else None
        answered(pipe, partial(work, asked.job, mine.until(ends).share(asked.parts).kept_by(keeper)))


def answered(pipe: Connection, make: Callable[[], Any]) -> None:
    """Sends what is made, or what went wrong in it."""
    try:
        said: tuple[str, Any] = DONE, make()
    except Exception as error:
        said = FAILED, error
    pipe.send(said)


def end_with_parent() -> None:
    """Asks the kernel to end this process when its parent ends, however that comes about."""
    parent = multiprocessing.parent_process()
    ctypes.CDLL(None).prctl(PARENT_DIES, signal.SIGKILL)
    if parent is None or os.getppid() != parent.pid:  # it was gone before it could be asked
        os._exit(0)
