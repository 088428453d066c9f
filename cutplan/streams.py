"""The standard streams as a shell may leave them: closed, full, or left by whoever read them."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import TextIO

MODES = {"stdin": "r", "stdout": "w", "stderr": "w"}


def fill_in() -> None:
    """Opens the null device where a stream is closed: no file or pipe gets its number, and writing to it is no fault.

    Before any file is opened.
    """
    for number, (name, mode) in enumerate(MODES.items()):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number, which is this one
        if getattr(sys, name) is None:
            setattr(sys, name, open(number, mode, encoding="utf-8", errors="replace", closefd=False))  # noqa: SIM115


def keep_apart() -> None:
    """What we print goes out by a number of its own, as ever; what a solver's library writes to number 1 goes nowhere.

    After `fill_in`. HiGHS has been seen to write a line there now and then, in the middle of somebody's CSV.
    """
    out = sys.stdout
    out.flush()
    number = os.dup(out.fileno())
    hush(out)
    sys.stdout = open(number, "w", encoding=out.encoding, errors=out.errors)  # noqa: SIM115


def hush(stream: TextIO) -> None:
    """Sends what is still to be flushed, and all that follows, nowhere."""
    with suppress(OSError, ValueError):  # ValueError: not a stream of the system's
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def let_go() -> None:
    """Before the program ends: what cannot be flushed any more is nobody's fault."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            hush(stream)
