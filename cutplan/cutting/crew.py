"""Several jobs side by side, one on each core: each in a process of its own, stopped and heard together.

A hand is a forked process that talks with its caller over one pipe: jobs come in, words and results go out. It never
writes to the caller's streams, leaves the stop key to the caller (the halt flag of the effort is in memory that both
see), and does not outlive it: an idle one reads the end of its pipe, a busy one is ended by the kernel.
"""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import sys
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, suppress
from functools import partial
from multiprocessing.connection import Connection, wait
from types import TracebackType
from typing import Any, TypeVar

from cutplan.cutting.effort import Effort

Job = TypeVar("Job")
Done = TypeVar("Done")

PARENT_DIES = 1  # prctl's PR_SET_PDEATHSIG

SAYS, DONE, FAILED = "says", "done", "failed"  # what a hand sends is one of these and a text, a result or an exception


class Crew(AbstractContextManager["Crew"]):
    """Works for one effort. With one core, one job or no forking the jobs are done here, one after the other."""

    def __init__(self, effort: Effort, jobs: int) -> None:
        self.effort = effort
        self.hands = min(jobs, cores()) if sys.platform == "linux" else 1
        self._pipes: list[Connection] = []
        self._processes: list[Any] = []
        if self.hands > 1:
            for _ in range(self.hands):
                pipe, process = hand(serve, (tuple(self._pipes), self.effort))
                self._pipes.append(pipe)
                self._processes.append(process)

    def each(self, work: Callable[[Job, Effort], Done], jobs: Sequence[Job], load: Callable[[Job], int],
             parts: Callable[[int], int]) -> list[Done]:
        """`work` on every job, the heaviest by `load` first; its results in the order of the jobs.

        The k-th to begin may take one of parts(k) equal parts of the time left then.
        """
        order = sorted(range(len(jobs)), key=lambda k: -load(jobs[k]))
        if not self._pipes:
            results = {k: work(jobs[k], self.effort.share(parts(n))) for n, k in enumerate(order)}
        else:
            results = self._spread(work, jobs, deque((k, parts(n)) for n, k in enumerate(order)))
        return [results[k] for k in range(len(jobs))]

    def _spread(self, work: Callable[[Job, Effort], Done], jobs: Sequence[Job], waiting: deque[tuple[int, int]]
                ) -> dict[int, Done]:
        """Hands out the jobs (number, parts), and passes on what is said until all are done."""
        results: dict[int, Done] = {}
        idle, busy = deque(self._pipes), dict[Connection, int]()
        while waiting or busy:
            while waiting and idle:
                pipe, (k, parts) = idle.popleft(), waiting.popleft()
                pipe.send((work, jobs[k], self.effort.ends, parts))
                busy[pipe] = k
            ready = set(wait(list(busy)))
            for pipe in [pipe for pipe in busy if pipe in ready]:
                what, content = hear(pipe)
                if what == SAYS:
                    self.effort.tell(content)
                    continue
                if what == FAILED:
                    raise content
                results[busy.pop(pipe)] = content
                idle.append(pipe)
        return results

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        for pipe in self._pipes:
            pipe.close()  # an idle hand leaves
        for process in self._processes:
            if kind is not None:
                process.kill()  # a busy one leaves too, and can say nothing more
            process.join()


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
    if sys.platform != "linux" or cores() == 1:
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


def serve(pipe: Connection, others: Sequence[Connection], effort: Effort) -> None:
    """In a process of the crew: one job after the other, as long as the caller is there.

    `others` are the caller's ends of pipes: held open here, they would hide that it is gone.
    """
    for other in others:
        other.close()
    while True:
        work, job, ends, parts = pipe.recv()
        own = Effort.until(ends, lambda text: pipe.send((SAYS, text)), effort.halt).share(parts)
        answered(pipe, partial(work, job, own))


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
