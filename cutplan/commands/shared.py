"""What all commands share: how their files are checked, and how they answer."""

from __future__ import annotations

import io
import math
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated, ClassVar

import typer

from cutplan.printable import printable

if TYPE_CHECKING:
    from cutplan.problems import Problem
    from cutplan.running.budget import Budget

STDOUT = "-"
STOPPED = 128 + signal.SIGINT  # the exit status of what the stop key ended, as shells have it
QUIET = 1.0  # seconds between two lines of progress, and before the first
LONGEST_JOB = 100  # letters: a name for people to write again
BEGINNING = "at work"  # until a search has more to say

FromRack = Annotated[
    str | None, typer.Option("--rack", metavar="FILE", help="Use the offcuts and the counted sticks of this rack.")
]
Json = Annotated[str | None, typer.Option(metavar="FILE", help="Write it to FILE as JSON; - prints.")]
Csv = Annotated[str | None, typer.Option(metavar="FILE", help="Write it to FILE for a spreadsheet; - prints.")]
Xlsx = Annotated[str | None, typer.Option(metavar="FILE", help="Write it to FILE as a workbook; - prints.")]
JobName = Annotated[
    str | None, typer.Option("--job", metavar="NAME", help="The job it is for, by which its bid and its plans are "
                                                       "known to belong together.")
]
Store = Annotated[str | None, typer.Option("--store", metavar="FILE", help="The store of bids and finished plans.")]
ShopFile = Annotated[str, typer.Option("--shop", metavar="SHOP", help="Shop file: saw, profiles, systems.")]


# ---- words in ----


def with_stock(shop: str | None) -> list[str]:
    """A shop file and, where it names one, the list of its stock: both are read."""
    from cutplan.shop.stock_list import list_of_shop

    return [] if shop is None else list(filter(None, (shop, list_of_shop(shop))))


class Files:
    """The files that a command was given: the one way to write any, so that none is forgotten (see clashes).

    reads:    files it only reads
    keeps:    files it changes in place: the rack, the store of bids
    outputs:  what it writes, by option; None is not asked for, and - is standard output, which takes one thing
    folders:  folders that it fills, each new or empty; None is not asked for
    """

    def __init__(self, reads: Sequence[str | None], keeps: Sequence[str | None] = (),
                 outputs: Mapping[str, str | None] | None = None, folders: Sequence[str | None] = ()) -> None:
        from cutplan.workbooks import file_of

        outputs = outputs or {}
        alone = [option for option, target in outputs.items() if target == STDOUT]
        if len(alone) > 1:
            which = "both" if len(alone) == 2 else "all"
            told = f"{', '.join(alone[:-1])} and {alone[-1]} cannot {which} be {STDOUT}"
            raise typer.BadParameter(f"{told}; only one can, give the others a file")
        self.reads = [file_of(path) for path in reads if path is not None]
        self.keeps = [path for path in keeps if path is not None]
        self.outputs = {option: target for option, target in outputs.items() if target not in (None, STDOUT)}
        self.folders = [path for path in folders if path is not None]

    def problems(self) -> list[Problem]:
        """Why they cannot be used together, or an output not be written: known before any long work."""
        from cutplan.clashes import Named, clashes
        from cutplan.rack import USUAL_RACK
        from cutplan.rack.wanted import lost

        found = clashes(Named(self.reads, self.keeps, self.outputs, self.folders))
        return found or [problem for target in self.outputs.values() for problem in lost(target, self.keeps or
                                                                                         [USUAL_RACK])]

    def refuse(self) -> None:
        """InputProblems for what is wrong with them."""
        from cutplan.problems import InputProblems

        if problems := self.problems():
            raise InputProblems(problems)

    def deliver(self, texts: Mapping[str, str | bytes], table: str,
                filled: Mapping[str, Mapping[str, str | bytes]] | None = None) -> None:
        """Writes the outputs, by target, then prints: what was asked for on standard output, alone, else the table.

        `filled` are the texts of each folder, by name.
        """
        self.write({target: text for target, text in texts.items() if target != STDOUT}, filled)
        self.print(texts, table)

    def write(self, texts: Mapping[str, str | bytes],
              filled: Mapping[str, Mapping[str, str | bytes]] | None = None) -> None:
        """Writes files among the outputs, all of them or none, and fills folders."""
        from cutplan.files import write_in_new, write_whole

        assert set(texts) <= set(self.outputs.values()), "nothing is written that was not checked"
        assert set(filled or {}) <= set(self.folders), "nothing is written that was not checked"
        self.refuse()  # again: links may have been laid since
        for folder, inside in (filled or {}).items():
            if inside:
                write_in_new(folder, inside)
            else:
                tell(f"{folder}: there is nothing to write in it, so it was not made")
        write_whole(texts)

    def print(self, texts: Mapping[str, str | bytes], table: str) -> None:
        """Prints what of the outputs was asked for on standard output, alone, else the table."""
        show(texts.get(STDOUT, table + "\n"), exactly=STDOUT in texts)


def check_limit(limit: float) -> None:
    if not limit > 0:
        raise typer.BadParameter(f"--limit {limit:g} leaves no time; more than 0 seconds is needed")


