"""What was wrong in an input: values, collected while reading and shown together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong in an input file, and what would be right.

    `line` counts from 1; `column` is the CSV column or the TOML key (`saw.kerf`), or "file" for the whole file.
    """

    file: str
    line: int
    column: str
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.column}: {self.message}"


class InputProblems(Exception):
    """Everything that is wrong in the input, in the order of file and line. Never empty."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(map(str, self.problems)))


class NoPlan(Exception):
    """No plan exists: a piece longer than any usable stick, or finite stock that runs out. The text says which."""
