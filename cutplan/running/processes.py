"""Processes of our own: one on each core, forked where that is safe, else spawned.

A worker talks with its caller over one pipe: jobs and the stop come in, words and results go out. It never writes to
the caller's streams, leaves the stop key to the caller, and does not outlive it: on Linux the kernel ends it, elsewhere
it reads the end of its pipe.
"""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection, wait
from queue import SimpleQueue
from typing import Any, TypeVar

from cutplan.running.budget import LOOK, Budget, Halt, Keeper
from cutplan.running.jobs import Doing, JobAsked, Settle

Done = TypeVar("Done")

PARENT_DIES = 1  # prctl's PR_SET_PDEATHSIG

# what a worker sends is one of these and: nothing, a text, what there is so far, a result or an exception
BEGINS, SAYS, KEEPS, DONE, FAILED = "begins", "says", "keeps", "done", "failed"
# what it is sent is a job or one of these
STOP, LEAVE = "stop", "leave"

GONE = 1.0  # seconds until it is known how a process whose pipe has ended came to its own end

UNGUARDED = """each process that works beside this one reads the script again, and would begin the same work again.
Put what the script does below a line that is true only where it was started:

    if __name__ == "__main__":
        ..."""

STARTING = threading.Lock()  # a process that is forked meanwhile would hold a pipe's other end open


@dataclass
class Worker:
    """A process, our end of the pipe to it, whether it has begun to listen, and whether it knows of the stop."""

    pipe: Connection
    process: Any
    begun: bool = False
    stopped: bool = False

    def hear(self) -> tuple[str, Any]:
        """The next that it sends."""
        try:
            what, content = self.pipe.recv()
        except (EOFError, OSError):
            raise self.gone() from None
        self.begun = True
        return what, content

    def send(self, content: Any) -> None:
        try:
            self.pipe.send(content)
        except OSError:
            raise self.gone() from None

    def stop(self) -> None:
        if not self.stopped:
            self.stopped = True
            self.send(STOP)

    def gone(self) -> RuntimeError:
        """What is to be said of a process that is no longer there."""
        self.process.join(GONE)
        if self.begun or (self.process.exitcode or 0) < 0:  # by a signal
            return RuntimeError("a process that was working on the plan was ended from outside, "
                                "as happens where memory runs out")
        return RuntimeError(f"a process that was to work on the plan could not begin; most likely {UNGUARDED}")

    def end(self) -> None:
        """By force."""
        self.process.kill()
        self.pipe.close()
        self.process.join()


@dataclass
class BegunJob:
    """A job at a worker, what that has handed on so far, and since when it should have ended."""

    asked: JobAsked
    worker: Worker
    so_far: Any = None
    since: float | None = None

    def overdue(self, budget: Budget) -> bool:
        """Whether the budget has been over for so long since the job began that it will not end by itself."""
        if not budget.spent():
            return False
        now = time.monotonic()
        self.since = now if self.since is None else self.since
        return now > self.since + self.asked.grace


