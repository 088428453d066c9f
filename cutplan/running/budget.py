"""How long to go on: the time limit, the stop key, and word of progress.

One budget is made where a command begins, counted from when its files are read, and passed down whole; parts of it
share its stop key.
"""

from __future__ import annotations

import copy
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from cutplan.callers import admit, no_listener

if TYPE_CHECKING:
    from concurrent.futures import Executor

FOREVER = float("inf")
LOOK = 0.1  # seconds between two looks at the stop key while a solver runs
SELDOM, DEAR = 0.5, 20  # seconds between two times that finds are handed on, and how often what that takes at least


class Halt:
    """A flag that says stop, seen by all parts of a budget."""

    def __init__(self) -> None:
        self._set = False

    def set(self) -> None:
        self._set = True

    def is_set(self) -> bool:
        return self._set


class Work:
    """How much work may be done yet; what is counted here counts for the `whole`, too, that this is part of."""

    def __init__(self, left: int, whole: Work | None = None) -> None:
        self._left, self._whole = left, whole

    def count(self) -> None:
        self._left -= 1
        if self._whole is not None:
            self._whole.count()

    def done(self) -> bool:
        return self._left <= 0 or (self._whole is not None and self._whole.done())

    def share(self, parts: float) -> Work:
        return Work(int(self._left // parts), self)


class Budget:
    """How long a search may go on; its time counts from when it is made. `stop()`, from any thread, ends it early.

    Parameters
    ----------
    seconds
        None: no end.
    progress
        Called with each word of progress.
    workers
        Who does what can be done side by side: any executor, which stays the caller's to shut down. None: processes,
        one for each core of this machine.
    gap
        The gap between a plan and its proven bound that is enough, as a share of the plan's value: "0.5%" or
        Fraction(1, 200). A tier's search ends once it is reached. None: only a proven plan is.
    at_once
        How many jobs those `workers` do at a time, which no executor says. The time is divided among the jobs
        accordingly. None: taken for the number of cores of this machine.
    halt
        A stop that is shared with other budgets.

    Raises
    ------
    InputProblems
        For seconds, a gap, workers or a listener that cannot be meant, with the script's line and the argument.
    """

    def __init__(self, seconds: float | None = None, progress: Callable[[str], None] | None = None,
                 workers: Executor | None = None, gap: str | Fraction | None = None, halt: Halt | None = None,
                 at_once: int | None = None) -> None:
        near, no_share = (Fraction(0), "") if gap is None else read_share(gap)
        admit(seconds=no_time(seconds, "a number, 0 or more", zero_ok=True), gap=no_share,
              progress=no_listener(progress), workers=no_workers(workers), at_once=no_number_of_jobs(at_once),
              halt="" if halt is None or isinstance(halt, Halt) else f"{halt!r} is no Halt; give another budget's halt")
        self.ends = FOREVER if seconds is None else time.monotonic() + seconds  # on the clock that all processes share
        self.gap = near
        self.workers, self.at_once = workers, at_once
        self.halt = halt or Halt()
        self._tell = progress
        self._keeper: Keeper | None = None
        self._work: Work | None = None

    def until(self, ends: float) -> Budget:
        """One that ends at a time of the clock."""
        part = copy.copy(self)
        part.ends = ends
        return part

    def stop(self) -> None:
        self.halt.set()

    def enough(self, value: int, bound: int) -> bool:
        """Whether a plan of this value is near enough to what is proven."""
        return bound >= value or (self.gap > 0 and value - bound <= self.gap * value)

    @property
    def stopped(self) -> bool:
        return self.halt.is_set()

    def left(self) -> float:
        """Seconds left, never below zero."""
        if self.halt.is_set() or (self._work is not None and self._work.done()):
            return 0.0
        return max(0.0, self.ends - time.monotonic()) if self.ends < FOREVER else FOREVER

    def spent(self) -> bool:
        return self.left() <= 0.0

    def within(self, work: int) -> Budget:
        """One that ends, at the latest, when so much work is counted: on any machine at the same point."""
        part = copy.copy(self)
        part._work = Work(work, self._work)
        return part

    def count(self) -> None:
        """One piece of work is done: patterns priced for some duals, a node of a search, a look for a plan by MIP."""
        if self._work is not None:
            self._work.count()

    def share(self, parts: float) -> Budget:
        """A budget of its own for the next of so many equal parts of what is left; stopped along with this one."""
        now = time.monotonic()
        part = self.until(now + max(0.0, self.ends - now) / parts)
        part._work = self._work and self._work.share(parts)
        return part

    def upto(self, share: float) -> Budget:
        """As `share`, for this part of what is left."""
        return self.share(1 / share)

    def before(self, seconds: float) -> Budget:
        """One that ends so long before this."""
        return self.until(self.ends - seconds)

    def quietly(self) -> Budget:
        """The same, saying nothing."""
        return self.saying(None)

    def beginning(self, before: str) -> Budget:
        """The same, whose words begin so."""
        return self.saying(lambda text: self.tell(before + text))

    def saying(self, tell: Callable[[str], None] | None) -> Budget:
        """The same, whose words go there."""
        part = copy.copy(self)
        part._tell = tell
        return part

    def tell(self, text: str) -> None:
        if self._tell is not None:
            self._tell(text)

    def kept_by(self, keeper: Keeper | None) -> Budget:
        """The same, whose finds so far go to this keeper."""
        part = copy.copy(self)
        part._keeper = keeper
        return part

    def keep(self, find: Callable[[], Any]) -> None:
        """Hands on what there is so far, should this have to be ended by force: where there is a keeper, and seldom."""
        if self._keeper is not None:
            self._keeper.offered(find)


def no_time(seconds: object, right: str, *, zero_ok: bool) -> str:
    """What is wrong with what is to be seconds to go on for (None: no end), with what would be `right`."""
    number = isinstance(seconds, int | float) and not isinstance(seconds, bool)
    sound = seconds is None or (number and (seconds > 0 or (zero_ok and seconds == 0)))  # type: ignore[operator]
    return "" if sound else f"{seconds!r} is no time; give {right}"


def no_workers(workers: object) -> str:
    """What is wrong with what is to do the work."""
    sound = workers is None or callable(getattr(workers, "submit", None))
    return "" if sound else f"{workers!r} is no executor; give a concurrent.futures.Executor, or None for all cores"


def no_number_of_jobs(at_once: object) -> str:
    sound = at_once is None or (isinstance(at_once, int) and not isinstance(at_once, bool) and at_once >= 1)
    return "" if sound else f"{at_once!r} is no number of jobs; give 1 or more"


def read_share(text: object) -> tuple[Fraction, str]:
    """A share, 0 % or more and less than 100 %, exactly; and what is wrong with it, else ""."""
    right = 'write a share such as "0.5%" or Fraction(1, 200)'
    if isinstance(text, float):
        return Fraction(0), f"is the float {text!r}, which is not exact; {right}"
    try:
        said = str(text).strip()
        share = Fraction(said.removesuffix("%")) / (100 if said.endswith("%") else 1)
    except (ValueError, ZeroDivisionError):
        share = Fraction(-1)
    return share, "" if 0 <= share < 1 else f"{text!r} is no share from 0 % to less than 100 %; {right}"


class Keeper:
    """Takes what there is so far, for use if nothing better comes in time; the longer that takes the more seldom."""

    def __init__(self, take: Callable[[Any], None]) -> None:
        self._take, self._next = take, 0.0

    def offered(self, find: Callable[[], Any]) -> None:
        if (began := time.monotonic()) >= self._next:
            self._take(find())
            now = time.monotonic()
            self._next = now + max(SELDOM, DEAR * (now - began))


@contextmanager
def stoppable(budget: Budget) -> Iterator[None]:
    """While this lasts the stop key ends the budget, not the program; a second stroke ends the program.

    For commands: whoever calls from Python keeps the key. In a thread, which gets no signals, it does nothing.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.getsignal(signal.SIGINT)

    def stop(signum: int, frame: Any) -> None:
        budget.stop()
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def watched(budget: Budget, stop: Callable[[], None]) -> Iterator[None]:
    """While this lasts, `stop` is called once the budget is stopped: for a solver that looks at no budget itself."""
    done = threading.Event()

    def watch() -> None:
        while not done.wait(LOOK):
            if budget.stopped:
                stop()  # again and again: it may not have begun yet

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()
