"""How long to go on: the time limit, a hand on the stop key, and word of progress."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Protocol


class Halt(Protocol):
    """A flag that says stop, seen by all who share it."""

    def set(self) -> None: ...

    def is_set(self) -> bool: ...


class Effort:
    """Counts the time since it was made. `limit` in seconds (None: no end); `stop()` ends it early."""

    def __init__(self, limit: float | None = None, tell: Callable[[str], None] | None = None,
                 halt: Halt | None = None) -> None:
        self._end = None if limit is None else time.monotonic() + limit
        self._tell = tell
        self._halt = threading.Event() if halt is None else halt

    def stop(self) -> None:
        self._halt.set()

    @property
    def stopped(self) -> bool:
        return self._halt.is_set()

    def left(self) -> float:
        """Seconds left, never below zero."""
        if self._halt.is_set():
            return 0.0
        return float("inf") if self._end is None else max(0.0, self._end - time.monotonic())

    def spent(self) -> bool:
        return self.left() <= 0.0

    def share(self, parts: float) -> Effort:
        """An effort of its own for the next of so many equal parts of what is left; stopped along with this one."""
        left = self.left()
        return Effort(None if left == float("inf") else left / parts, self._tell, self._halt)

    def upto(self, share: float) -> Effort:
        """As `share`, for this part of what is left."""
        return self.share(1 / share)

    def quietly(self) -> Effort:
        """The same, saying nothing."""
        left = self.left()
        return Effort(None if left == float("inf") else left, None, self._halt)

    def tell(self, text: str) -> None:
        if self._tell is not None:
            self._tell(text)
