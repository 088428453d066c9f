"""Calls from Python: what cannot be meant by an argument is told with the script that said it and the line."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from cutplan.problems import InputProblems, Problem

HOUSE = str(Path(__file__).parent) + os.sep


def script_line() -> tuple[str, int]:
    """The file and line of the first call from outside the package."""
    frame = sys._getframe(1)
    while frame.f_back is not None and frame.f_code.co_filename.startswith(HOUSE):
        frame = frame.f_back
    return frame.f_code.co_filename, frame.f_lineno


def admit(**wrong: str) -> None:
    """Lets a call in unless something is said to be `wrong` with an argument of it: then InputProblems, with all."""
    if any(wrong.values()):
        file, line = script_line()
        raise InputProblems([Problem(file, line, argument, what) for argument, what in wrong.items() if what])


def no_path(value: object) -> str:
    """What is wrong with what is to be a file's path; "" for nothing."""
    return "" if isinstance(value, str | Path) else f"{value!r} is no path; give a text or a pathlib.Path"


def no_listener(value: object) -> str:
    """What is wrong with what is to hear of progress."""
    return "" if value is None or callable(value) else f"{value!r} cannot be called; give a function of one text"
