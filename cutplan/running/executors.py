"""Jobs handed to any `concurrent.futures.Executor`: threads, a pool of processes, a cluster.

Of those who work there nothing is known but that they take what can be pickled and give a result. So a job carries its
own time limit; what stops it sooner is a word in a file, where it can see that file at all.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from cutplan.running.budget import LOOK, Budget, Halt
from cutplan.running.jobs import Doing, JobAsked, Settle

ON_ITS_WAY = 3.0  # seconds more than a process of our own has to end: a result may come from afar


class Submitted:
    """An executor that someone else made, and will shut down; `number` of its workers are at work at a time.

    A result may be `on_its_way` so many seconds after its job's end.
    """

    def __init__(self, executor: Executor, number: int, on_its_way: float = ON_ITS_WAY) -> None:
        self.executor, self.number, self.on_its_way = executor, number, on_its_way
        self._file = begun_file()

    def run(self, budget: Budget, work: Doing, waiting: deque[JobAsked], settle: Settle | None) -> dict[int, Any]:
        """See Pool. What is found on the way stays there: a job that is given up is done here, by a spent budget."""
        jobs = {asked.number: asked for asked in waiting}
        futures: dict[Future[Any], int] = {
            self.executor.submit(done_there, Sent(work, asked, JobLimit.of(budget), self._file)): asked.number
            for asked in waiting}
        results: dict[int, Any] = {}
        since: float | None = None
        try:
            while futures:
                for future in wait(futures, LOOK, FIRST_COMPLETED).done:
                    results[futures.pop(future)] = future.result()
                    if futures:
                        budget.tell(f"{len(results)} of {len(jobs)} parts of the work are done")
                if budget.stopped:
                    self._stop()
                if futures and budget.spent():
                    since = since or time.monotonic()
                    late = [future for future, k in futures.items()
                            if time.monotonic() > since + jobs[k].grace + self.on_its_way]
                    for future in late:
                        future.cancel()
                        asked = jobs[futures.pop(future)]
                        results[asked.number] = work(asked.job, budget)
        finally:
            for future in futures:
                future.cancel()
        return results

    def _stop(self) -> None:
        if going_on(self._file):  # once: to write it again would empty it for a moment
            with suppress(OSError), open(self._file, "a", encoding="utf-8") as file:
                file.write("stop")

    def close(self, *, failed: bool) -> None:
        with suppress(OSError):
            os.remove(self._file)


def begun_file() -> str:
    """A new file, empty and there as long as the work shall go on; no name where none can be written."""
    try:
        handle, path = tempfile.mkstemp(prefix="cutplan-", suffix=".going")
    except OSError:
        return ""
    os.close(handle)
    return path


@dataclass(frozen=True)
class JobLimit:
    """When a job must end: by the clock on the wall, and for a machine whose clock is slow, so long after it began."""

    ends: float
    seconds: float

    @classmethod
    def of(cls, budget: Budget) -> JobLimit:
        return cls(time.time() + budget.left(), budget.left())

    def left(self) -> float:
        return max(0.0, min(self.seconds, self.ends - time.time()))


@dataclass(frozen=True)
class Sent:
    """All that someone elsewhere needs to do a job."""

    work: Callable[[Any, Budget], Any]
    asked: JobAsked
    limit: JobLimit
    file: str


class Watch(Halt):
    """Says stop once a file that was there at first is empty no more or gone; looks no more often than need be."""

    def __init__(self, path: str) -> None:
        super().__init__()
        self._path, self._next = path if os.path.exists(path) else "", 0.0

    def is_set(self) -> bool:
        if self._path and not super().is_set() and (now := time.monotonic()) >= self._next:
            self._next = now + LOOK
            if not going_on(self._path):
                self.set()
        return super().is_set()


def going_on(path: str) -> bool:
    try:
        return not os.path.getsize(path)
    except OSError:
        return False


def done_there(sent: Sent) -> Any:
    """In the executor: the job, within its limit."""
    budget = Budget(sent.limit.left(), gap=sent.asked.gap, halt=Watch(sent.file)).share(sent.asked.parts)
    return sent.work(sent.asked.job, budget)