def job_called(name: str | None) -> str:
    """A job's name as it is written down, on one line; "" where none is given."""
    from cutplan.printable import can_be_printed

    if name is None:
        return ""
    tidy = " ".join(name.split())
    if not tidy or len(tidy) > LONGEST_JOB or not can_be_printed(tidy):
        raise typer.BadParameter(f"--job takes a name of 1 to {LONGEST_JOB} letters that can be printed")
    return tidy


# ---- words out ----


def asked_for(*outputs: tuple[str | None, Callable[[], str | bytes]]) -> dict[str, str | bytes]:
    """What is in the files that were asked for: each output is its target, if any, and what makes it."""
    return {target: make() for target, make in outputs if target}


def show(text: str | bytes, exactly: bool = False) -> None:
    """Prints on standard output, `exactly` and in UTF-8 for other programs. InputProblems if it is full."""
    from cutplan.problems import InputProblems, Problem
    from cutplan.streams import hush

    for progress in Progress.telling:
        progress.end()
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8" if exactly else None, errors="replace")
    try:
        if isinstance(text, bytes):
            sys.stdout.buffer.write(text)
        else:
            sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        hush(sys.stdout)
        if not isinstance(error, BrokenPipeError):  # a reader that has seen enough is no fault
            why = f"cannot be written ({error.strerror}); give it a place with room"
            raise InputProblems([Problem("standard output", 1, "file", why)]) from None


def tell(text: str) -> None:
    """Says something beside the result, where anybody listens."""
    from cutplan.streams import hush

    try:
        print(printable(text), file=sys.stderr, flush=True)
    except OSError:
        hush(sys.stderr)


class Progress:
    """Says the last that it was called with, once a second and never in the first; the first word within two.

    On a terminal that is one line that is written over, with the time that is left; elsewhere a line for each.
    """

    telling: ClassVar[list[Progress]] = []  # those that have a line on the terminal, which a result must not meet

    def __init__(self, left: Callable[[], float] | None = None, quiet: float = QUIET) -> None:
        self._quiet = quiet
        self._left = left or (lambda: math.inf)
        self._text, self._said = BEGINNING, ""
        self._ended = threading.Event()
        self._teller = threading.Thread(target=self._go_on, daemon=True)

    def __call__(self, text: str) -> None:
        self._text = text

    def __enter__(self) -> Progress:
        Progress.telling.append(self)
        self._teller.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.end()
        Progress.telling.remove(self)

    def end(self) -> None:
        """Says no more, and takes the line away."""
        self._ended.set()
        self._teller.join()

    def _go_on(self) -> None:
        if self._ended.wait(self._quiet):
            return
        if sys.stderr is not None and sys.stderr.isatty():
            self._on_one_line()
            return
        while True:
            if self._text != self._said:
                self._said = self._text
                tell(self._said)
            if self._ended.wait(self._quiet):
                return

    def _on_one_line(self) -> None:
        """With rich, which takes the line away at the end, and leaves colour out where NO_COLOR is set."""
        from rich.console import Console
        from rich.live import Live
        from rich.text import Text

        console = Console(stderr=True)
        with Live(console=console, auto_refresh=False, transient=True, redirect_stdout=False) as live:
            while True:
                seconds = self._left()
                left = "" if math.isinf(seconds) else f"{math.ceil(seconds)} s left; "
                line = Text(left + printable(self._text))
                line.truncate(console.width - 1, overflow="ellipsis")
                live.update(line, refresh=True)
                if self._ended.wait(self._quiet):
                    return


@contextmanager
def patiently(text: str) -> Iterator[None]:
    """Says this once what is done meanwhile takes long."""
    later = threading.Timer(QUIET, tell, [text])
    later.daemon = True
    later.start()
    try:
        yield
    finally:
        later.cancel()


@contextmanager
def going(limit: float) -> Iterator[Budget]:
    """The one budget of a command, counted from here: its files are read. The stop key ends it.

    Raises KeyboardInterrupt where that key, and not the limit, left nothing found.
    """
    from cutplan.problems import OutOfTime
    from cutplan.running.budget import Budget, stoppable

    budget = Budget(limit)
    try:
        with Progress(budget.left) as progress, stoppable(budget):
            yield budget.saying(progress)
    except OutOfTime:
        if budget.stopped:
            raise KeyboardInterrupt from None
        raise


@contextmanager
def plainly() -> Iterator[None]:
    """Turns what goes wrong into lines on standard error and an exit status."""
    from cutplan.problems import FailedAudit, InputProblems, NoPlan

    before = signal.getsignal(signal.SIGINT)
    if before is signal.SIG_DFL:  # see cutplan.__main__
        signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    except InputProblems as wrong:
        tell(str(wrong))
        raise typer.Exit(2) from None
    except NoPlan as none:
        tell(str(none))
        raise typer.Exit(3) from None
    except FailedAudit as failed:  # a fault of cutplan's own
        tell(str(failed))
        raise typer.Exit(1) from None
    except KeyboardInterrupt:
        tell("stopped before there was anything to show")
        raise typer.Exit(STOPPED) from None
    finally:
        if before is signal.SIG_DFL:
            signal.signal(signal.SIGINT, before)
