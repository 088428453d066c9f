"""How long to go on: the time limit, a hand on the stop key, and word of progress.

One effort is made where a command begins, counted from when its files are read, and passed down whole; parts of it
share its stop key.
"""

from __future__ import annotations

import mmap
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

FOREVER = float("inf")
LOOK = 0.1  # seconds between two looks at the stop key while a solver runs


class Halt:
    """A flag that says stop, seen by all who share it: this process, and those forked from it."""

    def __init__(self) -> None:
        self._byte = mmap.mmap(-1, 1)

    def set(self) -> None:
        self._byte[0] = 1

    def is_set(self) -> bool:
        return bool(self._byte[0])


class Effort:
    """Counts the time since it was made. `limit` in seconds (None: no end); `stop()` ends it early.

    `ends` is on the monotonic clock, which all processes share.
    """

    def __init__(self, limit: float | None = None, tell: Callable[[str], None] | None = None,
                 halt: Halt | None = None) -> None:
        self.ends = FOREVER if limit is None else time.monotonic() + limit
        self.halt = halt or Halt()
        self._tell = tell

    @classmethod
    def until(cls, ends: float, tell: Callable[[str], None] | None, halt: Halt) -> Effort:
        """One that ends at a time of the clock."""
        effort = cls(None, tell, halt)
        effort.ends = ends
        return effort

    def stop(self) -> None:
        self.halt.set()

    @property
    def stopped(self) -> bool:
        return self.halt.is_set()

    def left(self) -> float:
        """Seconds left, never below zero."""
        if self.halt.is_set():
            return 0.0
        return max(0.0, self.ends - time.monotonic()) if self.ends < FOREVER else FOREVER

    def spent(self) -> bool:
        return self.left() <= 0.0

    def share(self, parts: float) -> Effort:
        """An effort of its own for the next of so many equal parts of what is left; stopped along with this one."""
        now = time.monotonic()
        return Effort.until(now + max(0.0, self.ends - now) / parts, self._tell, self.halt)

    def upto(self, share: float) -> Effort:
        """As `share`, for this part of what is left."""
        return self.share(1 / share)

    def before(self, seconds: float) -> Effort:
        """One that ends so long before this."""
        return Effort.until(self.ends - seconds, self._tell, self.halt)

    def quietly(self) -> Effort:
        """The same, saying nothing."""
        return Effort.until(self.ends, None, self.halt)

    def saying(self, before: str) -> Effort:
        """The same, whose words begin so."""
        return Effort.until(self.ends, lambda text: self.tell(before + text), self.halt)

    def tell(self, text: str) -> None:
        if self._tell is not None:
            self._tell(text)


@contextmanager
def stoppable(effort: Effort) -> Iterator[None]:
    """While this lasts the stop key ends the effort, not the program; a second stroke ends the program.

    Within another of the same effort nothing changes.
    """
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or getattr(before, "halt", None) is effort.halt:
        yield
        return

    def stop(signum: int, frame: Any) -> None:
        effort.stop()
        signal.signal(signal.SIGINT, before)

    stop.halt = effort.halt  # type: ignore[attr-defined]
    signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def watched(effort: Effort, stop: Callable[[], None]) -> Iterator[None]:
    """While this lasts, `stop` is called once the effort is stopped: for a solver that looks at no effort itself."""
    done = threading.Event()

    def watch() -> None:
        while not done.wait(LOOK):
            if effort.stopped:
                stop()  # again and again: it may not have begun yet

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()