class Processes:
    """A pool of processes, started by this `method` of multiprocessing's."""

    def __init__(self, number: int, method: str) -> None:
        self.number, self.method = number, method
        self._workers = [start(method, serve) for _ in range(number)]

    def run(self, budget: Budget, work: Doing, waiting: deque[JobAsked], settle: Settle | None) -> dict[int, Any]:
        """Hands out the jobs, and passes on what is said until all are done; see Pool."""
        results: dict[int, Any] = {}
        busy: dict[Connection, BegunJob] = {}
        while waiting or busy:
            for worker in self._workers:
                if budget.stopped:
                    worker.stop()
                if waiting and worker.pipe not in busy:
                    asked = waiting.popleft()
                    worker.send((work, asked, budget.ends))
                    busy[worker.pipe] = BegunJob(asked, worker)
            ready = set(wait(list(busy), LOOK))
            for pipe, begun in [*busy.items()]:
                if pipe in ready:
                    what, content = begun.worker.hear()
                    if what == SAYS:
                        budget.tell(content)
                    elif what == KEEPS:
                        begun.so_far = content
                    elif what == FAILED:
                        raise content
                    elif what == DONE:
                        results[busy.pop(pipe).asked.number] = content
                elif begun.overdue(budget):
                    del busy[pipe]
                    self._replace(begun.worker)
                    job, so_far = begun.asked.job, begun.so_far
                    results[begun.asked.number] = (
                        work(job, budget) if settle is None or so_far is None else settle(job, so_far))
        return results

    def _replace(self, worker: Worker) -> None:
        self._workers.remove(worker)
        worker.end()
        self._workers.append(start(self.method, serve))

    def close(self, *, failed: bool) -> None:
        for worker in self._workers:
            if failed:
                worker.process.kill()  # it may be busy, and can say nothing more
            with suppress(OSError):
                worker.pipe.send(LEAVE)
            worker.pipe.close()
        for worker in self._workers:
            worker.process.join()


def made_apart(makers: Sequence[Callable[[], Done]]) -> list[Done]:
    """What each of them makes: the last here, the others each by a forked process."""
    workers = [start("fork", answered, make) for make in makers[:-1]]
    try:
        here = [make() for make in makers[-1:]]
        said = [worker.hear() for worker in workers]
    finally:
        for worker in workers:
            worker.pipe.close()
            worker.process.join()
    for what, content in said:
        if what == FAILED:
            raise content
    return [content for _, content in said] + here


def start(method: str, work: Callable[..., None], *about: Any) -> Worker:
    """A new process at `work`, which gets its end of a pipe and what it is about."""
    context: Any = multiprocessing.get_context(method)
    with STARTING, no_stop_key():
        ours, theirs = context.Pipe()
        callers = ours if method == "fork" else None  # a spawned process has no part in what its caller has open
        process = context.Process(target=alone, args=(work, callers, theirs, about), daemon=True)
        process.start()
        theirs.close()
    return Worker(ours, process)


@contextmanager
def no_stop_key() -> Iterator[None]:
    """While this lasts the stop key waits: a terminal tells every process of it, also one too new to ignore it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


# ---- in the new process ----


def alone(work: Callable[..., None], callers: Connection | None, pipe: Connection, about: tuple[Any, ...]) -> None:
    """`work`, and nothing of what the caller would do. The `callers` end of the pipe is his alone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    if callers is not None:
        callers.close()
    if sys.platform == "linux":
        end_with_parent()
    with suppress(EOFError, OSError):  # the caller is gone, or needs nothing more
        work(pipe, *about)
    os._exit(0)  # what the caller has not flushed is not for this process to write


def serve(pipe: Connection) -> None:
    """One job after the other, as long as the caller is there and wants more."""
    jobs: SimpleQueue[Any] = SimpleQueue()
    halt = Halt()
    threading.Thread(target=listen, args=(pipe, halt, jobs.put), daemon=True).start()
    pipe.send((BEGINS, None))
    while (found := jobs.get()) != LEAVE:
        if isinstance(found, Exception):
            pipe.send((FAILED, found))
            continue
        work, asked, ends = found
        whole = Budget(None, lambda text: pipe.send((SAYS, text)), gap=asked.gap, halt=halt).until(ends)
        budget = whole.share(asked.parts)
        keeper = Keeper(lambda found: pipe.send((KEEPS, found))) if asked.keeps else None
        answered(pipe, partial(work, asked.job, budget.kept_by(keeper)))


def listen(pipe: Connection, halt: Halt, take: Callable[[Any], None]) -> None:
    """Takes what the caller sends, even while a job is being done."""
    while True:
        try:
            found = pipe.recv()
        except (EOFError, OSError):  # the caller is gone
            os._exit(0)
        except Exception as error:  # a job that cannot be read here
            found = error
        if found == STOP:
            halt.set()
        else:
            take(found)


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
