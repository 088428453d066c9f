"""Several jobs side by side, one on each core: each in a process of its own, stopped and heard together."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, wait
from contextlib import AbstractContextManager
from types import TracebackType
from typing import Any, TypeVar

from cutplan.cutting.effort import Effort

Job = TypeVar("Job")
Done = TypeVar("Done")

HEAR = 0.05  # seconds between two looks at what the others say

_inherited: dict[str, Any] = {}  # what a process of the crew shares with the one that called it up


class Crew(AbstractContextManager["Crew"]):
    """Works for one effort. With one core, one job or no forking the jobs are done here, one after the other."""

    def __init__(self, effort: Effort, jobs: int) -> None:
        self.effort = effort
        self.hands = min(jobs, cores()) if sys.platform == "linux" else 1
        self._pool: ProcessPoolExecutor | None = None
        if self.hands > 1:
            context = multiprocessing.get_context("fork")
            self._halt, self._words = context.Event(), context.SimpleQueue()
            self._pool = ProcessPoolExecutor(self.hands, context, sign_on, (self._halt, self._words))

    def each(self, work: Callable[[Job, Effort], Done], jobs: Sequence[Job], load: Callable[[Job], int],
             parts: Callable[[int], int]) -> list[Done]:
        """`work` on every job, the heaviest by `load` first; its results in the order of the jobs.

        The k-th to begin may take one of parts(k) equal parts of the time left then.
        """
        order = sorted(range(len(jobs)), key=lambda k: -load(jobs[k]))
        if self._pool is None:
            results = [work(jobs[k], self.effort.share(parts(n))) for n, k in enumerate(order)]
        else:
            left = self.effort.left()
            ends = None if left == float("inf") else left + time.monotonic()
            futures = [self._pool.submit(begin, work, jobs[k], ends, parts(n)) for n, k in enumerate(order)]
            self._hear(futures)
            results = [future.result() for future in futures]
        return [result for _, result in sorted(zip(order, results, strict=True), key=lambda pair: pair[0])]

    def _hear(self, futures: Sequence[Future[Done]]) -> None:
        """Passes on what the others say, and the word to stop, until all are done."""
        working = True
        while working:
            working = bool(wait(futures, HEAR).not_done)
            if self.effort.stopped:
                self._halt.set()
            while not self._words.empty():
                self.effort.tell(self._words.get())

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        if self._pool is None:
            return
        if kind is not None:
            for process in multiprocessing.active_children():
                process.terminate()
        self._pool.shutdown(wait=kind is None, cancel_futures=True)


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def sign_on(halt: Any, words: Any) -> None:
    """In a process of the crew: the stop key is the caller's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _inherited.update(halt=halt, words=words)


def begin(work: Callable[[Job, Effort], Done], job: Job, ends: float | None, parts: int) -> Done:
    """In a process of the crew: one job, with its part of the time left. `ends` is on the clock all processes share."""
    left = None if ends is None else max(0.0, ends - time.monotonic())
    whole = Effort(left, _inherited["words"].put, _inherited["halt"])
    return work(job, whole.share(parts))
