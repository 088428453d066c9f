"""How long to go on: the time limit, a hand on the stop key, and word of progress."""

from __future__ import annotations

import time
from collections.abc import Callable


class Effort:
    """Counts the time since it was made. `limit` in seconds (None: no end); `stop()` ends it early."""

    def __init__(self, limit: float | None = None, tell: Callable[[str], None] | None = None) -> None:
        self._began = time.monotonic()
        self._limit = limit
        self._stopped = False
        self._tell = tell
        self._whole: Effort | None = None

    def stop(self) -> None:
        self._stopped = True

    def left(self) -> float:
        """Seconds left, never below zero."""
        if self._stopped or (self._whole is not None and self._whole._stopped):
            return 0.0
        if self._limit is None:
            return float("inf")
        return max(0.0, self._limit - (time.monotonic() - self._began))

    def spent(self) -> bool:
        return self.left() <= 0.0

    def share(self, parts: int) -> Effort:
        """An effort of its own for the next of so many equal parts of what is left; stopped along with this one."""
        left = self.left()
        part = Effort(None if left == float("inf") else left / parts, self._tell)
        part._whole = self
        return part

    def tell(self, text: str) -> None:
        if self._tell is not None:
            self._tell(text)
