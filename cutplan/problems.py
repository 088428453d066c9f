"""What was wrong in an input: values, collected while reading and shown together."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TextIO


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong in an input file, and what would be right.

    `line` counts from 1. `column` is the CSV column; or the TOML key, such as `saw.kerf`, and
    `profiles.rail.stock[1].length` for the first of a list; or "file" for the whole file.
    """

    file: str
    line: int
    column: str
    message: str

    def __str__(self) -> str:
        said = f"{self.file}:{self.line}: {self.column}: {self.message}"
        return "?".join(said.splitlines())  # a name with a line break in it could pass for another problem


class InputProblems(Exception):
    """Everything that is wrong in the input, in the order of file and line. Never empty.

    Its text says no more than the first `most` (None: all of it), and how many there are besides. `sound` is what of
    the input could be read all the same, in which more may be found wrong.
    """

    def __init__(self, problems: Iterable[Problem], most: int | None = None, sound: Sequence[Any] = ()) -> None:
        self.sound = sound
        self.problems, self.most = tuple(sorted(set(problems))), most
        told, rest = list(self.problems[:most]), self.problems[len(self.problems[:most]):]
        if rest:
            told.append(replace(told[-1], column="file", message=f"has {len(rest)} more problems; mend these first"))
        super().__init__("\n".join(map(str, told)))

    def __reduce__(self) -> tuple[type[InputProblems], tuple[tuple[Problem, ...], int | None]]:
        return InputProblems, (self.problems, self.most)  # from one process to another whole


class NoPlan(Exception):
    """No plan exists: a piece longer than any usable stick, or stock that runs out. The text says which."""


class OutOfTime(NoPlan):
    """Nothing was found by the end of the budget; with more of it there may be a plan."""


class FailedAudit(RuntimeError):
    """A takeoff or a plan that did not pass its own audit, which nobody is shown. The text says where it is wrong."""


@dataclass
class Findings:
    """The problems found so far in one file; of very many only the first `most` are told (None: all)."""

    file: str
    most: int | None = None
    problems: list[Problem] = field(default_factory=list)

    def add(self, line: int, column: str, message: str) -> None:
        self.problems.append(Problem(self.file, line, column, message))

    def raise_any(self) -> None:
        """Raises InputProblems where there are any."""
        if self.problems:
            raise InputProblems(self.problems, self.most)


def suggest(word: str, known: Collection[str]) -> str:
    """What would be right for a word that is not one of the known: the nearest of them, else all of them."""
    if near := nearest(word, known):
        return f"did you mean '{near}'?"
    return f"known: {', '.join(known)}" if known else "none is known"


def nearest(word: str, known: Iterable[str], alike: float = 0.7) -> str | None:
    """The known word that this one looks like a slip of, in any case; None where none is that much alike (0 to 1)."""
    lower = {name.lower(): name for name in known}
    found = difflib.get_close_matches(word.lower(), lower, n=1, cutoff=alike)
    return lower[found[0]] if found else None


Source = str | Path | TextIO  # a path, or a text file that is open


def name_of(source: Source) -> str:
    """What a source is called where something is wrong in it."""
    return str(source) if isinstance(source, str | Path) else str(getattr(source, "name", "text"))


SAVED_AS_TEXT = "save it as UTF-8 text"


def read_text(source: Source, right: str = SAVED_AS_TEXT) -> str:
    """The text of a file in UTF-8, without its byte order mark. InputProblems where it cannot be read, or, with what is
    `right`, where it is no text."""
    if not isinstance(source, str | Path):
        try:
            return source.read().removeprefix("\ufeff")
        except (OSError, ValueError) as error:  # of another encoding, or closed
            fault = f"cannot be read ({error}); open it anew, as UTF-8 text"
            raise InputProblems([Problem(name_of(source), 1, "file", fault)]) from None
    path = source
    try:
        data = Path(path).read_bytes()
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
        fault = f"cannot be read ({reason}); give the path of a file that can"
        raise InputProblems([Problem(str(path), 1, "file", fault)]) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = 1 + data[: error.start].replace(b"\r\n", b"\n").replace(b"\r", b"\n").count(b"\n")
        raise InputProblems([Problem(str(path), line, "file", f"is not UTF-8 text; {right}")]) from None
    if "\0" in text:
        line = 1 + text[: text.index("\0")].count("\n")
        raise InputProblems([Problem(str(path), line, "file", f"is not plain text; {right}")])
    return text
